"""Root zones against published rules and what follows from them by arithmetic."""

import math
from dataclasses import replace

import pytest

from bolewalk.impact.zones import method_diameter_cm, root_zone, structural_radius_m
from bolewalk.model.figures import Figure
from bolewalk.model.trees import Crown, Species

from .hands import crown, tree

IN = 2.54
FT = 0.3048


@pytest.mark.parametrize(
    ("method", "stems_cm", "radius_m"),
    [
        # BS 5837:2012, 12 x trunk, by arithmetic.
        ("bs5837-2012", (7.5,), 0.90),
        ("bs5837-2012", (10.0,), 1.20),
        ("bs5837-2012", (30.0,), 3.60),
        ("bs5837-2012", (50.0,), 6.00),
        ("bs5837-2012", (75.0,), 9.00),
        ("bs5837-2012", (100.0,), 12.00),
        # At the published cap of 15 m (707 m2), and past it.
        ("bs5837-2012", (125.0,), 15.00),
        ("bs5837-2012", (160.0,), 15.00),
        # Equal area of three stems, 438.7 mm; six stems of mean 200 mm, from memory.
        ("bs5837-2012", (30.0, 25.0, 20.0), 5.26),
        ("bs5837-2012", (20.0,) * 6, 5.88),
        # By arithmetic; the floor, from memory; 3.84 is printed as 3.8 (read).
        ("as4970-2009", (40.0,), 4.80),
        ("as4970-2009", (10.0,), 2.00),
        ("as4970-2009", (32.0,), 3.84),
        # The cap of 15 m, from memory: one side and the other.
        ("as4970-2009", (124.0,), 14.88),
        ("as4970-2009", (126.0,), 15.00),
        # Published: 1 ft per inch, 20 in -> 20 ft. By hand: 3-4-5, 50 in -> 50 ft.
        ("inch-foot", (20 * IN,), 20 * FT),
        ("inch-foot", (30 * IN, 40 * IN), 50 * FT),
    ],
)
def test_radius(method: str, stems_cm: tuple[float, ...], radius_m: float) -> None:
    zone = root_zone(tree(cm=stems_cm), method)  # type: ignore[arg-type]
    assert zone is not None
    assert zone.radius_m == pytest.approx(radius_m, abs=0.005)
    assert zone.area_m2 == pytest.approx(math.pi * zone.radius_m**2)
    assert zone.outline_m is None


def test_areas_as_printed() -> None:
    # m2, whole numbers.
    printed = {7.5: 3, 10: 5, 30: 41, 50: 113, 75: 254, 100: 452, 125: 707, 160: 707}
    for cm, m2 in printed.items():
        zone = root_zone(tree(cm=(float(cm),)), "bs5837-2012")
        assert zone is not None
        assert round(zone.area_m2) == m2


def test_larger_published_rule() -> None:
    # Published example (NC State Extension): a 12 in trunk at least 15 ft, 1.25 ft an inch;
    # the same factor as an over-mature tree of moderate tolerance in the table from memory.
    given = tree(cm=(12 * IN,), age="over-mature", tolerance="moderate")
    zone = root_zone(given, "tolerance-age")
    assert zone is not None
    assert zone.radius_m == pytest.approx(15 * FT)


@pytest.mark.parametrize(
    ("tolerance", "age", "ft_per_in"),
    # Matheny and Clark 1998, all cells from memory.
    [
        ("good", "young", 0.5), ("good", "mature", 0.75), ("good", "over-mature", 1.0),
        ("moderate", "young", 0.75), ("moderate", "mature", 1.0), ("moderate", "over-mature", 1.25),
        ("poor", "young", 1.0), ("poor", "mature", 1.25), ("poor", "over-mature", 1.5),
        # docs/root-zones.md: semi-mature counts as young, unknown age as mature.
        ("poor", "semi-mature", 1.0), ("poor", None, 1.25),
    ],
)  # fmt: skip
def test_tolerance_and_age(tolerance: str, age: str | None, ft_per_in: float) -> None:
    # Its own example: 30 in, over-mature, poor -> 45 ft; the other cells at the same trunk.
    zone = root_zone(tree(cm=(30 * IN,), tolerance=tolerance, age=age), "tolerance-age")
    assert zone is not None
    assert zone.radius_m == pytest.approx(30 * ft_per_in * FT)
    assert ("zone.age_assumed" in {n.code for n in zone.notes}) == (age is None)


def test_tolerance_unknown_counts_as_moderate() -> None:
    zone = root_zone(tree(cm=(30 * IN,), age="mature"), "tolerance-age")
    assert zone is not None
    assert zone.radius_m == pytest.approx(30 * FT)
    assert "zone.tolerance_assumed" in {n.code for n in zone.notes}


@pytest.mark.parametrize(
    ("cm", "radius_m"),
    # By arithmetic: 2.67 m at 0.60 m, not the 8.06 m of a known slip.
    [(45.0, 2.366), (80.0, 3.013), (100.0, 3.309), (15.0, 1.5), (14.9, 1.5), (60.0, 2.67)],
)
def test_structural_radius(cm: float, radius_m: float) -> None:
    assert structural_radius_m(cm) == pytest.approx(radius_m, abs=0.002)


