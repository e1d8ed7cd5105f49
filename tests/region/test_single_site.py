"""The screening against the single-site result, tree by tree of the demonstration survey."""

from dataclasses import replace

import pytest

from bolewalk.demo.build import build_demo
from bolewalk.impact.assess import assess_all
from bolewalk.intake.folder import read_folder
from bolewalk.region.screen import screen
from tests.region.makers import table_of, write_rows, write_works

EAST, NORTH = 400_000.0, 100_000.0
SHAPES = {"point": "Point", "line": "LineString", "polygon": "Polygon"}


@pytest.fixture(scope="module")
def both(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo")
    build_demo(folder / "survey")
    job = read_folder(folder / "survey")
    # Heights away: the screening looks at roots alone, so the site must too.
    trees = tuple(replace(t, height_m=None, crown_base_m=None) for t in job.survey.trees)
    survey = replace(job.survey, trees=trees)
    rows = [
        {
            "tree": t.id, "species": t.species.as_heard, "x": EAST + t.x_m, "y": NORTH + t.y_m,
            "diameter": "+".join(repr(s.value) for s in t.stems_cm), "age": t.age or "",
            "tolerance": t.tolerance or "", "form": t.form or "",
            "crown": "" if t.crown is None else "/".join(map(repr, t.crown.radii_m)),
        }
        for t in trees
        if t.located and t.stems_cm
    ]  # fmt: skip
    path = write_rows(folder / "trees.csv", rows)
    drawn = write_works(folder / "works.geojson", [feature(w) for w in survey.works], "EPSG:32611")
    (folder / "map.toml").write_text('[trees]\ncrs = "EPSG:32611"\n')
    screen(path, drawn, folder / "out", columns=folder / "map.toml", method=survey.method.root_zone)
    return survey, {i.tree: i for i in assess_all(survey)}, table_of(folder / "out")


def feature(w):
    told = {
        "id": w.id, "kind": w.kind, "width": w.width_m, "diameter": w.diameter_m, "made": w.made,
        "founded": w.founded, "phase": w.phase, "basis": w.basis, "offset": w.offset_m,
        "present": w.present, "depth": None if w.depth_m is None else w.depth_m.value,
    }  # fmt: skip
    shapes = {p.shape for p in w.parts}
    assert len(shapes) == 1
    kind = SHAPES[shapes.pop()]
    rings = [[[EAST + x, NORTH + y] for x, y in p.ring] for p in w.parts]
    if kind == "Point":
        coordinates = [r[0] for r in rings]
    elif kind == "Polygon":
        holes = [[[[EAST + x, NORTH + y] for x, y in h] for h in p.holes] for p in w.parts]
        coordinates = [
            [[*r, r[0]], *([*h, h[0]] for h in hs)] for r, hs in zip(rings, holes, strict=True)
        ]
    else:
        coordinates = rings
    return {n: v for n, v in told.items() if v is not None}, f"Multi{kind}", coordinates


def test_losses_are_those_of_the_site(both):
    survey, site, screened = both
    compared = 0
    for tree in survey.trees:
        impact, row = site[tree.id], screened.get(tree.id)
        if impact.roots is None:
            assert row is None
            continue
        loss = impact.roots.proposed
        if row is None:
            assert loss.severed_pct == loss.covered_pct == 0.0, tree.id
            assert impact.verdict.now == "keep", tree.id
            continue
        compared += 1
        assert row["zone_radius_m"] == pytest.approx(impact.zone.radius_m, abs=1e-9)
        for name in (
            "severed_pct", "overlap_pct", "covered_pct", "severed_by_depth_pct",
            "best_half_severed_pct",
        ):  # fmt: skip
            assert row[name] == pytest.approx(getattr(loss, name), abs=1e-6), (tree.id, name)
        assert row["existing_severed_pct"] == pytest.approx(
            impact.roots.existing.severed_pct, abs=1e-6
        )
        assert row["later_severed_pct"] == pytest.approx(
            impact.roots.with_later.severed_pct, abs=1e-6
        )
        if loss.nearest_cut_m is not None and loss.nearest_cut_m <= 50:
            assert row["nearest_cut_m"] == pytest.approx(loss.nearest_cut_m, abs=1e-8)
    assert compared >= 5


def test_verdicts_are_those_of_the_site(both):
    survey, site, screened = both
    told = {
        t.id: (site[t.id].verdict.now, screened[t.id]["verdict"])
        for t in survey.trees
        if t.id in screened
    }
    assert len({now for now, _ in told.values()}) > 1
    assert {t: v for t, v in told.items() if v[0] != v[1]} == {}


def test_verdicts_with_later_works_are_those_of_the_site(both):
    survey, site, screened = both
    told = {
        t.id: (site[t.id].verdict.with_later, screened[t.id]["verdict_with_later"])
        for t in survey.trees
        if t.id in screened
    }
    assert {t: v for t, v in told.items() if v[0] != v[1]} == {}
