"""The whole advice on the demonstration's court, its sentences, and alternatives side by side."""

import json
import re
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

import bolewalk.planting
from bolewalk.intake.folder import read_folder
from bolewalk.model.statements import Statement
from bolewalk.papers.amounts import Amounts
from bolewalk.papers.findings_json import findings_data
from bolewalk.papers.language import Speaker, load_catalogue
from bolewalk.papers.layers import survey_layers
from bolewalk.planting.advise import plan_planting
from bolewalk.planting.fire import FIRE_BASES
from bolewalk.planting.plan import (
    LIGHTS,
    PURPOSES,
    AlternativeWish,
    Bed,
    FixedPlant,
    KindWish,
    PlantingPlan,
    PlantingSite,
    ShadeSpot,
    WaterWish,
    Zone,
)
from bolewalk.survey import assess
from tests.planting.places import square, tree, yard

SPEAKER = Speaker(load_catalogue("en"), Amounts("imperial"))
COURT = Path(bolewalk.planting.__file__).parents[1] / "demo" / "teasel-court"


@pytest.fixture(scope="module")
def court():
    return assess(read_folder(COURT))


def test_the_court(court):
    found = court.planting
    assert [p for p in court.problems if p.file == "planting.toml"] == []
    assert [g.tree for g in found.gaps] == ["T15"]  # T24 has no position
    assert {p.taxon.botanical for p in found.plants if p.fixed} == {
        "Cercis occidentalis", "Acer macrophyllum",
    }  # fmt: skip
    assert [y.year for y in found.later.years] == [0, 5, 10, 15, 30]
    assert {a.name for a in found.alternatives} == {
        "Natives only", "As little as possible", "A clear view of the creek",
    }  # fmt: skip
    # On the walk: a bigleaf maple "gets to be as wide as the magnolia in time".
    grown = [x for x in found.likeness if x.kind == "Acer macrophyllum" and x.year is None]
    assert grown[0].like is not None


def test_findings_and_layers_carry_it(court):
    data = findings_data(court, SPEAKER)["planting"]
    json.dumps(data, allow_nan=False)
    assert len(data["plants"]) == len(court.planting.plants)
    assert data["plants"][0]["place"] == pytest.approx([24, 76])
    (layer,) = [x for x in survey_layers(court) if x.name == "planting"]
    assert len(layer.features) == len(court.planting.plants)


def statements_in(value):
    """Every statement anywhere in a result."""
    if isinstance(value, Statement):
        yield value
    elif isinstance(value, tuple | list):
        for v in value:
            yield from statements_in(v)
    elif hasattr(value, "__dataclass_fields__"):
        for name in value.__dataclass_fields__:
            if name != "_neighbours":
                yield from statements_in(getattr(value, name))


def test_every_statement_can_be_said_without_empty_promises(court):
    said = [SPEAKER.text(s) for s in statements_in(court.planting)]
    assert len(said) > 200
    for text in said:
        assert not re.search(r"\b(safe|guaranteed|approved)\b", text, re.IGNORECASE), text
        assert "{" not in text


def codes_made_of_words():
    """Codes put together in the source from closed sets, spelled out here."""
    when = ("year", "grown")
    return {
        *(f"planting.fire_{b}" for b in FIRE_BASES),
        *(f"planting.fire_{b}_across" for b in ("shrub_height", "shrub_width")),
        *(f"planting.like_{x}_{w}" for x in ("tree", "thing", "nothing") for w in when),
        *(f"planting.over_{r}" for r in ("species", "genus", "family")),
        *(f"planting.layout_{x}" for x in ("proven", "bounded")),
        *(f"planting.oak_saying_{x}" for x in ("agrees", "differs")),
        *(f"planting.roots_{x}" for x in ("moderate", "high")),
        "planting.light_good", "planting.light_wrong", "planting.stands", "planting.stands_not",
        "planting.evergreen", "planting.deciduous", "planting.gives", "planting.gives_no",
        "planting.water_within", "planting.water_over", "planting.slope_flips",
        "planting.slope_flips_unread", "planting.wish_costs", "planting.wish_costs_none",
    }  # fmt: skip


def test_every_code_has_a_sentence_and_every_sentence_a_code():
    found = set()
    for path in Path(bolewalk.planting.__file__).parent.glob("*.py"):
        found |= set(re.findall(r'"(planting\.[a-z_]+)"', path.read_text(encoding="utf-8")))
    found.discard("planting.toml")
    wanted = found | codes_made_of_words()
    known = {f"planting.{k}" for k in SPEAKER.catalogue.tables["planting"]}
    assert wanted == known


