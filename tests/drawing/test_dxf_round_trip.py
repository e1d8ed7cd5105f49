"""Drawings written by the drawing library and read back: every shape, any unit, any version."""

import ezdxf
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.drawing.plans import on, read_plan

# Metres in one unit: by definition.
UNITS = {1: 0.0254, 2: 0.3048, 4: 0.001, 5: 0.01, 6: 1.0, 21: 1200 / 3937}
NAMES = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m", 21: "us-ft"}

place = st.tuples(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6))
piles = st.lists(st.tuples(place, st.floats(0.05, 2)), max_size=4)
boxes = st.lists(st.tuples(place, st.floats(1, 50), st.floats(1, 50)), max_size=3)


@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    piles, boxes, place, st.sampled_from(sorted(UNITS)),
    st.sampled_from(["R12", "R2000", "R2010", "R2018"]), st.sampled_from(["asc", "bin"]),
)  # fmt: skip
def test_write_then_read(tmp_path, piles, boxes, end, code, version, form):
    doc = ezdxf.new(version)
    if version != "R12":
        doc.header["$INSUNITS"] = code
    msp = doc.modelspace()
    m = UNITS[code]
    for (x, y), radius in piles:
        msp.add_circle((x / m, y / m), radius / m, **on("P"))
    for (x, y), w, h in boxes:
        corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
        points = [(a / m, b / m) for a, b in corners]
        if version == "R12":
            msp.add_polyline2d(points, close=True, **on("B"))
        else:
            msp.add_lwpolyline(points, close=True, **on("B"))
    msp.add_line((0, 0), (end[0] / m, end[1] / m), **on("F"))
    path = tmp_path / "plan.dxf"
    doc.saveas(path, fmt=form)
    layers = {"P": "pile", "B": "slab", "F": "fence"}
    # The oldest version has no unit in its header: there the survey says it.
    plan = read_plan(path, layers, unit=NAMES[code] if version == "R12" else None)
    works = {k: [w for w in plan.works if w.kind == v] for k, v in layers.items()}
    assert len(works["P"]) == len(piles)
    for work, (centre, radius) in zip(works["P"], piles, strict=True):
        assert work.parts[0].ring[0] == pytest.approx(centre, abs=1e-6)
        assert work.diameter_m == pytest.approx(2 * radius)
    for work, ((x, y), w, h) in zip(works["B"], boxes, strict=True):
        box = shapely.Polygon(work.parts[0].ring)
        assert box.bounds == pytest.approx((x, y, x + w, y + h), abs=1e-6)
        assert box.area == pytest.approx(w * h, rel=1e-6)
    # A line whose ends fall together is none, and is told.
    if works["F"]:
        assert works["F"][0].parts[0].ring[-1] == pytest.approx(end, abs=1e-6)
