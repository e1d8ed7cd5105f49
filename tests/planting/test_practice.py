"""Published planting practice: soil, holes, water, diversity, dates."""

import math
from datetime import date

import pytest

from bolewalk.model.units import M_PER_FT as FT
from bolewalk.planting.lines import Planted, planting_lines, season_day, water_card
from bolewalk.planting.palette import find_taxon
from bolewalk.planting.practice import (
    caliper_water_gal_week,
    check_diversity,
    hole_for,
    size_class,
    soil_by_crown_m3,
    soil_by_size_m3,
)
from bolewalk.planting.watering import L_PER_GAL, water_ledger


def test_soil_by_size():
    # Tree soil volume article 2017: 10 m x 400 mm = 4,000, so 40 m3.
    assert soil_by_size_m3(10, 40) == pytest.approx(40)


def test_soil_by_crown():
    # By hand: 30 ft crown is 707 sq ft; at 2 cu ft a sq ft 1,414 cu ft. 0.6 m3 a m2 is the same
    # rule in metres, 1.97 cu ft a sq ft.
    crown_m2 = math.pi * (15 * FT) ** 2
    assert crown_m2 / FT**2 == pytest.approx(707, abs=0.5)
    assert soil_by_crown_m3(crown_m2) / FT**3 == pytest.approx(1414, rel=0.02)


def test_water_by_caliper():
    # Georgia Forestry Commission: 5 to 7.5 gal an inch; 2 in: 10 to 15 gal a week.
    assert caliper_water_gal_week(2) == (10, 15)


def test_hole():
    # Planting guide: 2 to 3 times the ball, 15 in ball: 30 to 45 in; no deeper than the ball.
    hole = hole_for(15 * 0.0254)
    assert hole.width_low_m / 0.0254 == pytest.approx(30)
    assert hole.width_high_m / 0.0254 == pytest.approx(45)
    assert hole.depth_m / 0.0254 == pytest.approx(15)
    with pytest.raises(ValueError, match="ball_m is 0"):
        hole_for(0)


def names(n):
    return [(f"Genus{i} alba", f"Genus{i}", f"Family{i}") for i in range(n)]


def test_diversity_of_a_hundred():
    # Kendal et al. 2014: 12 of one species in 100 is over 10 %; 10 are not.
    twelve = [("Quercus agrifolia", "Quercus", "Fagaceae")] * 12 + names(88)
    ten = [("Quercus agrifolia", "Quercus", "Fagaceae")] * 10 + names(90)
    (over,) = check_diversity(twelve, {})
    assert over.code == "planting.over_species"
    assert dict(over.values)["share_pct"] == pytest.approx(12)
    assert check_diversity(ten, {}) == ()


def test_four_trees_are_too_few_unless_more_stand():
    # Four trees cannot meet 10 %; with 40 others around them they can.
    four = names(4)
    assert [s.code for s in check_diversity(four, {})] == ["planting.too_few_for_diversity"]
    assert check_diversity(four, dict.fromkeys(names(40)[4:], 1)) == ()


def test_genus_and_family_limits():
    oaks = [(f"Quercus {i}", "Quercus", "Fagaceae") for i in range(3)]
    told = [s.code for s in check_diversity(oaks + names(7), {})]
    assert told == ["planting.over_genus"]  # 30 % of a genus, just 30 % of a family


@pytest.mark.parametrize(
    ("feet", "words"), [(25, "small"), (25.1, "medium"), (45, "medium"), (46, "large")]
)
def test_size_classes(feet, words):
    # Virginia Tech community forestry: under 25 ft near wires, to 45 ft farther off.
    assert size_class(feet * FT) == words


def test_nine_shrubs_on_the_bank():
    # The trade's worked slope: 900, 450 and 450 gal in years 1 to 3 for nine shrubs.
    ledger = water_ledger([("shrub", "5 gal")] * 9)
    assert [y / L_PER_GAL for y in ledger.years_l] == pytest.approx([900, 450, 450])
    assert ledger.last_year == 3
    for year, months in zip(ledger.years_l, ledger.months_l, strict=True):
        assert sum(months) == pytest.approx(year)
    assert [m > 0 for m in ledger.months_l[0]] == [4 <= m <= 9 for m in range(12)]


def test_months_follow_the_evapotranspiration():
    # Vacaville by month [in]: July is the driest of the dry season.
    vacaville = [0.7, 1.4, 3.2, 5.2, 6.3, 7.6, 8.2, 7.2, 5.5, 4.3, 1.6, 1.1]
    assert sum(vacaville) == pytest.approx(52.3)
    lagoon_valley = [1.1, 1.7, 2.8, 4.0, 5.5, 6.1, 7.8, 6.0, 4.8, 3.1, 1.4, 0.9]
    assert sum(lagoon_valley) == pytest.approx(45.2)
    months = water_ledger([("shrub", "5 gal")], eto_months_mm=vacaville).months_l[0]
    assert max(range(12), key=lambda m: months[m]) == 6
    assert months[6] / months[4] == pytest.approx(8.2 / 6.3)


def test_the_dry_season_turns_with_the_hemisphere():
    months = water_ledger([("shrub", "5 gal")], south=True).months_l[0]
    assert months[0] > 0
    assert months[6] == 0


def test_planting_starts_in_fall():
    assert season_day(date(2026, 5, 12)) == date(2026, 10, 1)
    assert season_day(date(2026, 11, 11)) == date(2026, 11, 11)
    assert season_day(date(2026, 2, 28)) == date(2026, 2, 28)
    assert season_day(date(2026, 3, 1)) == date(2026, 10, 1)
    assert season_day(date(2026, 11, 11), south=True) == date(2027, 4, 1)
    assert season_day(date(2026, 10, 15)) == date(2026, 10, 15)
    assert season_day(date(2026, 5, 12), south=True) == date(2026, 5, 12)  # April to August


def test_lines_and_card():
    oak, sage = find_taxon("Quercus agrifolia"), find_taxon("Salvia clevelandii")
    plants = [
        Planted("P1", oak, "15 gal", (1.0, 2.0), True),
        Planted("P2", sage, "5 gal", (3.0, 4.0), False),
    ]
    ledger = water_ledger([(p.taxon.kind, p.stock) for p in plants], method="bucket")
    oak_line, sage_line = planting_lines(plants, ledger, survey_day=date(2026, 5, 12))
    assert oak_line.stakes_off == date(2027, 10, 1)
    assert [s.code for s in oak_line.said][-1] == "planting.line_stakes"
    assert all(s.code != "planting.line_stakes" for s in sage_line.said)
    assert oak_line.soil_m3 == pytest.approx(0.6 * math.pi * 8**2)  # 10 to 22 m wide: 16
    card = water_card(plants, ledger)
    assert sum(sum(row) for _, _, row in card.rows) == pytest.approx(ledger.years_l[0])
    assert water_card([], water_ledger([])).said == ()
