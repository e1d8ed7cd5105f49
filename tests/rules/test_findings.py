"""Conflicts, cautions and everything together."""

import csv
from dataclasses import dataclass, field
from datetime import date
from importlib import resources

import pytest

from bolewalk.model.figures import Figure
from bolewalk.model.survey import Site
from bolewalk.rules.cautions import ALWAYS
from bolewalk.rules.findings import deposit_says, rule_findings
from tests.rules.surveys import line_work, placed, square, survey_of
from tests.rules.trees import example, table, tree

FIRE = """
[[fire]]
id = "near-house"
citation = "fire code"
of = "building"
within = 30
asks = "remove"
species = ["Quercus"]
"""
PROTECTED = """
[[rule]]
id = "oaks"
citation = "oak code"
species = ["Quercus"]
size = {measure = "diameter", stems = "sum", from = 8}
"""
OAKS = f"""{PROTECTED}
acts = ["remove", "grade"]
permit = {{from = "Town", name = "removal", wait_days = 10}}
replacement = {{ratio = 3, stock = "15 gallon"}}
bond = {{years = 3}}
"""


@dataclass
class Moment:
    start: float
    said: str


@dataclass
class Hazard:
    kind: str
    urgent: bool
    moments: list[Moment] = field(default_factory=list)


def findings(one, *works, rules="", hazards=(), **more):
    tables = [table(rules)] if rules else []
    return rule_findings(survey_of(one, works=works, **more), tables, hazards)


def kinds(found):
    return [c.kind for c in found.conflicts]


HOUSE = square("building", 20)
OAK = placed("Quercus lobata", (20,), decision="retain")


def test_fire_says_remove_and_the_oak_rule_says_keep():
    got = findings(OAK, HOUSE, rules=FIRE + OAKS)
    assert kinds(got) == ["fire_remove_keep", "fire_remove_decision"]
    values = dict(got.conflicts[0].says.values)
    assert (values["one"], values["other"]) == ("fire code", "oak code")


@pytest.mark.parametrize(
    ("one", "works", "rules"),
    [
        (OAK, (), FIRE + OAKS),  # nothing built
        (OAK, (square("building", 31),), FIRE + OAKS),  # 31 ft, rule within 30
        (OAK, (square("building", 20, phase="proposed"),), FIRE + OAKS),
        (placed("Acer negundo", (20,)), (HOUSE,), FIRE + OAKS),
        (placed("Quercus lobata", (20,), x_m=None, y_m=None), (HOUSE,), FIRE + OAKS),
    ],
)
def test_no_conflict_where_the_fire_rule_does_not_ask(one, works, rules):
    assert findings(one, *works, rules=rules).conflicts == ()


def test_a_tree_too_small_for_the_rule_may_go():
    got = findings(placed("Quercus lobata", (5,), decision="remove"), HOUSE, rules=FIRE + OAKS)
    assert got.conflicts == ()
    assert [s.code for s in got.trees[0].says] == ["rule.fire_remove"]


def test_fire_against_season_and_consent():
    season = """
        [[season]]
        id = "n"
        citation = "nest code"
        kind = "nesting"
        from = "02-15"
        to = "08-31"
        acts = ["remove"]
        """
    one = placed("Quercus lobata", (5,), decision="remove", owner="neighbour")
    got = findings(one, HOUSE, rules=FIRE + season, date=date(2026, 4, 1))
    assert kinds(got) == ["fire_remove_season", "fire_remove_consent"]


def test_crown_distance_of_a_fire_rule():
    rule = FIRE.replace("30", "10").replace('"remove"', '"prune"')
    rule += 'measured_from = "crown"\n'
    near = placed("Quercus lobata", (20,), crown_ft=11)  # 20 - 11 = 9 ft
    far = placed("Quercus lobata", (20,), crown_ft=10)  # 10 ft: not within
    assert [a.rule.id for a in findings(near, HOUSE, rules=rule).trees[0].fire] == ["near-house"]
    assert findings(far, HOUSE, rules=rule).trees[0].fire == ()


def test_urgent_dangers_come_first_each_once():
    heard = [
        Hazard("wasps, hornets or bees", False, [Moment(5, "hornets in the hedge")]),
        Hazard("gas smell", True, [Moment(61, "bit of a gas smell by the meter")]),
        Hazard("gas smell", True, [Moment(70, "gas again")]),
        Hazard("a thing unheard of", True, []),
    ]
    got = findings(tree(), hazards=heard)
    assert [s.code for s in got.urgent] == ["caution.urgent_gas", "caution.urgent_other"]
    assert dict(got.urgent[0].values)["said"] == "bit of a gas smell by the meter"
    assert "caution.heard" in {s.code for s in got.cautions}


def test_what_is_always_said():
    got = findings(tree())
    assert [s.code for s in got.always] == [f"caution.{n}" for n in ALWAYS]
    assert got.always[0].code == "caution.no_tree_free_of_risk"