def test_closed_sets_have_words():
    words = SPEAKER.catalogue.tables["words"]
    assert set(PURPOSES) == set(words["use"])
    assert set(LIGHTS) == set(words["light"])
    assert {*FIRE_BASES, "crowns"} == set(words["spacing_by"])


CARE = WaterWish(price_minor_per_l=0.2)


def two_ways(**kw):
    plan = PlantingPlan(
        plants=(FixedPlant("Quercus agrifolia", "15 gal", (30.0, 30.0), cost_minor=30000),
                FixedPlant("Ginkgo biloba", "15 gal", (50.0, 50.0), cost_minor=20000)),
        site=PlantingSite(native_to="California"), water=CARE,
        alternatives=(
            AlternativeWish("natives only", natives_only=True),
            AlternativeWish("as little as possible", plant=False),
            AlternativeWish("a view", remove=("T1", "T2"), wish="a view of the hill"),
        ),
    )  # fmt: skip
    survey = yard(tree("T1", 30, 30, decision="remove"), tree("T2", 10, 10))
    return plan_planting(survey, replace(plan, **kw), zone_radius_m={},
                         removal_minor={"T1": 100000})  # fmt: skip


def test_alternatives_side_by_side():
    natives, least, view = two_ways().alternatives
    assert [a.removed for a in (natives, least, view)] == [("T1",), ("T1",), ("T1", "T2")]
    assert (natives.planted_count, least.planted_count, view.planted_count) == (1, 0, 2)
    # By hand: removal 1,000.00 and an oak 300.00; T2 has no removal price.
    assert natives.first_cost_minor == 130000
    assert least.first_cost_minor == least.cost_20_minor == 100000
    assert view.first_cost_minor is None
    # Three years of water at 0.2 a litre: the first year's, half and half again.
    assert natives.cost_20_minor == 130000 + round(2 * natives.water_l * 0.2)
    cover = [dict(a.cover_m2) for a in (natives, least, view)]
    assert cover[0][15] > cover[1][15] > 0
    assert view.today_m2 == natives.today_m2 > cover[0][0]
    told = {s.code: dict(s.values) for s in view.said}
    assert told["planting.wish_costs"]["names"] == "T2"
    assert told["planting.wish_costs"]["area_m2"] == pytest.approx(50.27, abs=0.01)


def test_shade_at_the_bench_in_august():
    # The spot lies 6 m east of the oak: the sun of a summer afternoon stands behind its crown.
    plan = PlantingPlan(
        plants=(FixedPlant("Quercus agrifolia", "15 gal", (30.0, 30.0)),),
        site=PlantingSite(latitude_deg=34.1, longitude_deg=-117.7, utc_offset_hours=-8,
                          survival=0.9),
        shade_spots=(ShadeSpot("bench", (36.0, 30.0), 8, 15, 16.0, 1.0),
                     ShadeSpot("porch", (30.0, 10.0), 8, 15, 16.0, 1.0)),
    )  # fmt: skip
    bench, porch = plan_planting(yard(), plan, zone_radius_m={}).shade
    assert 250 < bench.sun.azimuth_deg < 280
    assert bench.years[0].by == ()
    assert bench.years[-1].by == ("P1",)
    assert bench.years[-1].chance == pytest.approx(0.9)
    assert bench.first_year in (5, 10, 15)
    assert porch.first_year is None


def test_the_water_budget_takes_the_stricter_factor():
    # San Diego's 0.42 is stricter than the state's 0.55 and counts.
    wish = WaterWish(eto_mm=51.1 * 25.4, use="residential", factor=0.42,
                     zones=(Zone("all", 0.2, 5000 * 0.3048**2),))  # fmt: skip
    budget = plan_planting(yard(), PlantingPlan(water=wish), zone_radius_m={}).budget
    assert budget.allowance_gal == pytest.approx(51.1 * 0.62 * 0.42 * 5000)
    assert plan_planting(yard(), PlantingPlan(), zone_radius_m={}).budget is None


def test_without_growth_region_trees_stand_as_they_are():
    plan = PlantingPlan(
        kinds=(KindWish("Quercus agrifolia", "15 gal"),), beds=(Bed("b", square(5, 5, 20)),)
    )
    survey = yard(tree("T1", 50, 50), region=None)
    found = plan_planting(survey, plan, zone_radius_m={})
    assert [y.kept_m2 for y in found.later.years] == pytest.approx([50.27] * 5, abs=0.01)
    assert found.plants
    assert all("no source" in s for s in found.later.sources)


def test_an_empty_plan_on_an_empty_site():
    survey = replace(yard(), works=(), trees=(), date=date(2026, 5, 12))
    found = plan_planting(survey, PlantingPlan(), zone_radius_m={})
    assert found.plants == found.lines == found.placings == ()
    assert found.later.gap_m2 == 0
