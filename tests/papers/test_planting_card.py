"""The planting and water card: spots to tape, holes to dig, water by month."""

import math
import re
from dataclasses import replace
from pathlib import Path

import pytest

from bolewalk.papers.draw.years_plan import years_plan
from bolewalk.papers.language import load_catalogue
from bolewalk.papers.planting_paper import planting_data
from bolewalk.papers.reading import Reading
from bolewalk.papers.typeset import typeset
from bolewalk.papers.write import reading_of
from bolewalk.planting.advise import plan_planting
from bolewalk.planting.plan import FixedPlant, PlantingPlan, PlantingSite
from bolewalk.survey import TreeFinding
from tests.papers.conftest import pdf_text
from tests.papers.hostile import HOSTILE
from tests.papers.invented import ROWS, findings
from tests.planting.places import tree, yard


def card(*plants: FixedPlant) -> Reading:
    survey = yard(tree("T1", 30, 30, decision="remove"), tree("T2", 10, 10), tree("T3", 50, 10))
    plan = PlantingPlan(plants=plants, site=PlantingSite())
    blank = findings(rows=ROWS[-1:]).trees[0].impact
    f = replace(
        findings(rows=[]), survey=survey,
        trees=tuple(TreeFinding(t, None, replace(blank, tree=t.id)) for t in survey.trees),
        planting=plan_planting(survey, plan, zone_radius_m={}),
    )  # fmt: skip
    return reading_of(f, catalogue=load_catalogue("en"))


OAK = FixedPlant("Quercus agrifolia", "15 gal", (30.0, 30.0))


def test_the_spot_is_taped_from_trees_that_stay() -> None:
    data = planting_data(card(OAK))
    assert data is not None
    (row,) = data["rows"]
    # From (10, 10) to (30, 30): 20 root 2 = 28.28 m to the north-east; the same from (50, 10).
    assert math.hypot(20, 20) == pytest.approx(28.28, abs=0.01)
    assert row["spots"][0]["spot"] == [
        "28.28 m from tree T2, on its NE side", "28.28 m from tree T3, on its NW side",
    ]  # fmt: skip


def test_plants_that_differ_only_in_place_stand_together() -> None:
    data = planting_data(card(OAK, replace(OAK, place=(20.0, 50.0))))
    assert data is not None
    assert [len(r["spots"]) for r in data["rows"]] == [2]


def test_water_of_the_months_adds_up_to_the_year() -> None:
    reading = card(OAK, replace(OAK, place=(20.0, 50.0)))
    data = planting_data(reading)
    assert data is not None
    p = reading.findings.planting
    assert p is not None
    for year, shown in enumerate(data["water"]["years"]):
        total = sum(p.water.ledger.months_l[year])
        assert total == pytest.approx(p.water.ledger.years_l[year])
        assert shown["sum"] == f"{total:,.0f}"
        assert sum(float(c.replace(",", "")) for c in shown["cells"]) == pytest.approx(total, abs=6)


def test_crowns_of_later_years_are_drawn_at_one_scale() -> None:
    reading = card(OAK)
    p = reading.findings.planting
    assert p is not None
    years = [y for y in p.later.years if y.year in (0, 5, 10, 15)]
    scene = years_plan(
        years, (), year="Year {year}", cover="{area}", amounts=reading.speaker.amounts,
        width_mm=174.0,
    )  # fmt: skip
    assert scene is not None

    def widths(pen: str) -> list[float]:
        return [
            max(x for x, _ in s.points) - min(x for x, _ in s.points)
            for s in scene.strokes if s.pen == pen and s.closed
        ]  # fmt: skip

    new = [max(c.radii_m) * 2 for y in years for c in y.crowns if c.new]
    kept = [max(c.radii_m) * 2 for y in years for c in y.crowns if not c.new]
    k = widths("bold")[-1] / new[-1]
    assert widths("bold") == pytest.approx([w * k for w in new], rel=0.01)
    assert sorted(widths("line")) == pytest.approx(sorted(w * k for w in kept), rel=0.01)


def test_nothing_to_plant_makes_no_card() -> None:
    assert planting_data(card()) is None
    assert planting_data(reading_of(findings(rows=[]))) is None


def test_a_hostile_reason_is_printed_as_text(tmp_path: Path) -> None:
    data = planting_data(card(*(replace(OAK, why=h, place=(20.0, 20.0 + i))
                                for i, h in enumerate(HOSTILE[:12]))))  # fmt: skip
    assert data is not None
    (tmp_path / "p.pdf").write_bytes(typeset("planting", data))
    text = re.sub(r"\s+", " ", pdf_text(tmp_path / "p.pdf").replace("\u200b", ""))
    assert "<script>alert(1)</script>" in text
    assert "#panic(1)" in text
