"""GeoJSON in: written by GDAL and by hand, every shape, every fault of its own feature only."""

import json

import numpy as np
import pyogrio
import pyproj
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bolewalk.drawing.geojson import read_geojson
from bolewalk.drawing.grid import GridError, local_grid, named_grid

FEET = local_grid("imperial")
METRES = local_grid("metric")


def feature(geometry, **properties):
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def point(x, y):
    return {"type": "Point", "coordinates": [x, y]}


def line(*points):
    return {"type": "LineString", "coordinates": [list(p) for p in points]}


SQUARE = {"type": "Polygon", "coordinates": [[[0, 0], [4, 0], [4, 4], [0, 4], [0, 0]]]}
BOW = {"type": "Polygon", "coordinates": [[[0, 0], [4, 4], [4, 0], [0, 4], [0, 0]]]}


@pytest.fixture
def read(tmp_path):
    def run(features, *, grid=METRES, units="metric", **members):
        path = tmp_path / "works.geojson"
        body = {"type": "FeatureCollection", "features": features, **members}
        path.write_text(json.dumps(body), encoding="utf-8")
        return read_geojson(path, file="works.geojson", grid=grid, units=units)

    return run


@pytest.fixture
def read_text(tmp_path):
    def run(data):
        path = tmp_path / "works.geojson"
        path.write_bytes(data if isinstance(data, bytes) else data.encode())
        return read_geojson(path, file="works.geojson", grid=METRES, units="metric")

    return run


def test_every_property_is_read(read):
    works, problems = read(
        [
            feature(
                line((0, 0), (10, 0)), id="T1", kind="trench", depth="18in", width=0.5, made="air",
                phase="possible later", basis="staked", offset=0.3, present="unknown", label="gas",
            ),
            feature(SQUARE, id="B1", kind="building", founded="piles", low=2.5, high=6,
                    clearance=1, depth=0.9),
            feature(point(3, 4), id="P1", kind="pile", diameter="12in"),
        ]
    )  # fmt: skip
    assert problems == ()
    trench, building, pile = works
    assert trench.depth_m.value == pytest.approx(0.4572)  # 18 x 25.4 mm
    assert (trench.depth_m.basis, trench.depth_m.as_entered) == ("drawn", "18in")
    assert (trench.width_m, trench.made, trench.phase) == (0.5, "air", "possible later")
    assert (trench.basis, trench.offset_m, trench.present) == ("staked", 0.3, "unknown")
    assert trench.label == "gas"
    assert (building.founded, building.low_m, building.high_m) == ("piles", 2.5, 6)
    assert building.clearance_m == 1
    assert pile.diameter_m == pytest.approx(0.3048)
    assert pile.parts[0].ring == ((3.0, 4.0),)


def test_defaults_are_those_of_the_format(read):
    works, problems = read([feature(line((0, 0), (1, 0)), id="T", kind="trench")])
    (w,) = works
    assert problems == ()
    assert (w.phase, w.present, w.basis, w.offset_m) == ("proposed", "yes", "drawn", 0)
    assert (w.founded, w.width_m, w.depth_m, w.made) == ("strip", 0, None, None)


def test_feet_become_metres(read):
    works, _ = read([feature(line((0, 0), (100, 0)), kind="trench", depth=3, width=2)],
                    grid=FEET, units="imperial")  # fmt: skip
    assert works[0].parts[0].ring == ((0, 0), (pytest.approx(30.48), 0))
    assert works[0].depth_m.value == 0.9144
    assert works[0].width_m == pytest.approx(0.6096)


@pytest.mark.parametrize(
    ("geometry", "shapes"),
    [
        ({"type": "MultiPoint", "coordinates": [[0, 0], [5, 5]]}, ["point", "point"]),
        ({"type": "MultiLineString", "coordinates": [[[0, 0], [1, 0]], [[2, 2], [3, 3]]]},
         ["line", "line"]),
        ({"type": "MultiPolygon", "coordinates": [SQUARE["coordinates"]]}, ["polygon"]),
        ({"type": "GeometryCollection", "geometries": [point(0, 0), SQUARE]},
         ["point", "polygon"]),
    ],
)  # fmt: skip
def test_every_geometry_type(read, geometry, shapes):
    works, problems = read([feature(geometry, id="W", kind="excavation", width=1, diameter=1)])
    assert problems == ()
    assert [p.shape for p in works[0].parts] == shapes


