"""The quote: parts and totals add up, by hand and as properties."""

import math
from dataclasses import fields, replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bolewalk.model.figures import Figure
from bolewalk.model.survey import Site
from bolewalk.pricing.cost import (
    LineMoney,
    crew_hour_minor,
    gear_hour_minor,
    line_money,
    mark_up,
    mark_up_factor,
)
from bolewalk.pricing.debris import add_debris, wood_debris
from bolewalk.pricing.methods import why_not
from bolewalk.pricing.money import allocate_minor
from bolewalk.pricing.price import price_items, price_survey
from bolewalk.pricing.rates import Gear
from bolewalk.pricing.site_items import dig_item, site_item
from bolewalk.pricing.tasks import TaskFacts, task_hours
from bolewalk.pricing.work_items import WorkItem
from tests.pricing.jobs import material, oak, rich_price, survey_of
from tests.pricing.money_files import rates

LB = 0.45359237
PLAIN = {
    "job__overhead_pct": 0, "job__contingency_pct": 0, "job__margin_pct": 0,
    "job__mobilisation": 0, "job__minimum": 0, "rounding__line": 0.01,
}  # fmt: skip
DAY = date(2026, 5, 12)


def report(count=10.0, **more):
    return site_item(survey_of(), id="S1", task="report", label="report", count=count, **more)


def test_one_line_by_hand():
    # Report on ten trees: 1.0 + 0.35 x 10 = 4.5 h of an arborist at 85.00 = 382.50.
    price = price_items([report()], rates(**PLAIN), quote_date=DAY)
    assert price.total_minor == 38250
    assert price.crew_hours == pytest.approx(4.5)
    assert price.role_hours == {"arborist": 4.5}


def test_overhead_contingency_margin_by_hand():
    # 382.50; overhead 28 % 107.10; contingency 5 % of 489.60 = 24.48; margin 15 % of the price:
    # 514.08 x 15/85 = 90.72; sum 604.80; to the next 5.00: 605.00.
    line = price_items([report()], rates(), quote_date=DAY).lines[0]
    assert line.money == LineMoney(
        labour_minor=38250, overhead_minor=10710, contingency_minor=2448, margin_minor=9072,
        rounding_minor=20,
    )  # fmt: skip
    assert line.price_minor == 60500


def test_every_part_of_a_line_by_hand():
    # 4.5 h of an arborist at 85.00; 10 cu yd of chips at 6.00 and 1,000 lb of logs at 0.03.
    debris = add_debris(
        [
            wood_debris(brush_kg=4730 * LB, log_kg=0),
            wood_debris(brush_kg=0, log_kg=1000 * LB),
        ]
    )
    hours = task_hours(TaskFacts(task="report", count=10.0))
    plain = rates(**PLAIN)
    line = line_money(hours, debris, plain, gear_minor=1200, haul_minor=34500)
    assert line == LineMoney(
        labour_minor=38250, gear_minor=1200, haul_minor=34500, dump_minor=6000 + 3000
    )
    planted = line_money(hours, debris, plain, gear_minor=0, haul_minor=0, goods_minor=700)
    assert planted.price_minor == 38250 + 9000 + 700


@given(st.integers(0, 10**7), st.integers(0, 60), st.integers(0, 30), st.integers(0, 90))
def test_margin_is_a_share_of_the_price(direct, overhead, contingency, margin):
    firm = replace(
        rates(rounding__line=0.01), overhead_pct=overhead, contingency_pct=contingency,
        margin_pct=margin,
    )  # fmt: skip
    money = mark_up(LineMoney(labour_minor=direct), firm)
    assert money.price_minor == sum(getattr(money, f.name) for f in fields(money))
    assert money.margin_minor == pytest.approx(money.price_minor * margin / 100, abs=1.01)


def check_sums(price):
    base = sum(x.price_minor for x in price.lines if x.item.standing == "base")
    assert price.subtotal_minor == base + sum(j.price_minor for j in price.job_lines)
    taxed = price.subtotal_minor + price.minimum_adjustment_minor
    assert price.tax_minor == math.floor(taxed * price.tax_pct / 100 + 0.5)
    assert price.total_minor == taxed + price.tax_minor
    assert price.low_minor <= price.total_minor <= price.high_minor
    for line in price.lines:
        if line.money is None:
            assert line.unpriced
            continue
        parts = [getattr(line.money, f.name) for f in fields(line.money)]
        assert all(isinstance(p, int) for p in parts)
        assert sum(parts) == line.price_minor
        assert line.low_minor <= line.price_minor <= line.high_minor
        assert line.hours_low <= line.hours.hours <= line.hours_high


