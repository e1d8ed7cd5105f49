"""Answers held against the kernel in one piece, against hand calculation, and at the seams."""

import numpy as np
import pytest
import shapely
from click.testing import CliRunner

from bolewalk.cli import main
from bolewalk.impact.losses import Stand, loss_tables
from bolewalk.impact.roots import zones_table
from bolewalk.impact.scene import Scene
from bolewalk.region.columns import Columns
from bolewalk.region.frames import choose_frame
from bolewalk.region.kinds import KIND_COLUMNS, Kinds
from bolewalk.region.plan import partitions_of
from bolewalk.region.tables import crs_of
from bolewalk.region.visits import _mended, _solved, order_of, plan_visits, tour_length_m
from bolewalk.region.works import bounds_of, open_works, works_of
from tests.region.makers import read_list, table_of, write_rows, write_works

CRS = "EPSG:32625"


def screened(tmp_path, rows, features, *options):
    (tmp_path / "map.toml").write_text(f'[trees]\ncrs = "{CRS}"\n')
    arguments = [
        "screen", "--trees", str(write_rows(tmp_path / "trees.csv", rows)),
        "--works", str(write_works(tmp_path / "works.geojson", features, CRS)),
        "--out", str(tmp_path / "out"), "--columns", str(tmp_path / "map.toml"),
        "--processes", "1", *options,
    ]  # fmt: skip
    return CliRunner().invoke(main, arguments)


def tree(name, x, y, diameter="50", **more):
    return {"tree": name, "x": x, "y": y, "diameter": diameter, "species": "", **more}


def line(name, points, **told):
    return ({"id": name, "kind": "trench", **told}, "LineString", points)


def test_whole_city_equals_one_scene(city, reference):
    """Every tree against all works at once, in one frame, with no cells and no halo."""
    table = table_of(reference[0])
    crs = crs_of(city[0])
    opened = open_works(city[1], Columns())
    frame = choose_frame(crs, bounds_of(opened, crs))
    works, _ = works_of(opened, frame, Columns(), units="metric")
    kinds = Kinds("as4970-2009", Columns(), "metric")
    rows = [r for r in table.values() if not r["id_repeated"]]
    zones = [kinds.kind(*(r.get(n) or "" for n in KIND_COLUMNS)).zones[0] for r in rows]
    points = shapely.get_coordinates(np.array(_points(reference[0])))
    xy = np.array([points[r["at"]] for r in _with_place(reference[0], rows)])
    one = loss_tables([Stand(Scene(works), xy, zones_table(zones))])[0]
    assert len(rows) > 500
    for name in ("severed_pct", "covered_pct", "overlap_pct", "best_half_severed_pct"):
        np.testing.assert_allclose(
            [r[name] for r in rows], getattr(one, name)[:, 1], rtol=0, atol=1e-6, err_msg=name
        )


def _points(folder):
    import pyogrio.raw

    _, _, shapes, _ = pyogrio.raw.read(str(folder / "screen.gpkg"), layer="trees")
    return shapely.from_wkb(shapes)


def _with_place(folder, rows):
    import pyogrio.raw

    meta, _, _, fields = pyogrio.raw.read(str(folder / "screen.gpkg"), layer="trees")
    ids = fields[[str(n) for n in meta["fields"]].index("tree")].tolist()
    place = {name: k for k, name in enumerate(ids)}
    return [{**r, "at": place[r["tree"]]} for r in rows]


@pytest.mark.parametrize("gap", [0.001, 2.0, 5.9])
def test_work_beyond_the_seam_counts(tmp_path, gap):
    # A cell ends at east 500,000; the tree stands west of it and the trench east.
    rows = [tree("A", 499_999.999, 4_000_500.0)]
    cut = [[499_999.999 + gap, 4_000_400.0], [499_999.999 + gap, 4_000_600.0]]
    assert screened(tmp_path, rows, [line("W1", cut, depth=1)]).exit_code == 0
    # By hand: a cut right across at d of a disc of R = 12 x 0.5 m.
    k = gap / 6.0
    expected = 100 * (np.arccos(k) - k * np.sqrt(1 - k * k)) / np.pi
    row = table_of(tmp_path / "out")["A"]
    assert row["severed_pct"] == pytest.approx(expected, abs=1e-6)
    assert row["nearest_cut_m"] == pytest.approx(gap, abs=1e-8)