def codes(one, *works, rules="", **more):
    got = findings(one, *works, rules=rules, **more)
    return {s.code.removeprefix("caution.") for s in (*got.trees[0].cautions, *got.cautions)}


WIRE = """
[[wire]]
id = "w"
citation = "utility letter"
who = "the utility"
work = "pole line"
kv = 69
clearance = 6
wait_days = 15
"""


def test_a_wire_of_unknown_voltage_keeps_ten_feet():
    wire = line_work("wire", 25, label="pole line")
    assert "wire_unknown" in codes(placed(crown_ft=20), wire)
    assert "wire_unknown" not in codes(placed(crown_ft=14), wire)  # 11 ft clear
    got = findings(placed(crown_ft=20), wire).trees[0].cautions
    assert dict(got[0].values)["person_m"] == pytest.approx(3.048)
    assert {s.code for s in got} == {"caution.wire_unknown", "caution.wire_who_unknown"}


def test_a_wire_rule_gives_distances_and_a_wait():
    """69 kV: 10 ft 8 in for people, 15 ft for booms, 4 ft for branches; asked 6 Oct, 21 Oct."""
    wire = line_work("wire", 25, label="pole line")
    got = findings(placed(crown_ft=20, decision="prune"), wire, rules=WIRE).trees[0]
    values = {k: v for s in got.cautions for k, v in s.values if k.endswith("_m")}
    assert values["person_m"] / 0.3048 == pytest.approx(10 + 8 / 12)
    assert values["boom_m"] / 0.3048 == pytest.approx(15)
    (day,) = got.dates
    assert day.earliest == date(2026, 10, 21)
    assert day.decided_by.code == "date.wire"


@pytest.mark.parametrize(
    ("one", "works", "more", "wanted"),
    [
        (placed(notes="conk at the base, left side"), (), {}, "decay"),
        (placed(notes="cavity at 3 ft", decision="prune"), (), {}, "not_climbed"),
        (placed(health="dead", decision="remove"), (), {}, "not_climbed"),
        (placed(access="wire three feet off"), (), {}, "wire_noted"),
        (placed("Washingtonia robusta", (16,)), (), {}, "palm_skirt"),
        (placed(notes="old owl box, nest in it"), (), {}, "wildlife_noted"),
        (placed(decision="prune"), (), {}, "wildlife"),
        (placed(decision="prune"), (), {}, "climbing"),
        (placed(decision="prune"), (), {}, "command_crew"),
        (placed(), (square("trench", 9, phase="proposed"),), {}, "digging"),
        (placed(), (square("paving", 9, phase="proposed"),), {}, "command_site"),
        (placed(), (), {"site": Site(slope_pct=38)}, "slope"),
        (placed(decision="remove"), (), {"date": date(2026, 3, 1)}, "nesting_inside"),
        (placed(decision="remove"), (), {"date": date(2026, 11, 1)}, "nesting_outside"),
    ],
)
def test_cautions_follow_content(one, works, more, wanted):
    assert wanted in codes(one, *works, **more)
    plain = placed(notes="full crown, no dead wood", decision="retain")
    assert wanted not in codes(plain)


def test_a_low_palm_without_a_skirt_needs_no_warning():
    low = placed("Washingtonia robusta", (16,), height_m=Figure(1.8, "measured"))
    assert "palm_skirt" not in codes(low)
    skirted = placed("Washingtonia robusta", (16,), height_m=Figure(1.8, "measured"),
                     notes="dead fronds to the ground")  # fmt: skip
    assert "palm_skirt" in codes(skirted)


def test_digging_notice_goes_before_the_general_word():
    rules = '[digging]\ncitation = "dig law"\nnotice_days = 2\nhand_within = 2\n'
    got = codes(placed(), square("trench", 9, phase="proposed"), rules=rules)
    assert {"digging_rule", "dig_by_hand"} <= got
    assert "digging" not in got


def test_removals_bring_replacements_and_a_bond():
    """3 for 1: one protected oak removed, 3 planted."""
    got = findings(placed("Quercus lobata", (20,), decision="remove"), rules=OAKS)
    said = {s.code: dict(s.values) for s in got.duties}
    assert said["rule.replacement_stock"]["n_planted"] == 3
    assert said["rule.bond"]["n_years"] == 3
    assert got.permits == {"T1": ("removal",)}
    small = findings(placed("Quercus lobata", (5,), decision="remove"), rules=OAKS)
    assert (small.duties, small.permits) == ((), {})


def test_everything_a_permit_brings_with_it_is_told():
    rules = f"""{PROTECTED}
acts = ["remove"]
permit = {{from = "Town", name = "removal", fee = 250, author = "a registered forester"}}
replacement = {{ratio = 2, like_for_like = true}}
withheld_years = 5
penalty = "twice the appraised value"
emergency = "photographs within three days"
"""
    got = findings(placed("Quercus lobata", (20,), decision="remove"), rules=rules)
    said = {s.code: dict(s.values) for s in got.duties}
    assert said["rule.replacement"]["n_planted"] == 2
    assert said["rule.fee"]["body"] == "Town"
    assert said["rule.fee"]["fee_minor"] == 25_000
    assert said["rule.withheld"]["n_years"] == 5
    assert said["rule.penalty"]["text"] == "twice the appraised value"
    assert said["rule.emergency"]["text"] == "photographs within three days"
    assert said["rule.report_author"]["author"] == "a registered forester"
    assert "rule.like_for_like" in said
    assert {v["citation"] for v in said.values()} == {"oak code"}