def test_totals_equal_what_is_shown():
    check_sums(rich_price())
    assert rich_price().total_minor > 0


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(st.floats(20, 20000), st.sampled_from(["remove", "prune"])),
             min_size=1, max_size=6),
    st.floats(0, 25), st.sampled_from([0.01, 0.05, 1.0, 5.0, 25.0]),
)  # fmt: skip
def test_totals_equal_what_is_shown_whatever_the_job(trees, tax, step):
    survey = survey_of(*(oak(f"T{k}", decision=d) for k, (_, d) in enumerate(trees)))
    materials = {f"T{k}": material(kg) for k, (kg, _) in enumerate(trees)}
    firm = rates(tax__pct=tax, rounding__line=step)
    price = price_survey(survey, firm, materials=materials)
    check_sums(price)
    for line in price.lines:
        assert line.price_minor % firm.line_step_minor == 0


def test_minimum_and_tax_by_hand():
    # 1.35 h of an arborist: 114.75; up to 350.00; 8 % tax: 28.00.
    firm = rates(**{**PLAIN, "job__minimum": 350.0, "tax__pct": 8})
    price = price_items([report(count=1)], firm, quote_date=DAY)
    assert price.subtotal_minor == 11475
    assert price.minimum_adjustment_minor == 23525
    assert (price.tax_minor, price.total_minor) == (2800, 37800)


def test_nothing_to_do_costs_nothing():
    price = price_items([], rates(), quote_date=DAY)
    assert (price.total_minor, price.low_minor, price.high_minor) == (0, 0, 0)


def test_blocked_and_optional_lines_are_priced_but_not_in_the_total():
    mine, theirs = oak("T1", decision="prune"), oak("T2", decision="prune", owner="shared")
    firm = rates(truck__round_trip_hours=0)
    alone = price_survey(survey_of(mine), firm)
    both = price_survey(survey_of(mine, theirs), firm)
    assert both.total_minor == alone.total_minor
    assert both.blocked_minor > 0
    freed = price_survey(survey_of(mine, theirs), firm, consents=["T2"])
    assert freed.total_minor > both.total_minor
    stumps = price_survey(survey_of(oak("T1", decision="remove")), rates(scope__stump="leave"))
    assert stumps.options_minor > 0
    assert stumps.of("option")[0].item.task == "grind"


def test_loads_are_whole_and_their_cost_is_split_to_the_last_unit():
    survey = survey_of(*(oak(f"T{k}", decision="remove") for k in range(3)))
    firm = rates(**PLAIN)
    price = price_survey(survey, firm)
    volume = sum(x.item.debris.total_m3 for x in price.of("base"))
    weight = sum(x.item.debris.total_kg for x in price.of("base"))
    assert price.loads.count == max(
        math.ceil(volume / firm.truck.box_m3), math.ceil(weight / firm.truck.payload_kg)
    )
    # 1.25 h x (32.00 truck + 34.00 ground hand) = 82.50 a load.
    assert sum(x.money.haul_minor for x in price.of("base")) == 8250 * price.loads.count


def test_a_day_rate_is_charged_by_whole_days():
    survey, firm = survey_of(), rates(**PLAIN)
    item = dig_item(survey, firm, id="S1", label="fill", area_m2=2, depth_m=0.3, haul=False)
    (line,) = price_items([item], firm, quote_date=DAY).lines
    assert line.hours.hours < firm.day_hours
    assert line.money.gear_minor == 19000  # the air tool's day, though it takes less


def test_soil_over_roots_is_seven_loads():
    # 1,271 sq ft x 14 in with a ten-yard box.
    survey, firm = survey_of(), rates(truck__box=10, truck__payload=1e6)
    item = dig_item(
        survey, firm, id="S1", label="fill", area_m2=1271 * 0.3048**2, depth_m=14 * 0.0254,
        haul=True,
    )  # fmt: skip
    assert price_items([item], firm, quote_date=DAY).loads.count == 7


def test_stumps_by_the_inch():
    # City bid form (Eugene, Oregon): $3 an inch, 36 in -> $108; nothing hauled.
    firm = rates(unit_price__stump_per_in=3.0, scope__chips="leave", rounding__line=0.01)
    tree = oak("T1", decision="remove", flare_cm=Figure(36 * 2.54, "measured"))
    grind = price_survey(survey_of(tree), firm).lines[1]
    assert grind.item.task == "grind"
    assert grind.price_minor == grind.money.fixed_minor == 10800