def test_holes_and_closed_lines(read):
    ring = [[0, 0], [9, 0], [9, 9], [0, 9], [0, 0]]
    hole = [[3, 3], [6, 3], [6, 6], [3, 6], [3, 3]]
    works, problems = read(
        [
            feature({"type": "Polygon", "coordinates": [ring, hole]}, id="A", kind="paving"),
            feature({"type": "LineString", "coordinates": ring}, id="B", kind="building"),
            feature({"type": "LineString", "coordinates": ring}, id="C", kind="trench"),
        ]
    )
    assert problems == ()
    paving, building, trench = works
    assert len(paving.parts[0].holes) == 1
    assert building.parts[0].shape == "polygon"
    assert trench.parts[0].shape == "line"
    assert trench.parts[0].ring[0] == trench.parts[0].ring[-1]


@pytest.mark.parametrize(
    ("bad", "field", "words"),
    [
        (feature(BOW, id="X", kind="slab"), "geometry", "does not cross itself"),
        (feature(SQUARE, id="X", kind="slaab"), "kind", "perhaps slab"),
        (feature(SQUARE, id="X"), "kind", "one of pile"),
        (feature(None, id="X", kind="slab"), "geometry", "a geometry"),
        (feature(point(float("nan"), 0), id="X", kind="pile"), "geometry", "numbers"),
        (feature(point(1e308, 0), id="X", kind="pile"), "geometry", "origin"),
        (feature(point(0, -2e8 / 0.3048), id="X", kind="pile"), "geometry", "origin"),
        (feature(point(0, 1e999), id="X", kind="pile"), "geometry", "numbers"),
        (feature(point(10**400, 0), id="X", kind="pile"), "geometry", "numbers"),
        (feature(point("a", 0), id="X", kind="pile"), "geometry", "numbers"),
        (feature(line((1, 1), (1, 1)), id="X", kind="trench"), "geometry", "two points or more"),
        (feature(line((0, 0), (5, 5)), id="X", kind="slab"), "geometry", "closed outline"),
        (feature(line((0, 0), (5, 5)), id="X", kind="pile"), "geometry", "pile as a point"),
        (feature(point(0, 0), id="X", kind="building"), "geometry", "a diameter for building"),
        (feature({"type": "Curve", "coordinates": []}, id="X", kind="slab"), "geometry", "Multi"),
        (
            feature({"type": "Polygon", "coordinates": []}, id="X", kind="slab"),
            "geometry",
            "a polygon with an outline",
        ),
        (
            feature({"type": "Point", "coordinates": 5}, id="X", kind="pile"),
            "geometry",
            "coordinates [east, north]",
        ),
        (
            feature({"type": "GeometryCollection", "geometries": []}, id="X", kind="slab"),
            "geometry",
            "not empty",
        ),
        ({"type": "Thing"}, None, "a Feature"),
    ],
)
def test_a_bad_feature_leaves_the_others(read, bad, field, words):
    good = feature(point(9, 9), id="G", kind="pile", diameter=0.3)
    works, problems = read([bad, good])
    assert [w.id for w in works] == ["G"]
    (problem,) = problems
    assert (problem.field, problem.level) == (field, "fault")
    assert words in problem.expected
    assert problem.row in ("X", "feature 1")


@pytest.mark.parametrize(
    ("name", "value", "left"),
    [
        ("depth", -3, ("depth_m", None)),
        ("depth", "3 kg", ("depth_m", None)),
        ("depth", True, ("depth_m", None)),
        ("depth", float("nan"), ("depth_m", None)),
        ("depth", 10**400, ("depth_m", None)),
        ("width", "wide", ("width_m", 0.0)),
        ("phase", "soon", ("phase", "proposed")),
        ("made", "spoon", ("made", None)),
        ("present", "perhaps", ("present", "yes")),
        ("label", [1, 2], ("label", "")),
    ],
)
def test_a_bad_property_leaves_the_feature(read, name, value, left):
    works, problems = read([feature(line((0, 0), (5, 0)), id="T", kind="trench", **{name: value})])
    (problem,) = problems
    assert (problem.row, problem.field, problem.level) == ("T", name, "fault")
    assert getattr(works[0], left[0]) == left[1]


def test_an_underside_above_the_top_leaves_both_out(read):
    works, problems = read([feature(SQUARE, id="R", kind="roof", low=5, high=3)])
    (problem,) = problems
    assert (problem.row, problem.field, problem.level) == ("R", "low", "fault")
    assert "below the top, high = 3" in problem.expected
    assert (works[0].low_m, works[0].high_m) == (None, None)