def test_only_trees_in_reach_are_answered_and_all_are_counted(tmp_path):
    rows = [tree("near", 500_000.0, 4e6), tree("far", 500_100.0, 4e6), tree("lost", "", 4e6)]
    features = [
        line("W1", [[500_003, 4e6 - 9], [500_003, 4e6 + 9]], depth=1),
        ({"id": "F", "kind": "fence"}, "LineString", [[500_100, 4e6 - 1], [500_100, 4e6 + 1]]),
        ({"id": "X", "kind": "moat"}, "LineString", [[500_000, 4e6 - 9], [500_000, 4e6 + 9]]),
    ]
    run = screened(tmp_path, rows, features)
    assert run.exit_code == 1  # a feature and a row were left out
    assert set(table_of(tmp_path / "out")) == {"near"}
    assert "3 rows, 1 trees near works, 1 not placed" in run.output
    assert "one of pile, trench" in run.output
    problems = read_list(tmp_path / "out" / "problems.csv")
    assert [(p["file"], p["row"], p["field"], p["level"]) for p in problems] == [
        ("works.geojson", "feature 3", "kind", "fault"),
        ("trees.csv", "2", "species", "notice"),
        ("trees.csv", "3", "species", "notice"),
        ("trees.csv", "4", "position", "fault"),
        ("trees.csv", "4", "species", "notice"),
    ]
    assert screened(tmp_path, rows, features, "--lenient").exit_code == 0


def test_no_tree_in_reach_is_an_answer_too(tmp_path):
    rows = [tree("far", 500_100.0, 4e6)]
    run = screened(tmp_path, rows, [line("W1", [[500_003, 4e6 - 9], [500_003, 4e6 + 9]], depth=1)])
    assert run.exit_code == 0, run.output
    assert table_of(tmp_path / "out") == {}
    assert (tmp_path / "out" / "screen.parquet").stat().st_size > 0
    assert "0 trees have works in reach" in (tmp_path / "out" / "summary.html").read_text()


def test_unknown_size_ranges_and_decides_the_verdict(tmp_path):
    # R = 12 D held to 2..15 m: at 5 cm the trench 3 m off is out of reach; at 100 cm it lies
    # inside the structural radius, (1.00 x 50)^0.42 x 0.64 = 3.3 m.
    rows = [tree("A", 500_000.0, 4e6, "")]
    assert screened(
        tmp_path, rows, [line("W1", [[500_003, 4e6 - 30], [500_003, 4e6 + 30]], depth=1)]
    ).exit_code in (0, 1)
    row = table_of(tmp_path / "out")["A"]
    assert (row["verdict"], row["verdict_best"], row["verdict_worst"]) == (
        "undecided", "keep", "redesign",
    )  # fmt: skip
    assert (row["open"], row["size"]) == ("size", "missing")
    assert row["severed_low_pct"] == 0.0
    k = 3.0 / 12.0
    assert row["severed_high_pct"] == pytest.approx(
        100 * (np.arccos(k) - k * np.sqrt(1 - k * k)) / np.pi, abs=1e-6
    )


def test_thin_trunk_is_held_by_roots_beyond_its_zone(tmp_path):
    # By 1 ft to the inch a trunk of 5 cm has a zone of 0.6 m, and 1.5 m of structural roots
    # (AS 4970 floor): a trench at 1 m severs nothing of the zone and still rules keeping out.
    rows = [tree("A", 500_000.0, 4e6, "5")]
    feature = line("W1", [[500_001, 4e6 - 5], [500_001, 4e6 + 5]], depth=1)
    screened(tmp_path, rows, [feature], "--method", "inch-foot")
    row = table_of(tmp_path / "out")["A"]
    assert (row["severed_pct"], row["verdict"]) == (0.0, "redesign")