def test_permits():
    survey = survey_of(oak("T1", decision="remove"), oak("T2", decision="remove"))
    wanted = {"T1": ["removal"], "T2": ["removal", "street"]}
    price = price_survey(survey, rates(), permits=wanted)
    (permit,) = [j for j in price.job_lines if j.kind == "permit"]
    assert permit.trees == ("T1", "T2")
    assert permit.money.fixed_minor == 31000
    assert permit.money.labour_minor == 17000  # two hours at 85.00
    assert "price.permit_no_fee" in [s.code for s in price.notes]
    by_client = price_survey(survey, rates(permits__removal__by="client"), permits=wanted)
    assert [j.kind for j in by_client.job_lines] == ["mobilisation"]
    assert "price.permit_by_client" in [s.code for s in by_client.notes]


def test_deposit_is_the_lesser_of_share_and_cap():
    # Example law: at most 10 % or 1,000, whichever is less.
    small = price_items([report()], rates(), quote_date=DAY)
    assert small.deposit_minor == round(small.total_minor / 10)
    large = price_items([report(count=900)], rates(), quote_date=DAY)
    assert large.total_minor > 1_000_000
    assert large.deposit_minor == 100000


def test_validity_runs_from_the_day_of_the_quote():
    assert price_items([], rates(), quote_date=DAY).valid_until == date(2026, 6, 11)


def removal(**facts):
    more = {k: facts.pop(k) for k in ("palm", "brittle", "clear_m", "material") if k in facts}
    return WorkItem("T1.remove", "T1", "oak", "remove", "base", TaskFacts(task="", **facts), **more)


@pytest.mark.parametrize(
    ("method", "fits", "not_fitting", "code"),
    [
        ("fell", {"height_m": 10.0, "clear_m": 11.0}, {"height_m": 10.0, "clear_m": 10.9}, "room"),
        ("fell", {"height_m": 10.0, "clear_m": 99.0}, {"height_m": 10.0}, "unknown"),
        ("climb", {}, {"brittle": True}, "brittle"),
        ("climb", {"palm": True, "height_m": 4.0}, {"palm": True, "height_m": 4.1}, "palm"),
        ("climb", {"palm": True, "height_m": 2.0}, {"palm": True}, "palm"),
        ("lift", {"slope_pct": 15.0}, {"slope_pct": 15.1}, "slope"),
        ("lift", {"gate_m": 0.98}, {"gate_m": 0.97}, "gate"),
        ("lift", {"height_m": 22.8}, {"height_m": 22.9}, "reach"),
        ("crane", {"height_m": 27.4}, {"height_m": 27.5}, "reach"),
        ("crane", {"carry_m": 27.4}, {"carry_m": 27.5}, "carry"),
    ],
)
def test_which_way_a_tree_may_come_down(method, fits, not_fitting, code):
    assert why_not(removal(**fits), method, rates()) is None
    assert why_not(removal(**not_fitting), method, rates()).code == f"price.not_{method}_{code}"


def test_the_crane_must_lift_the_heaviest_piece():
    heavy = replace(material(9000.0), heaviest_piece_kg=4100.0)  # the crane lifts 9,000 lb
    assert why_not(removal(material=heavy), "crane", rates()).code == "price.not_crane_weight"


def test_the_cheapest_way_that_fits_is_taken():
    price = price_survey(survey_of(oak("T1", decision="remove")), rates())
    line = price.lines[0]
    dearer = [s for s in line.method if s.code.startswith("price.dearer")]
    assert dearer
    assert all(dict(s.values)["more_minor"] >= 0 for s in dearer)
    ways = {line.item.task.split("_")[1]} | {s.code.split("_")[-1] for s in dearer}
    excluded = {s.code.split("_")[1] for s in line.method if "not_" in s.code}
    assert ways | excluded == {"fell", "climb", "lift", "crane"}


def test_no_way_down_is_said_not_priced():
    table = rates()
    firm = replace(table, gear={"chipper": table.gear["chipper"]})
    price = price_survey(survey_of(oak("T1", decision="remove", health="dead")), firm)
    assert price.lines[0].money is None
    assert price.lines[0].unpriced[0].code == "price.no_method"
    # Nor is the stump of a tree that cannot be taken down.
    assert price.lines[1].item.task == "grind"
    assert price.lines[1].unpriced[0].code == "price.after_unpriced"
    assert price.total_minor == 0


