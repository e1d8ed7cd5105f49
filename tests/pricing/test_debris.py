"""Volumes, weights, loads and dump fees against published factors."""

import math

import pytest

from bolewalk.pricing.debris import (
    Debris,
    add_debris,
    density_kg_m3,
    diameter_class_in,
    dump_fee_minor,
    earthwork,
    grindings,
    loads_for,
    stump_by_the_inch_minor,
    wood_debris,
    wood_index,
)
from bolewalk.trees.mass import stump
from tests.pricing.money_files import rates

YD3 = 0.764554857984
LB = 0.45359237


def test_ten_yards_of_green_chips():
    # Oregon DEQ: green wood chips 473 lb/yd3 -> 10 yd3 weigh 4,730 lb.
    chips = wood_debris(brush_kg=4730 * LB, log_kg=0)
    assert chips.volume_m3["chips"] / YD3 == pytest.approx(10.0)


@pytest.mark.parametrize(("material", "lb"), [("chips", 473), ("brush", 250), ("logs", 500)])
def test_published_densities(material, lb):
    # Oregon DEQ survey conversion factors: green chips, loose yard debris, cordwood.
    assert density_kg_m3(material) * YD3 / LB == pytest.approx(lb)


def test_an_acre_ten_feet_high():
    # FEMA: one acre stacked 10 ft high is 16,133 cubic yards.
    acre = earthwork(area_m2=43_560 * 0.3048**2, depth_m=3.048, load_m3=1.0)
    assert acre.in_place_m3 / YD3 == pytest.approx(16_133, abs=0.5)


def test_fill_over_an_oak():
    # 35 % of a 34-foot zone, 1,271 sq ft, 14 in deep: 55 yd3, 69 loose at 25 % swell, 7 ten-yard
    # loads (by hand: 1271 * 14 / 12 / 27 = 54.92; x 1.25 = 68.65).
    assert 0.35 * math.pi * 34**2 == pytest.approx(1271, abs=0.5)
    soil = earthwork(area_m2=1271 * 0.3048**2, depth_m=14 * 0.0254, load_m3=10 * YD3)
    assert round(soil.in_place_m3 / YD3) == 55
    assert round(soil.loose_m3 / YD3) == 69
    assert soil.loads == 7


@pytest.mark.parametrize(("loads", "count"), [(6.9999, 7), (7.0, 7), (7.0001, 8), (0.0, 0)])
def test_a_full_load_is_one_load(loads, count):
    assert earthwork(area_m2=loads * 0.8, depth_m=1.0, load_m3=1.0).loads == count


@pytest.mark.parametrize(
    ("inches", "yards"),
    [(6, 0.3), (12, 1.0), (18, 2.3), (24, 4.1), (30, 6.5), (36, 9.3), (42, 12.6), (48, 16.5)],
)
def test_stump_conversion_table(inches, yards):
    # FEMA stump conversion table, DAP 9523.11, from memory; fit within 0.05 and its rounding.
    dug = stump(inches * 2.54, flare_cm=inches * 2.54).dug_m3 / YD3
    assert dug == pytest.approx(yards, abs=0.051)


def test_grindings_by_hand():
    # 30 in stump: 42 in across, 18 in deep: 14.4 cu ft, x 1.75 = 25.3 cu ft = 0.94 yd3 loose.
    hole = math.pi / 4 * (42 * 0.0254) ** 2 * 18 * 0.0254
    loose = grindings(stump(60.0, flare_cm=30 * 2.54)).volume_m3["grindings"]
    assert loose == pytest.approx(1.75 * hole)
    assert loose / YD3 == pytest.approx(0.94, abs=0.01)


def test_stump_by_the_inch():
    # City bid form (Eugene, Oregon): $3 an inch, 36 in -> $108.
    assert stump_by_the_inch_minor(36 * 2.54, per_in_minor=300) == 10_800


@pytest.mark.parametrize(
    ("inches", "bounds"),
    [(12.0, (6.0, 12.0)), (12.5, (12.0, 18.0)), (12.01, (12.0, 18.0)), (6.0, (0.0, 6.0)),
     (54.0, (48.0, 54.0)), (54.1, (54.0, None))],
)  # fmt: skip
def test_bid_classes(inches, bounds):
    # Virginia DOT: over 6 to 12, over 12 to 18 ...; 12.5 in by our stated rule.
    assert diameter_class_in(inches) == bounds


def test_stump_sprouts_ten_years_on():
    # By hand: (49+36+36+25+25) * 30 = 5,130; (121+100+100) * 45 = 14,445; ratio 2.8.
    now = wood_index([d * 2.54 for d in (7, 6, 6, 5, 5)], 30 * 0.3048)
    then = wood_index([d * 2.54 for d in (11, 10, 10)], 45 * 0.3048)
    assert (round(now), round(then)) == (5130, 14445)
    assert then / now == pytest.approx(2.8, abs=0.05)


def test_loads_by_volume_and_by_weight():
    light = wood_debris(brush_kg=1000, log_kg=0)
    by_volume = loads_for(light, rates(truck__payload=1e6))
    assert (by_volume.by, by_volume.count) == ("volume", math.ceil(1000 / (473 * LB / YD3)
                                                                  / (14 * YD3)))  # fmt: skip
    by_weight = loads_for(light, rates(truck__payload=1000))
    assert (by_weight.by, by_weight.count) == ("weight", 3)  # 2,205 lb in loads of 1,000
    assert by_weight.hours == pytest.approx(3 * 1.25)


def test_dump_fees_by_hand():
    # 10 yd3 of chips at 6.00 and 1,000 lb of logs at 0.03.
    both = add_debris(
        [wood_debris(brush_kg=4730 * LB, log_kg=0), wood_debris(brush_kg=0, log_kg=1000 * LB)]
    )
    assert dump_fee_minor(both, rates()) == (6000 + 3000, ())


def test_a_material_without_a_fee_is_named():
    table = rates(disposal={"chips": {"per_volume": 1}, "logs": {"per_volume": 1},
                            "grindings": {"per_volume": 1}})  # fmt: skip
    assert dump_fee_minor(Debris({"soil": 1.0}, {"soil": 1.0}), table) == (0, ("soil",))


def test_left_on_site_is_not_hauled():
    left = wood_debris(brush_kg=500, log_kg=700, haul_chips=False, haul_logs=False)
    assert left.total_m3 == 0