def test_rows_with_one_id_are_all_judged_and_told(tmp_path):
    rows = [tree("A", 500_000.0, 4e6), tree("A", 500_001.0, 4e6), tree("B", 500_002.0, 4e6)]
    run = screened(tmp_path, rows, [line("W", [[500_004, 4e6 - 9], [500_004, 4e6 + 9]], depth=1)])
    assert "2 rows, tree: expected an id of its own" in run.output
    visits = read_list(tmp_path / "out" / "visits.csv")
    assert sorted(v["tree"] for v in visits) == ["A", "A", "B"]


def test_text_is_never_a_formula_nor_markup(tmp_path):
    name = "=cmd|'x'!A1"
    rows = [tree(name, 500_000.0, 4e6, "<b>", place="<script>")]
    screened(tmp_path, rows, [line("W", [[500_001, 4e6 - 9], [500_001, 4e6 + 9]], depth=1)])
    (visit,) = read_list(tmp_path / "out" / "visits.csv")
    assert visit["tree"] == f"'{name}"
    assert "<script>" not in (tmp_path / "out" / "summary.html").read_text()


def test_misuse_is_told_with_its_way_out(tmp_path):
    run = screened(tmp_path, [{"tree": "A", "x": 0, "y": 0}], [line("W", [[0, 0], [1, 1]])])
    assert run.exit_code == 2
    assert "no trunk sizes; map [trees] diameter or girth" in run.output


def test_summary_counts_are_those_of_the_answer(reference):
    page = (reference[0] / "summary.html").read_text()
    for verdict, count in reference[1].verdicts.items():
        assert f"<td>{verdict}: " in page
        assert f"<td class='n'>{count:,}</td>" in page
    assert "src=" not in page
    assert "http" not in page
    for word in ("safe", "guaranteed", "approved"):
        assert word not in page.lower()


def test_visits_are_what_is_not_plainly_kept(reference):
    visits = read_list(reference[0] / "visits.csv")
    counts = reference[1].verdicts
    assert len(visits) == counts["redesign"] + counts["undecided"] + counts["keep_if"]
    places = [(int(v["tour"]), int(v["stop"])) for v in visits]
    assert places == sorted(places)
    assert {v["verdict"] for v in visits} == {"redesign", "undecided", "keep_if"}


def test_partitions_hold_every_cell_once_and_share_the_trees():
    rng = np.random.default_rng(8)
    cells = {(y, x): int(rng.integers(1, 200)) for y in range(9) for x in range(11)}
    for count in (1, 2, 7, 500):
        runs = partitions_of(cells, count)
        assert [c for r in runs for c in r] == list(cells)
        assert len(runs) == count or (count > 99 and 50 < len(runs) <= 99)
    loads = [sum(cells[c] for c in r) for r in partitions_of(cells, 7)]
    assert max(loads) < 1.25 * min(loads)


def test_short_order_of_stops():
    # By hand: stops on a line are walked from one end to the other.
    at = np.array([[30.0, 0.0], [0.0, 0.0], [20.0, 0.0], [10.0, 0.0]])
    assert order_of(at) == [1, 3, 2, 0]
    assert tour_length_m(at, [1, 3, 2, 0]) == 30.0


@pytest.mark.parametrize("way", [_solved, _mended])
def test_orders_near_the_shortest_of_all(way):
    from itertools import permutations

    at = np.random.default_rng(3).uniform(0, 100, (7, 2))
    apart = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1))
    best = min(tour_length_m(at, list(p)) for p in permutations(range(7)))
    found = way(apart)
    assert sorted(found) == list(range(7))
    assert found == way(apart)
    assert tour_length_m(at, found) <= 1.15 * best


def test_tours_hold_every_stop_once_and_keep_together():
    rng = np.random.default_rng(6)
    x, y = rng.uniform(0, 3000, (2, 900))
    verdicts = rng.choice(np.array(["keep_if", "redesign", "undecided"]), 900)
    plan = plan_visits(x, y, verdicts)
    assert sorted(np.concatenate(plan.tours).tolist()) == list(range(len(plan.at)))
    assert max(map(len, plan.tours)) <= 60
    assert np.hypot(*(plan.at[plan.stop] - np.column_stack([x, y])).T).max() <= 25 * 2**0.5
    # Neighbours on the curve are neighbours on the ground: a tour stays far smaller than the whole.
    spread = [np.ptp(plan.at[t], axis=0).max() for t in plan.tours]
    assert np.median(spread) < 1500