@pytest.mark.parametrize(("told", "read_as"), [(True, "yes"), (False, "no")])
def test_whether_a_work_is_there_as_true_or_false(read, told, read_as):
    works, problems = read([feature(SQUARE, id="S", kind="slab", present=told)])
    assert problems == ()
    assert works[0].present == read_as


def test_names_too_long_for_a_plan_are_told_and_the_work_still_counts(read):
    long = feature(point(1, 1), id="W" * 61, label="L" * 121, kind="pile", diameter=0.3)
    (work,), problems = read([long])
    assert (work.id, work.label) == ("feature 1", "")
    assert [(p.row, p.field, p.level) for p in problems] == [
        ("feature 1", "id", "fault"), ("feature 1", "label", "fault"),
    ]  # fmt: skip


def test_all_faults_of_one_feature_are_told(read):
    works, problems = read([feature(BOW, id="X", kind="slub", depth=-1, phase="later")])
    assert works == ()
    assert {p.field for p in problems} == {"geometry", "kind", "depth", "phase"}


def test_unknown_properties_are_told_once_and_kept(read):
    works, problems = read(
        [feature(point(i, 0), id=f"P{i}", kind="pile", diameter=1, colour="red") for i in range(3)]
    )
    assert [(p.field, p.level) for p in problems] == [("colour", "notice")]
    assert all(w.entered["colour"] == "red" for w in works)


def test_a_pile_without_diameter_is_told(read):
    works, problems = read([feature(point(0, 0), id="P", kind="pile")])
    assert len(works) == 1
    assert [(p.field, p.level) for p in problems] == [("diameter", "notice")]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "FeatureCollection"),
        (b"  \n", "FeatureCollection"),
        (b'{"type": "FeatureCollection", "features": [', "cut short"),
        (b'{"type": "Topology"}', "FeatureCollection"),
        (b"[1, 2]", "FeatureCollection"),
        (b'{"type": "FeatureCollection", "features": {}}', "FeatureCollection"),
        (b"\xff\xfe\x00", "UTF-8"),
        (b"[" * 200_000, "FeatureCollection"),
        (b'{"type": "FeatureCollection", "features": [], "crs": 5}', "named crs member"),
        (b'{"type": "FeatureCollection", "features": [1], "crs": {"type": "name", "properties": '
         b'{"name": "urn:ogc:def:crs:EPSG::99999"}}}', "pyproj knows"),
    ],
)  # fmt: skip
def test_files_that_cannot_be_used(read_text, data, words):
    works, problems = read_text(data)
    assert works == ()
    faults = [p for p in problems if p.level == "fault"]
    assert len(faults) == 1
    assert words in faults[0].expected


def test_collections_nested_too_deep_are_one_fault(read):
    geometry = point(0, 0)
    for _ in range(60):
        geometry = {"type": "GeometryCollection", "geometries": [geometry]}
    works, problems = read([feature(geometry, id="X", kind="pile")])
    assert works == ()
    assert "deep" in problems[0].expected


def test_byte_order_mark_and_line_ends_are_fine(read_text):
    body = json.dumps(
        {"type": "FeatureCollection",
         "features": [feature(point(1, 2), id="P", kind="pile", diameter=1)]}, indent=1,
    )  # fmt: skip
    works, problems = read_text(b"\xef\xbb\xbf" + body.replace("\n", "\r\n").encode())
    assert (len(works), problems) == (1, ())


def test_written_by_gdal_in_the_surveys_own_system(tmp_path):
    # GDAL names the system in a crs member; the numbers are then the survey's own.
    path = tmp_path / "works.geojson"
    x, y = 6_480_000.0, 1_840_000.0
    ring = shapely.Polygon([(x, y), (x + 50, y), (x + 50, y + 30), (x, y + 30)])
    _write_gdal(path, [ring], ["slab"], "EPSG:2229")
    grid = named_grid("EPSG:2229")
    works, problems = read_geojson(path, file="w", grid=grid, units="imperial")
    assert [p for p in problems if p.level == "fault"] == []
    foot = 1200 / 3937  # US survey foot, exact by definition
    read = shapely.Polygon(works[0].parts[0].ring)
    assert read.bounds[0] == pytest.approx(x * foot, abs=1e-6)
    assert read.area == pytest.approx(50 * 30 * foot**2)