def test_works_of_the_past_in_a_protected_zone():
    """Old fill against a protected oak may have needed leave."""
    one = placed("Quercus lobata", (34,))
    got = rule_findings(
        survey_of(one, works=(square("fill", 3),)), [table(OAKS)], zones_m={"T1": 34 * 0.3048}
    )
    assert [s.code for s in got.trees[0].says] == ["rule.past_works"]
    far = rule_findings(
        survey_of(one, works=(square("fill", 35),)), [table(OAKS)], zones_m={"T1": 34 * 0.3048}
    )
    assert far.trees[0].says == ()


def test_a_zone_of_the_rules_own():
    """LA County prints: dripline + 5 ft, at least 15 ft."""
    county = example("los_angeles_county")
    one = placed("Quercus lobata", (20,), crown_ft=20)
    for west_ft, told in ((24, True), (26, False)):
        got = rule_findings(survey_of(one, works=(square("fill", west_ft),)), [county])
        assert bool(got.trees[0].says) is told


@pytest.mark.parametrize(
    ("total", "asked", "limit", "code"),
    [
        (500_000, 50_000, 50_000, "rule.deposit_limit"),  # 10 % of 5,000 is 500
        (500_000, 50_001, 50_000, "rule.deposit_over"),
        (2_000_000, 150_000, 100_000, "rule.deposit_over"),  # 1,000 is less than 10 % of 20,000
        (500_000, None, 50_000, "rule.deposit_limit"),
    ],
)
def test_the_deposit_limit_is_the_lesser(total, asked, limit, code):
    """Printed example of a consumer law: $1,000 or 10 %, whichever is less."""
    rules = table('[deposit]\ncitation = "contractors law"\nmax = 1000\npct = 10\n')
    (said,) = deposit_says([rules], deposit_minor=asked, total_minor=total)
    assert said.code == code
    assert dict(said.values)["limit_minor"] == limit


def test_examples_are_named_as_such_where_they_are_used():
    got = rule_findings(survey_of(tree("Quercus lobata", (20,))), [example("los_angeles_county")])
    assert {"rule.table_used", "rule.table_example"} <= {s.code for s in got.cautions}


def test_same_input_same_findings():
    made = [findings(OAK, HOUSE, rules=FIRE + OAKS) for _ in range(2)]
    assert made[0] == made[1]


def test_every_urgent_kind_of_the_walk_has_its_own_sentence():
    """The kinds the walk calls urgent, as its table of phrases lists them."""
    text = resources.files("bolewalk.walk").joinpath("data/phrases.csv").read_text("utf-8")
    kinds_heard = {r[1] for r in csv.reader(text.splitlines()) if r and r[0] == "asides.urgent"}
    assert "gas smell" in kinds_heard
    got = findings(tree(), hazards=[Hazard(k, True, []) for k in sorted(kinds_heard)])
    codes = {s.code for s in got.urgent}
    assert len(codes) == len(kinds_heard)
    assert "caution.urgent_other" not in codes


def test_a_distance_that_is_not_known_is_told_not_passed_over():
    def told(one, *works):
        return [s.code for s in findings(one, *works, rules=FIRE).trees[0].says]

    assert told(placed("Quercus lobata", (20,), x_m=None, y_m=None), HOUSE) == ["rule.fire_unknown"]
    assert told(OAK) == ["rule.fire_unknown"]  # nothing built is drawn
    assert told(placed("Acer negundo", (20,))) == []
    assert told(OAK, HOUSE) == ["rule.fire_remove"]


def test_a_nest_buffer_and_the_life_of_a_notice():
    season = """
        [[season]]
        id = "n"
        citation = "nest code"
        kind = "nesting"
        from = "02-15"
        to = "08-31"
        acts = ["remove"]
        buffer = 300
        [digging]
        citation = "dig law"
        notice_days = 2
        expires_days = 14
        """
    one = placed(decision="remove")
    got = findings(one, square("trench", 9, phase="proposed"), rules=season).cautions
    said = {s.code: dict(s.values) for s in got}
    assert said["caution.nest_buffer"]["buffer_m"] / 0.3048 == pytest.approx(300)
    assert said["caution.digging_expires"]["days_count"] == 14


def test_a_table_read_long_ago_is_to_be_read_again():
    """checked 1 March 2026; a year and more later it has grown old."""
    for day, old in ((date(2027, 3, 1), False), (date(2027, 3, 2), True)):
        got = findings(tree(), rules=OAKS, date=day)
        assert ("rule.table_old" in {s.code for s in got.cautions}) is old
