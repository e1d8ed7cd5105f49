"""What inventories hold: trunks in every dress, reference systems, tables cut into pieces."""

import json

import numpy as np
import pyproj
import pytest
import shapely

from bolewalk.region.city import make_city, write_city
from bolewalk.region.columns import ColumnsError, read_columns
from bolewalk.region.frames import FrameError, choose_frame
from bolewalk.region.screen import screen
from bolewalk.region.sizes import read_trunk
from bolewalk.region.tables import TableError, crs_of, names_of, pieces_of, read_rows
from tests.region.makers import table_of, write_rows, write_works


def ends(text, *, girth="", unit="in", classes=None):
    (f,) = read_trunk(text, girth, unit=unit, classes=classes or {}).stems_cm
    return f.low, f.value, f.high


@pytest.mark.parametrize(
    ("text", "unit", "low", "middle", "high"),
    [
        # By hand: 2.54 cm to the inch, the class standing for its middle.
        ("6-12 in", "cm", 15.24, 22.86, 30.48),
        ("6 to 12", "in", 15.24, 22.86, 30.48),
        ('6"–12"', "cm", 15.24, 22.86, 30.48),
        ("30 - 45", "cm", 30.0, 37.5, 45.0),
        ("0-6", "in", 3.81, 9.525, 15.24),  # begins at a quarter of its end: ours
        ("over 36", "in", 91.44, 114.3, 137.16),  # ends at 1.5 times its start: ours
        (">36 in", "cm", 91.44, 114.3, 137.16),
        ("36+", "in", 91.44, 114.3, 137.16),
        ("<6", "in", 3.81, 9.525, 15.24),
    ],
)
def test_classes_carry_both_ends(text, unit, low, middle, high):
    assert ends(text, unit=unit) == pytest.approx((low, middle, high))


def test_girths_are_divided_by_pi():
    trunk = read_trunk("", "100", unit="cm", classes={})
    assert trunk.by_girth
    assert trunk.stems_cm[0].value == pytest.approx(31.830988618)
    assert ends("", girth="63-95 cm") == pytest.approx((63 / np.pi, 79 / np.pi, 95 / np.pi))


def test_words_for_classes():
    assert ends("small", classes={"small": "0-6 in"})[2] == pytest.approx(15.24)


@pytest.mark.parametrize(
    ("text", "level"),
    [("", "notice"), ("0", "notice"), ("-5", "fault"), ("9999", "fault"), ("n.k.", "fault")],
)
def test_what_is_no_trunk_ranges_from_sapling_to_old_tree(text, level):
    trunk = read_trunk(text, "", unit="cm", classes={})
    assert (trunk.basis, trunk.level) == ("missing", level)
    assert trunk.why
    (f,) = trunk.stems_cm
    assert (f.low, f.high, f.basis) == (5.0, 100.0, "default")


def test_wide_trunks_are_kept_and_told():
    # 330 cm lies between the doubt (3 m) and the widest trunk known (15 m).
    trunk = read_trunk("330", "", unit="cm", classes={})
    assert (trunk.basis, trunk.level) == ("measured", "notice")
    assert "second look" in trunk.why


@pytest.mark.parametrize(
    ("name", "west", "south", "metric"),
    [
        ("EPSG:4326", -30.2, 40.1, "UTM zone 25N"),
        ("EPSG:4269", -30.2, -40.1, "UTM zone 25S"),
        ("EPSG:3857", -3_362_000.0, 4_885_000.0, "UTM zone 25N"),
    ],
)
def test_degrees_become_metres(name, west, south, metric):
    crs = pyproj.CRS(name)
    size = 0.02 if crs.is_geographic else 2000.0
    frame = choose_frame(crs, (west, south, west + size, south + size))
    assert frame.name.startswith(metric)
    x, y = np.array([west, west + size]), np.array([south, south + size / 2])
    east, north = frame.to_metric(x, y)
    degrees = pyproj.Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True).transform(x, y)
    # Independent: the geodesic. UTM shortens by up to 0.04 % at its middle line.
    _, _, apart = pyproj.Geod(ellps="GRS80").inv(
        degrees[0][0], degrees[1][0], degrees[0][1], degrees[1][1]
    )
    assert np.hypot(np.diff(east)[0], np.diff(north)[0]) == pytest.approx(apart, rel=5e-4)