def test_written_by_gdal_in_degrees(tmp_path):
    # An independent way there: the inverse projection of the survey's own grid point.
    east, north = 368_000.0, 3_768_000.0
    back = pyproj.Transformer.from_crs("EPSG:26911", "EPSG:4326", always_xy=True)
    path = tmp_path / "works.geojson"
    _write_gdal(path, [shapely.Point(*back.transform(east, north))], ["pile"], "EPSG:4326")
    works, _ = read_geojson(path, file="w", grid=named_grid("EPSG:32611"), units="metric")
    assert works[0].parts[0].ring[0] == pytest.approx((east, north), abs=1.5)
    works, problems = read_geojson(path, file="w", grid=METRES, units="metric")
    assert works == ()
    assert problems[0].field == "crs"
    assert "[survey] crs" in problems[0].expected


def _write_gdal(path, shapes, kinds, crs):
    pyogrio.raw.write(
        path,
        geometry=np.array([shapely.to_wkb(s) for s in shapes], dtype=object),
        field_data=[np.array(kinds, dtype=object)],
        fields=["kind"],
        geometry_type=shapes[0].geom_type,
        crs=crs,
        driver="GeoJSON",
    )


@pytest.mark.parametrize(
    ("grid", "points"),
    [
        (METRES, [(-118.2437, 34.0522), (-118.2434, 34.0523)]),
        (FEET, [(-118.2437, 34.0522), (-118.2434, 34.0523)]),
        (named_grid("EPSG:2229"), [(-118.2437, 34.0522)]),
        (named_grid("EPSG:32611"), [(-118.2437, 34.0522), (-118.2, 34.1)]),
    ],
)
def test_degrees_without_a_name_are_a_fault(read, grid, points):
    works, problems = read(
        [feature(point(*p), id=str(i), kind="pile", diameter=1) for i, p in enumerate(points)],
        grid=grid,
    )
    assert works == ()
    assert [p.value for p in problems] == ["degrees"]


@pytest.mark.parametrize(
    "points",
    [
        [(-18.25, 34.5), (-17.0, 34.6)],  # a small site on a grid of its own
        [(120.5, 33.25)],  # one pile: nothing tells
        [(10_000.0, 10_000.0), (10_000.01, 10_000.01)],  # 10 km from the origin
        [(5_000_000.0, 5_000_000.0)],
    ],
)
def test_plain_coordinates_are_read_without_complaint(read, points):
    works, problems = read(
        [feature(point(*p), id=str(i), kind="pile", diameter=1) for i, p in enumerate(points)]
    )
    assert (len(works), problems) == (len(points), ())


coordinate = st.floats(-1e5, 1e5).map(lambda v: round(v, 3))


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(st.tuples(coordinate, coordinate), min_size=2, max_size=9, unique=True),
    st.floats(0, 30).map(lambda v: round(v, 3)),
)
def test_write_then_read(read, points, depth):
    spread = max(max(c) - min(c) for c in zip(*points, strict=True))
    works, problems = read([feature(line(*points), id="T", kind="trench", depth=depth)])
    if all(abs(x) <= 180 and abs(y) <= 90 for x, y in points) and spread < 0.05:
        assert [p.value for p in problems] == ["degrees"]
        return
    assert problems == ()
    assert works[0].parts[0].ring == tuple(points)
    assert works[0].depth_m.value == depth


@pytest.mark.parametrize(
    ("crs", "words"),
    [("EPSG:4326", "not one in degrees"), ("nonsense", "EPSG:2229"),
     ("EPSG:2048", "east and north"),
     ("EPSG:4978", "not one in degrees")],
)  # fmt: skip
def test_systems_that_cannot_carry_a_survey(crs, words):
    with pytest.raises(GridError, match=words):
        named_grid(crs)


@pytest.mark.parametrize(
    ("crs", "unit", "m"),
    # Units as the EPSG registry gives them.
    [("EPSG:2229", "us-ft", 1200 / 3937), ("EPSG:32611", "m", 1), ("EPSG:2193", "m", 1),
     ("EPSG:2222", "ft", 0.3048)],
)  # fmt: skip
def test_unit_of_the_grid(crs, unit, m):
    grid = named_grid(crs)
    assert (grid.unit, grid.m_per_unit) == (unit, pytest.approx(m, rel=1e-14))
