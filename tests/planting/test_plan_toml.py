"""Reading planting.toml: units, every problem at once, every key documented."""

import re
import tomllib
from pathlib import Path

import pytest

from bolewalk.planting.plan_toml import PLANTING_KEYS, PLANTING_LISTS, read_planting

WHOLE = """
purpose = ["shade", "bank"]
year = 15
cover = 1000
budget = 3200.50
[site]
light = "part"
native_to = "California"
natives_only = true
water_region = "South Coastal"
water_at_most = "low"
height_at_most = 30
guide = "shrub_width"
slope_read_by = "phone"
[water]
method = "drip"
first_year_at_most = 900
eto = 51.1
use = "residential"
special_area = 2000
price = 8.5
[[zone]]
name = "shrubs"
plant_factor = 0.2
area = 1310
[[bed]]
name = "bank"
outline = [[0, 0], [100, 0], [100, 50]]
[[keep_out]]
why = "lawn"
place = [10, 20]
radius = 5
[[kind]]
species = "toyon"
stock = "5 gallon"
cost = 60
at_least = 1
[[plant]]
species = "Quercus agrifolia"
place = [24, 76]
replaces = "T1"
[[view]]
name = "kitchen"
at = [0, 0]
left = [10, 50]
right = [20, 50]
[[shade_spot]]
name = "bench"
at = [5, 5]
month = 8
hour = 16
[[alternative]]
name = "natives"
natives_only = true
"""


def read(text, units="imperial", m=0.3048):
    return read_planting(tomllib.loads(text), file="planting.toml", units=units,
                         m_per_grid_unit=m)  # fmt: skip


def test_units_of_the_survey():
    plan, problems = read(WHOLE)
    assert problems == ()
    assert plan.cover_m2 == pytest.approx(1000 * 0.3048**2)
    assert plan.budget_minor == 320050
    assert plan.site.height_at_most_m == pytest.approx(9.144)
    assert plan.site.fire
    assert plan.water.first_year_at_most_l == pytest.approx(900 * 3.785411784)
    assert plan.water.eto_mm == pytest.approx(51.1 * 25.4)
    assert plan.water.price_minor_per_l == pytest.approx(850 / 3785.411784)
    assert plan.water.zones[0].area_m2 == pytest.approx(1310 * 0.3048**2)
    assert plan.kinds[0].species == "Heteromeles arbutifolia"
    assert plan.kinds[0].stock == "5 gal"
    assert plan.plants[0].place == pytest.approx((24 * 0.3048, 76 * 0.3048))
    assert plan.keep_outs[0].radius_m == pytest.approx(1.524)
    assert plan.beds[0].outline[1] == pytest.approx((30.48, 0))
    metric, _ = read(WHOLE.replace('"5 gallon"', '"5 gal"'), units="metric", m=1.0)
    assert metric.site.height_at_most_m == 30
    assert metric.water.first_year_at_most_l == 900
    assert metric.water.eto_mm == pytest.approx(51.1)


@pytest.mark.parametrize(
    ("old", "new", "row", "field", "expected"),
    [
        ('species = "toyon"', 'species = "toyonn"', "kind 1", "species", "a plant of the palette"),
        ('stock = "5 gallon"', 'stock = "7 bucket"', "kind 1", "stock", "one of 5 gal"),
        ("place = [24, 76]", "place = [24]", "plant 1", "place", "a place, [east, north]"),
        ("[[0, 0], [100, 0], [100, 50]]", "[[0, 0], [100, 0]]", "bed 1", "outline",
         "at least 3 places"),
        ('light = "part"', 'light = "dim"', None, "site.light", "one of sun, part, shade"),
        ("month = 8", "month = 13", "shade_spot 1", "month", "at most 12"),
        ("budget = 3200.50", "budget = 3200.505", None, "budget", "2 digits"),
        ("radius = 5", "outline = [[0,0],[1,0],[1,1]]", "keep_out 1", "outline",
         "either an outline"),
        ("at_least = 1", "at_least = 3\nat_most = 2", "kind 1", "at_most", "no fewer than"),
        ("year = 15", "yearr = 15", None, "yearr", "a known key"),
        ("eto = 51.1", "eto_months = [1, 2]", None, "water.eto_months", "twelve numbers"),
        ('native_to = "California"\n', "", None, "site.native_to", "native to"),
        ('water_region = "South Coastal"\n', "", None, "site.water_region", "one of"),
    ],
)  # fmt: skip
def test_each_problem_is_told_and_the_rest_is_read(old, new, row, field, expected):
    assert old in WHOLE
    plan, problems = read(WHOLE.replace(old, new))
    (problem,) = problems
    assert (problem.file, problem.row, problem.field) == ("planting.toml", row, field)
    assert expected in problem.expected
    assert plan.purposes == ("shade", "bank")


def test_many_problems_at_once():
    text = "[[plant]]\nspecies = 4\n[[plant]]\nspecies = 'toyon'\nstock = 'x'\n[[kind]]\n"
    _, problems = read(text)
    assert [(p.row, p.field) for p in problems] == [
        ("kind 1", "species"), ("plant 1", "species"), ("plant 2", "stock"),
    ]  # fmt: skip


@pytest.mark.parametrize("text", ["plant = 3", "plant = [1, 2]", "bed = {}", "site = 2"])
def test_wrong_shapes_are_told(text):
    _, problems = read(text)
    assert problems


def test_an_empty_table_is_an_empty_plan():
    plan, problems = read("")
    assert problems == ()
    assert plan.kinds == plan.plants == ()


def test_every_key_is_documented():
    page = (Path(__file__).parents[2] / "docs" / "planting.md").read_text(encoding="utf-8")
    listed = set(re.findall(r"^\| `([a-z_.]+)` \|", page, re.MULTILINE))
    keys = {k.path for k in PLANTING_KEYS}
    keys |= {f"{name}.{k.path}" for name, ks in PLANTING_LISTS.items() for k in ks}
    assert listed == keys