def test_a_rate_the_firm_lacks_is_named():
    firm = replace(rates(), crew_minor={"climber": 5200, "ground": 3400})
    (line,) = price_items([report()], firm, quote_date=DAY).lines
    assert dict(line.unpriced[0].values)["key"] == "crew.arborist"


def test_what_moves_the_price_most_is_in_money_and_order():
    survey = survey_of(oak("T1", decision="remove"), site=Site(gate_m=3.0, carry_m=50.0))
    price = price_survey(survey, rates())
    swings = [m.swing_minor for m in price.movers]
    assert swings == sorted(swings, reverse=True)
    assert min(swings) > 0
    # The slope was not recorded: pricing the same survey with each slope gives the same totals.
    slope = next(m for m in price.movers if m.says.code == "price.mover_slope")
    ends = [
        price_survey(replace(survey, site=replace(survey.site, slope_pct=s)), rates()).total_minor
        for s in (0.0, 30.0)
    ]
    assert [slope.low_minor, slope.high_minor] == ends


def test_same_input_same_price():
    survey = survey_of(oak("T1", decision="remove"), oak("T2", decision="prune"))
    assert price_survey(survey, rates()) == price_survey(survey, rates())


def test_default_hours_are_listed_until_the_firm_has_its_own():
    named = [dict(s.values)["task"] for s in
             price_items([report()], rates(), quote_date=DAY).defaults]  # fmt: skip
    assert named == ["report"]
    own = rates(hours__report={"set_up": 1.0, "cut": 0.3})
    assert price_items([report()], own, quote_date=DAY).defaults == ()


def planting(count, **more):
    more = {"stock": count, **more}
    return site_item(survey_of(), id="S1", task="plant", label="oaks", count=count, **more)


def test_plants_are_bought_at_the_price_of_their_size():
    # Goods by hand: three of 15 gal at 90.00; a size without a price costs as any young tree.
    firm = replace(rates(**PLAIN), tree_in_stock_minor=8500, stock_minor={"15 gal": 9000})
    named, other = (
        price_items([planting(3, stock_size=size)], firm, quote_date=DAY).lines[0]
        for size in ("15 gal", "5 gal")
    )
    assert (named.money.goods_minor, other.money.goods_minor) == (27000, 25500)
    assert named.notes == ()
    assert [n.code for n in other.notes] == ["price.any_stock_price"]


def test_a_price_stated_beforehand_stands_as_it_is():
    firm = replace(rates(), tree_in_stock_minor=None)
    line = price_items([planting(3, set_price_minor=45000)], firm, quote_date=DAY).lines[0]
    assert line.money == LineMoney(fixed_minor=45000)
    assert (line.low_minor, line.high_minor) == (45000, 45000)
    assert line.notes == ()
    assert line.hours.hours > 0  # the crew's day is planned all the same


def test_the_factor_of_simulated_runs_is_the_mark_up_of_the_lines():
    # By hand: 1.28 x 1.05 / 0.85.
    firm = rates(rounding__line=0.01)
    assert mark_up_factor(firm) == pytest.approx(1.28 * 1.05 / 0.85)
    money = mark_up(LineMoney(labour_minor=10_000_000), firm)
    assert money.price_minor == pytest.approx(10_000_000 * mark_up_factor(firm), abs=2)


def test_an_hour_of_a_crew_and_of_a_machine_by_hand():
    # Two ground hands and a climber; a machine at 400.00 a day of 8 hours, one at 40.00 an hour.
    firm = replace(rates(), crew_minor={"ground": 3800, "climber": 5600}, day_hours=8.0)
    assert crew_hour_minor({"ground": 2, "climber": 1}, firm) == 2 * 3800 + 5600
    assert gear_hour_minor(Gear("lift", per_day_minor=40000), firm) == 5000
    assert gear_hour_minor(Gear("chipper", per_hour_minor=4000), firm) == 4000
    assert gear_hour_minor(Gear("rope"), firm) == 0


def test_the_odd_unit_goes_to_the_largest_remainder():
    # By hand: 10 over 1 : 2 : 4 is 1.43, 2.86, 5.71; the two odd units go to .86 and .71.
    assert allocate_minor(10, [1, 2, 4]) == (1, 3, 6)
    # 10 over 4 : 2 : 1 likewise, from the other end.
    assert allocate_minor(10, [4, 2, 1]) == (6, 3, 1)
