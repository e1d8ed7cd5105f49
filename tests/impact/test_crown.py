"""Crown volumes against closed forms, clashes against closed forms and dense sampling."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from bolewalk.impact.clashes import crown_clash, lowest_clash_m, obstacles, removed_m3
from bolewalk.impact.crown import (
    CrownSolid,
    crown_solid,
    crown_volume_m3,
    outline_radius_m,
    profile,
)
from bolewalk.impact.thresholds import thresholds
from bolewalk.model.figures import Figure
from bolewalk.model.trees import Crown, Species, Tree
from bolewalk.model.words import CROWN_FORMS, CrownForm
from bolewalk.model.works import Part, Work

SQUARE = ((-50.0, 3.0), (50.0, 3.0), (50.0, 60.0), (-50.0, 60.0))


def roof(ring, **kw):
    return Work("R1", "roof", (Part("polygon", ring),), **kw)


def solid(form: CrownForm = "column", radii=(4.0, 4.0, 4.0, 4.0), base=2.0, top=10.0):
    return CrownSolid((0.0, 0.0), radii, base, top, form)


# Closed forms: reference tables of crown solids (D = width, L = crown depth), derived there.
@pytest.mark.parametrize(
    ("form", "factor"),
    [
        ("column", 0.7854),  # cylinder
        ("spheroid", 0.5236),  # ellipsoid
        ("umbrella", 0.3927),  # paraboloid
        ("cone", 0.2618),
        ("half-spheroid", 0.5236),  # dome of depth L
        ("palm", 0.5236),
    ],
)
def test_volume_closed_forms(form: CrownForm, factor: float) -> None:
    d, depth = 9.0, 7.0
    assert crown_volume_m3((d / 2,) * 4, depth, form) == pytest.approx(
        factor * d * d * depth, rel=1e-4
    )


def test_sphere_by_hand() -> None:
    assert crown_volume_m3((3, 3, 3, 3), 6, "spheroid") == pytest.approx(4 / 3 * math.pi * 27)


@pytest.mark.parametrize("form", CROWN_FORMS)
def test_fill_is_the_integral_of_the_profile_squared(form: CrownForm) -> None:
    # Independent: midpoint sums of the profile itself.
    t = (np.arange(200_000) + 0.5) / 200_000
    expected = math.pi * 4 * float((profile(form, t) ** 2).mean()) * 5
    assert crown_volume_m3((2, 2, 2, 2), 5, form) == pytest.approx(expected, rel=1e-6)


def test_outline_runs_through_the_four_radii_and_on_quarter_ellipses() -> None:
    radii = (5.0, 3.0, 2.0, 7.0)
    corners = outline_radius_m(radii, np.radians([0, 90, 180, 270]))
    assert corners == pytest.approx(radii)
    b = np.radians(30.0)
    r = float(outline_radius_m(radii, b))
    assert (r * math.sin(b) / 3) ** 2 + (r * math.cos(b) / 5) ** 2 == pytest.approx(1.0)


def test_half_plane_through_a_column_is_a_circle_segment() -> None:
    # Closed form: segment of a circle of 4 m beyond a chord at 3 m.
    r, d = 4.0, 3.0
    segment = r * r * math.acos(d / r) - d * math.sqrt(r * r - d * d)
    got, sides = removed_m3(solid(), obstacles([roof(SQUARE)], ("proposed",)))
    assert got == pytest.approx(segment * 8.0, rel=1e-4)
    assert sides["N"] > sides["NE"] > 0
    assert sides["S"] == 0


def test_half_plane_through_a_sphere_is_a_cap() -> None:
    # Closed form: cap of height h = 1 m of a sphere of 4 m: pi h^2 (3 r - h) / 3.
    ball = solid("spheroid", base=2.0, top=10.0)
    got, _ = removed_m3(ball, obstacles([roof(SQUARE)], ("proposed",)))
    assert got == pytest.approx(math.pi * (12 - 1) / 3, rel=1e-3)


def test_horizontal_slab_of_a_cone() -> None:
    # Closed form: a cone 8 m deep of radius 4 m; above half depth lies one eighth.
    all_over = ((-9.0, -9.0), (9.0, -9.0), (9.0, 9.0), (-9.0, 9.0))
    crown = solid("cone")
    clash = crown_clash(crown, obstacles([roof(all_over, low_m=6.0)], ("proposed",)), thresholds())
    assert clash.removed_pct == pytest.approx(12.5, abs=1e-3)
    assert clash.lowest_clash_m == pytest.approx(6.0)
    assert clash.clearance_m == 0.0


def test_overlapping_works_are_counted_once() -> None:
    one = [roof(SQUARE, low_m=4.0)]
    two = [roof(SQUARE, low_m=4.0), roof(SQUARE, low_m=5.0, high_m=7.0)]
    a, _ = removed_m3(solid("spheroid"), obstacles(one, ("proposed",)))
    b, _ = removed_m3(solid("spheroid"), obstacles(two, ("proposed",)))
    assert b == pytest.approx(a, rel=1e-5)


def test_clearance_widens_the_footprint_and_the_heights() -> None:
    # A roof from 6 to 7 m at 4 m distance with 1 m clearance: as one from 5 to 8 m at 3 m.
    moved = ((-50.0, 4.0), (50.0, 4.0), (50.0, 60.0), (-50.0, 60.0))
    wide, _ = removed_m3(
        solid("spheroid"),
        obstacles([roof(moved, low_m=6.0, high_m=7.0, clearance_m=1.0)], ("proposed",)),
    )
    bare, _ = removed_m3(
        solid("spheroid"), obstacles([roof(SQUARE, low_m=5.0, high_m=8.0)], ("proposed",))
    )
    assert wide > 0
    assert wide == pytest.approx(bare, rel=1e-4)


@settings(max_examples=15, deadline=None)
@given(
    form=st.sampled_from(CROWN_FORMS),
    radii=st.tuples(*[st.floats(1.0, 8.0)] * 4),
    at=st.tuples(st.floats(-6, 6), st.floats(-6, 6)),
    size=st.tuples(st.floats(1.0, 9.0), st.floats(1.0, 9.0)),
    low=st.floats(0, 9),
)
def test_share_against_slices_cut_by_a_geometry_library(form, radii, at, size, low) -> None:
    # Independent: shapely intersects the scaled outline with the footprint, slice by slice.
    crown = solid(form, radii, 2.0, 11.0)
    ring = (
        at,
        (at[0] + size[0], at[1]),
        (at[0] + size[0], at[1] + size[1]),
        (at[0], at[1] + size[1]),
    )
    got, _ = removed_m3(crown, obstacles([roof(ring, low_m=low)], ("proposed",)))
    b = np.radians(np.arange(0, 360, 0.25))
    r = outline_radius_m(radii, b)
    rim = np.column_stack([r * np.sin(b), r * np.cos(b)])
    foot = shapely.Polygon(ring)
    start = max(low, 2.0)
    z = start + (np.arange(400) + 0.5) / 400 * (11.0 - start)
    areas = [
        shapely.intersection(shapely.Polygon(rim * max(p, 1e-9)), foot).area
        for p in profile(form, (z - 2.0) / 9.0)
    ]
    expected = float(np.mean(areas)) * (11.0 - start)
    assert abs(got - expected) < 0.001 * crown.volume_m3


def test_trunk_on_a_corner_and_on_an_edge_takes_a_quarter_and_a_half() -> None:
    corner = ((0.0, 0.0), (50.0, 0.0), (50.0, 50.0), (0.0, 50.0))
    edge = ((-50.0, 0.0), (50.0, 0.0), (50.0, 50.0), (-50.0, 50.0))
    for ring, share in ((corner, 25.0), (edge, 50.0)):
        clash = crown_clash(solid("cone"), obstacles([roof(ring)], ("proposed",)), thresholds())
        assert clash.removed_pct == pytest.approx(share, abs=1e-3)


def test_a_hole_in_a_roof_leaves_the_crown() -> None:
    outer = ((-20.0, -20.0), (20.0, -20.0), (20.0, 20.0), (-20.0, 20.0))
    hole = ((-9.0, -9.0), (-9.0, 9.0), (9.0, 9.0), (9.0, -9.0))
    work = Work("R", "roof", (Part("polygon", outer, (hole,)),))
    assert removed_m3(solid(), obstacles([work], ("proposed",)))[0] == 0.0


def test_lowest_clash_of_a_dome_by_hand() -> None:
    # Spheroid, radius 4, 2 to 10 m, roof edge at 3 m: (2t-1)^2 = 1 - (3/4)^2, lower root.
    t = (1 - math.sqrt(1 - 0.75**2)) / 2
    found = lowest_clash_m(solid("spheroid"), obstacles([roof(SQUARE)], ("proposed",)))
    assert found is not None
    assert found[0] == pytest.approx(2 + 8 * t, abs=0.008)
    assert found[1] == pytest.approx(0.75)


def test_gap_to_a_wire_and_the_year_it_closes() -> None:
    # Sphere of radius 3 about (0, 0, 6); wire at east 5 m, height 6 m: gap 2 m. Clearance 1 m;
    # the crown grows 0.2 m a year: more than 4 m is first passed in year 6 (in year 5 it touches).
    wire = Work(
        "W", "wire", (Part("line", ((5.0, -30.0), (5.0, 30.0))),),
        low_m=6.0, high_m=6.0, clearance_m=1.0,
    )  # fmt: skip

    def grown(years: int) -> CrownSolid:
        r = 3.0 + min(years, 12) / 5
        return CrownSolid((0.0, 0.0), (r, r, r, r), 6 - r, 6 + r, "spheroid")

    clash = crown_clash(grown(0), obstacles([wire], ("proposed",)), thresholds(), growth=grown)
    assert clash.clearance_m == pytest.approx(2.0, abs=5e-3)
    assert clash.clash_in_years == 6.0
    assert clash.removed_pct == 0.0


def test_gap_to_a_roof_below_by_hand() -> None:
    # Flat bottom of a dome at 4 m, roof top at 2.5 m underneath: 1.5 m. Beside it, 1.2 m off the
    # outline of 3 m and 0.5 m lower: hypot(1.2, 0.5) = 1.3 m.
    dome = CrownSolid((10.0, 5.0), (3.0, 3.0, 3.0, 3.0), 4.0, 9.0, "half-spheroid")
    under = roof(((9.0, 4.0), (11.0, 4.0), (11.0, 6.0), (9.0, 6.0)), high_m=2.5)
    beside = roof(((14.2, 0.0), (20.0, 0.0), (20.0, 9.0), (14.2, 9.0)), high_m=3.5)
    for works, gap in (([under], 1.5), ([beside], 1.3), ([under, beside], 1.3)):
        clash = crown_clash(dome, obstacles(works, ("proposed",)), thresholds())
        assert clash.clearance_m == pytest.approx(gap, abs=5e-3)
        assert clash.removed_pct == 0.0


def test_a_roof_that_only_covers_the_ground_below_leaves_no_dust() -> None:
    ball = solid("spheroid")
    low = roof(((0.5, 0.5), (9.0, 0.5), (9.0, 9.0), (0.5, 9.0)), high_m=2.2)
    got, _ = removed_m3(ball, obstacles([low], ("proposed",)))
    # Only the lowest 0.2 m of the crown, a disc of at most sqrt(1 - 0.95^2) * 4 = 1.25 m radius.
    assert 0.0 < got < math.pi * 1.25**2 * 0.2 / 4
    far = roof(((3.0, 3.0), (9.0, 3.0), (9.0, 9.0), (3.0, 9.0)), high_m=2.2)
    assert removed_m3(ball, obstacles([far], ("proposed",)))[0] == 0.0


def test_wire_without_clearance_clashes_though_it_takes_no_volume() -> None:
    wire = Work("W", "wire", (Part("line", ((1.0, -30.0), (1.0, 30.0))),), low_m=6.0, high_m=6.1)
    clash = crown_clash(solid(), obstacles([wire], ("proposed",)), thresholds(), diameter_cm=60.0)
    assert clash.removed_pct == 0.0
    assert clash.lowest_clash_m == pytest.approx(6.0)
    # Half of 60 cm, thinning evenly over the 4 m radius, met at 1 m: 0.5 * 60 * 0.75.
    assert clash.thickest_limb_cm == pytest.approx(22.5, rel=1e-6)


def test_existing_building_without_heights_is_left_out() -> None:
    house = Work("B", "building", (Part("polygon", SQUARE),), phase="existing")
    told = Work("B", "building", (Part("polygon", SQUARE),), phase="existing", high_m=5.0)
    assert obstacles([house], ("existing", "proposed")) == ()
    assert len(obstacles([told], ("existing", "proposed"))) == 1


def test_tree_without_crown_base_has_no_solid() -> None:
    fig = Figure(8.0, "measured")
    tree = Tree("T", Species(None, None, "x"), height_m=fig, crown=Crown(3, 3, 3, 3, fig))
    assert crown_solid(tree) is None
    assert crown_clash(None, (), thresholds()).volume_m3 is None


def test_impossible_crown_says_what_is_wrong() -> None:
    with pytest.raises(ValueError, match="below the top"):
        solid(base=9.0, top=4.0)