def test_structural_radius_goes_by_the_flare_where_it_was_measured() -> None:
    bare = root_zone(tree(cm=(60.0,)), "as4970-2009")
    flared = root_zone(tree(cm=(60.0,), flare_cm=Figure(80.0, "measured")), "as4970-2009")
    borrowed = root_zone(tree(cm=(60.0,)), "inch-foot")
    assert bare is not None
    assert flared is not None
    assert borrowed is not None
    assert (bare.structural_by, flared.structural_by) == ("trunk", "flare")
    assert flared.structural_radius_m == pytest.approx(3.013, abs=0.0005)  # as above
    assert bare.structural_radius_m == borrowed.structural_radius_m
    assert {n.code for n in bare.notes} == {"zone.structural_on_trunk"}
    assert flared.notes == ()
    assert {n.code for n in borrowed.notes} == {"zone.structural_borrowed_trunk"}


@pytest.mark.parametrize(("form", "radius", "widened"), [(None, 4.0, 5.5), ("column", 1.0, 6.0)])
def test_crown_and_margin(form: str | None, radius: float, widened: float) -> None:
    # By arithmetic: crown 4 m + 1.5 m; columnar 1 m + 5 m.
    zone = root_zone(tree(crown=crown(radius), form=form), "din18920")
    assert zone is not None
    assert zone.radius_m == pytest.approx(widened)
    assert zone.outline_m == pytest.approx([widened] * 360)
    # By hand: a regular polygon of 360 corners.
    assert zone.area_m2 == pytest.approx(180 * widened**2 * math.sin(math.radians(1)))


def test_uneven_crown_is_widened_before_it_is_drawn() -> None:
    uneven = Crown(2.0, 6.0, 3.0, 1.0, Figure(3.0, "measured"))
    zone = root_zone(tree(crown=uneven), "din18920")
    assert zone is not None
    assert zone.outline_m is not None
    at = zone.outline_m
    assert (at[0], at[90], at[180], at[270]) == pytest.approx((3.5, 7.5, 4.5, 2.5))
    # By hand, ellipse of half axes 3.5 and 7.5 at 30 degrees from north.
    assert at[30] == pytest.approx(1 / math.hypot(math.cos(math.pi / 6) / 3.5, 0.5 / 7.5))
    # By hand: four quarter-ellipses, less the chords' sagittas.
    whole = math.pi / 4 * (3.5 * 7.5 + 7.5 * 4.5 + 4.5 * 2.5 + 2.5 * 3.5)
    assert zone.area_m2 == pytest.approx(whole, rel=2e-4)


@pytest.mark.parametrize("method", ["as4970-2009", "inch-foot", "tolerance-age", "bs5837-2012"])
def test_palm_goes_by_its_crown(method: str) -> None:
    # docs/root-zones.md, from memory: crown radius plus 1 m, never 12 x trunk (which would be 6 m).
    palm = Species("Washingtonia robusta", "Mexican fan palm", "fan palm")
    for given in (tree(species=palm, crown=crown(1.5)), tree(form="palm", crown=crown(1.5))):
        zone = root_zone(given, method)  # type: ignore[arg-type]
        assert zone is not None
        assert zone.radius_m == pytest.approx(2.5)
        assert "zone.palm" in {n.code for n in zone.notes}
    assert root_zone(tree(species=palm), method) is None  # type: ignore[arg-type]


def test_caps_and_floors_are_told() -> None:
    capped = root_zone(tree(cm=(160.0,)), "bs5837-2012")
    floor = root_zone(tree(cm=(10.0,)), "as4970-2009")
    assert capped is not None
    assert floor is not None
    told = {n.code: dict(n.values) for n in (*capped.notes, *floor.notes)}
    assert told["zone.capped"] == pytest.approx({"radius_m": 15.0, "uncapped_m": 19.2})
    assert told["zone.floor"] == pytest.approx({"radius_m": 2.0, "computed_m": 1.2})


def test_what_is_missing_gives_no_zone() -> None:
    assert root_zone(replace(tree(), stems_cm=()), "inch-foot") is None
    assert root_zone(tree(), "din18920") is None


def test_combined_by_the_method() -> None:
    six = (30.0, 10.0, 10.0, 10.0, 10.0, 10.0)
    # By hand: sqrt(900 + 500); sqrt(6) x 80 / 6.
    assert method_diameter_cm(six, "as4970-2009") == pytest.approx(math.sqrt(1400))
    assert method_diameter_cm(six, "bs5837-2012") == pytest.approx(math.sqrt(6) * 80 / 6)


def test_errors_say_what_to_do() -> None:
    with pytest.raises(ValueError, match=r"'twelve'.*as4970-2009"):
        root_zone(tree(), "twelve")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="finite and > 0"):
        structural_radius_m(0.0)