def test_wide_schemes_are_measured_on_a_grid_of_their_own():
    frame = choose_frame(pyproj.CRS("EPSG:4326"), (-36.0, 39.0, -24.0, 41.0))
    assert frame.name == "equal-area grid about 40, -30 on WGS 84"
    east, north = frame.to_metric(np.array([-30.0, -29.9]), np.array([40.0, 40.0]))
    _, _, apart = pyproj.Geod(ellps="WGS84").inv(-30.0, 40.0, -29.9, 40.0)
    assert np.hypot(np.diff(east)[0], np.diff(north)[0]) == pytest.approx(apart, rel=1e-5)


def test_grids_in_feet_become_metres_by_their_own_foot():
    # EPSG:2229 counts US survey feet of 1200/3937 m.
    frame = choose_frame(pyproj.CRS("EPSG:2229"), (6.4e6, 1.8e6, 6.41e6, 1.81e6))
    east, _ = frame.to_metric(np.array([3937.0]), np.array([0.0]))
    assert east[0] == pytest.approx(1200.0, abs=1e-9)


TREES = [{"tree": "A", "x": 500_000.0, "y": 4_000_000.0, "diameter": "30"}]
TRENCH = ({"id": "W1", "kind": "trench"}, "LineString", [[500_002, 4e6 - 9], [500_002, 4e6 + 9]])


def written(tmp_path, *, mapping="", rows=TREES, crs="EPSG:32625"):
    (tmp_path / "map.toml").write_text(mapping)
    return {
        "trees": write_rows(tmp_path / "trees.csv", rows),
        "works": write_works(tmp_path / "works.geojson", [TRENCH], crs),
        "out": tmp_path / "out",
        "columns": tmp_path / "map.toml",
    }


@pytest.mark.parametrize(
    ("mapping", "crs", "error", "words"),
    [
        ("", "EPSG:32625", FrameError, r"trees\.csv names no reference system.*\[trees\] crs"),
        ('[trees]\ncrs = "EPSG:32625"', None, FrameError, r"works\.geojson names no reference"),
        ('[trees]\ncrs = "EPSG:32626"', "EPSG:32625", FrameError, "mixed.*mixed_crs = true"),
        ('[trees]\ncrs = "EPSG:1"', "EPSG:32625", FrameError, "'EPSG:1' is not known"),
        ("[trees]\ntrunk = 'dbh'", "EPSG:32625", ColumnsError, "unknown key trees.trunk"),
        (
            "[trees]\ncrs = 'EPSG:32625'\ndiameter = 'dbh'",
            "EPSG:32625",
            ColumnsError,
            "no column 'dbh'.*it has tree",
        ),
        ("units = 'yards'", "EPSG:32625", ColumnsError, 'expected "imperial" or "metric"'),
        ("[trees]\nclasses = 3", "EPSG:32625", ColumnsError, "trees.classes must map"),
        ("units = ", "EPSG:32625", ColumnsError, "not TOML"),
    ],
)
def test_what_cannot_be_screened_is_refused(tmp_path, mapping, crs, error, words):
    with pytest.raises(error, match=words):
        screen(**written(tmp_path, mapping=mapping, crs=crs))


def test_other_files_are_refused(tmp_path):
    given = written(tmp_path, mapping='[trees]\ncrs = "EPSG:32625"')
    with pytest.raises(TableError, match="no such file"):
        screen(**{**given, "trees": tmp_path / "none.csv"})
    (tmp_path / "bad.parquet").write_bytes(b"PAR0")
    with pytest.raises(TableError, match="not a Parquet file"):
        screen(**{**given, "trees": tmp_path / "bad.parquet"})
    with pytest.raises(TableError, match="has no shapes"):
        screen(**{**given, "works": given["trees"]})


def test_mapped_columns_units_and_position_error(tmp_path):
    mapping = """
        units = "imperial"
        [trees]
        crs = "EPSG:32625"
        tree = "asset"
        diameter = "dbh"
        position_error_m = 1.5
        [trees.classes]
        big = "30-40"
    """
    rows = [
        {"asset": "A", "x": 500_000.0, "y": 4_000_000.0, "dbh": "12"},
        {"asset": "B", "x": 500_006.0, "y": 4_000_000.0, "dbh": "big"},
    ]
    found = screen(**written(tmp_path, mapping=mapping, rows=rows))
    table = table_of(tmp_path / "out")
    assert found.near == 2
    # By hand: 1 ft of radius to the inch; the class's middle is 35 in.
    assert table["A"]["zone_radius_m"] == pytest.approx(12 * 0.3048)
    assert table["B"]["zone_radius_m"] == pytest.approx(35 * 0.3048)
    assert table["A"]["severed_low_pct"] < table["A"]["severed_pct"]
    assert table["A"]["severed_high_pct"] > table["A"]["severed_pct"]
    assert table["B"]["size"] == "class"


def test_degrees_and_metres_give_one_answer(tmp_path):
    metric = written(tmp_path, mapping='[trees]\ncrs = "EPSG:32625"')
    screen(**metric)
    back = pyproj.Transformer.from_crs("EPSG:32625", "EPSG:4326", always_xy=True)
    folder = tmp_path / "degrees"
    folder.mkdir()
    lon, lat = back.transform(500_000.0, 4_000_000.0)
    rows = [{"tree": "A", "x": repr(lon), "y": repr(lat), "diameter": "30"}]
    (folder / "map.toml").write_text('[trees]\ncrs = "EPSG:4326"')
    line = [list(back.transform(x, y)) for x, y in TRENCH[2]]
    screen(
        write_rows(folder / "trees.csv", rows),
        write_works(folder / "works.geojson", [(*TRENCH[:2], line)], None),
        folder / "out",
        columns=folder / "map.toml",
    )
    one, two = table_of(tmp_path / "out")["A"], table_of(folder / "out")["A"]
    assert one["severed_pct"] == pytest.approx(two["severed_pct"], abs=1e-4)
    assert (one["verdict"], one["nearest_cut_m"]) == (
        two["verdict"], pytest.approx(two["nearest_cut_m"], abs=1e-6),
    )  # fmt: skip


def test_csv_pieces_hold_every_row_once(tmp_path):
    path = tmp_path / "trees.csv"
    rows = [{"tree": f"T{k}", "place": f'a "{k}"\nb, c' if k % 3 else ""} for k in range(500)]
    write_rows(path, rows)
    pieces = pieces_of(path, 37)
    assert len(pieces) == 14
    found = [read_rows(p, ["tree", "place"]) for p in pieces]
    assert [t for r in found for t in r.columns["tree"]] == [r["tree"] for r in rows]
    assert [t for r in found for t in r.columns["place"]] == [r["place"] for r in rows]
    assert [n for r in found for n in r.row.tolist()] == list(range(2, 502))


@pytest.mark.parametrize("form", ["parquet", "gpkg"])
def test_pieces_of_tables_hold_every_row_once(tmp_path, form):
    path, _ = write_city(tmp_path, trees=900, works=5, form=form)
    city = make_city(trees=900, works=5)
    pieces = pieces_of(path, 211)
    assert len(pieces) == 5
    found = [read_rows(p, ["tree"]) for p in pieces]
    assert [t for r in found for t in r.columns["tree"]] == city.columns["tree"].tolist()
    x = np.concatenate([shapely.get_x(r.geometry) for r in found])
    np.testing.assert_allclose(x, city.xy[:, 0])
    assert crs_of(path).to_epsg() == 32625
    assert names_of(path)[1]


def test_geojson_crs_may_stand_last_and_degrees_need_none(tmp_path):
    flat = write_works(tmp_path / "a.geojson", [TRENCH], None)
    assert crs_of(flat) is None
    named = tmp_path / "b.geojson"
    whole = json.loads(flat.read_text())
    whole["crs"] = {"type": "name", "properties": {"name": "EPSG:32625"}}
    named.write_text(json.dumps(whole))
    assert crs_of(named).to_epsg() == 32625
    degrees = write_works(
        tmp_path / "c.geojson", [({"kind": "drain"}, "LineString", [[0, 1], [0, 2]])], None
    )
    assert crs_of(degrees).is_geographic


def test_column_mapping_is_read_whole(tmp_path):
    path = tmp_path / "map.toml"
    path.write_text('mixed_crs = true\n[works]\nkind = "type"\n[works.defaults]\ndepth = 1\n')
    columns = read_columns(path)
    assert columns.mixed_crs
    assert columns.works == {"kind": "type"}
    assert columns.work_defaults == {"depth": 1}
