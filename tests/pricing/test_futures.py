"""Keep, hold or remove. Expected sums: the worked schedule of the small fan palm, by hand."""

import tomllib

import pytest

from bolewalk.pricing.future_cases import horizons, read_futures
from bolewalk.pricing.futures import compare_paths, present_minor
from tests.pricing.money_files import FAN_PALM, FEATHER_PALM, futures_of


def test_small_fan_palm():
    keep, remove = compare_paths(futures_of(FAN_PALM)[0]).flows
    # Trims 150 + 2 x 200 + 4 x 350 + 2 x 770 = 3,490, removal 1,300; now 400 + 180 + 480.
    assert (keep.total_minor, remove.total_minor) == (479000, 106000)
    assert sum(p.cost_minor for p in keep.payments if p.what == "trim") == 349000
    # At 3 %: 3,152 and 906, to the whole dollar.
    assert round(keep.present_minor / 100) == 3152
    assert round(remove.present_minor / 100) == 906
    assert (keep.heights[10], keep.heights[20]) == (26.0, 46.0)


def test_present_value_by_the_annuity_formula():
    # 100 a year for 10 years at 5 %: 100 (1 - 1.05^-10) / 0.05 = 772.17
    yearly = [(y, 10000) for y in range(1, 11)]
    assert present_minor(yearly, discount_pct=5) == round(10000 * (1 - 1.05**-10) / 0.05)
    assert present_minor(yearly, discount_pct=0) == 100000


def test_the_price_steps_are_shown_when_the_palm_passes_them():
    future = compare_paths(futures_of(FAN_PALM)[0])
    # 6 ft and 2 ft a year: 10 ft is reached in year 2 and passed in 3, 20 in 8, 35 in 15.
    assert future.flows[0].steps == ((3, 10.0), (8, 20.0), (15, 35.0))
    codes = [s.code for s in future.says]
    assert codes.count("future.step") == 3
    assert "future.skirt" in codes  # the palm's skirt is unknown, so the crew must be told
    assert [s.code for s in future.not_in_money] == [
        f"future.not_in_money_{n}" for n in horizons()["not_in_money"]["items"]
    ]


def test_break_even_by_hand():
    future = compare_paths(futures_of(FAN_PALM)[0])
    keep, remove = ([sum(f.yearly_minor[: y + 1]) for y in range(21)] for f in future.flows)
    assert (keep[7], remove[7]) == (55000, 70000)
    assert (keep[8], remove[8]) == (90000, 70000)  # 350 more: keeping has now cost more
    assert future.break_even == {"remove": 8}
    assert future.break_even_present == {"remove": 8}


def test_a_shorter_horizon_follows_the_situation():
    case = futures_of(FAN_PALM.replace("staying", "selling"))[0]
    assert case.years == horizons()["years"]["selling"] == 2
    future = compare_paths(case)
    assert [f.total_minor for f in future.flows] == [15000, 52000]
    assert future.break_even == {"remove": None}
    assert "future.beyond_horizon" in [s.code for s in future.says]


def test_feather_palm_past_fifteen_feet():
    # Common practice, no source: about two thousand a time every two to three years past 15 ft.
    keep, hold = compare_paths(futures_of(FEATHER_PALM)[0]).flows
    # Heights 12, 15, 18, 21, 24 ft in years 0, 3, 6, 9, 12.
    assert [p.cost_minor for p in keep.payments] == [35000, 35000, 200000, 200000, 200000]
    assert keep.steps == ((4, 15.0),)
    assert (keep.total_low_minor, keep.total_high_minor) == (610000, 730000)
    assert [p.cost_minor for p in hold.payments] == [35000] * 5
    assert hold.heights[-1] == 15.0


def test_ranges_of_growth():
    text = FAN_PALM.replace("growth = 2\n", "growth = 2\ngrowth_low = 1\ngrowth_high = 3\n")
    keep = compare_paths(futures_of(text)[0]).flows[0]
    # 1 ft a year: 8, 10 | 12, 14, 16, 18, 20 | 22, 24 ft -> 2 x 150, 5 x 200, 2 x 350
    assert keep.total_low_minor == (2 * 150 + 5 * 200 + 2 * 350 + 1300) * 100
    # 3 ft a year: 12, 18 | 24, 30 | 36 ... -> 2 x 200, 2 x 350, 5 x 770
    assert keep.total_high_minor == (2 * 200 + 2 * 350 + 5 * 770 + 1300) * 100


def test_everything_wrong_is_named_at_once_and_sound_cases_stay():
    t = tomllib.loads(FAN_PALM)
    t["colour"] = "blue"
    keep, remove = t["case"][0]["path"]
    keep["cost"][0]["steps"].reverse()
    del remove["cost"][0]["cost"]
    remove["cost"][1]["cost"] = -60
    remove["cost"][2]["year"] = 3
    t["case"].append({"tree": "P3", "height": "tall", "growth": 1, "unit": "yd", "growth_low": 2})
    cases, problems = read_futures(t, file="futures.toml")
    assert cases == ()
    assert {(p.row, p.field) for p in problems} == {
        (None, "colour"), ("P1", "path 1.cost 1.steps"), ("P1", "path 2.cost 1.cost"),
        ("P1", "path 2.cost 2.cost"), ("P1", "path 2.cost 3.year"), ("P3", "height"),
        ("P3", "unit"), ("P3", "growth"), ("P3", "path"),
    }  # fmt: skip
    t = tomllib.loads(FAN_PALM)
    t["case"].append({"tree": "P3"})
    cases, problems = read_futures(t, file="futures.toml")
    assert [c.tree for c in cases] == ["P1"]
    assert {p.row for p in problems} == {"P3"}


@pytest.mark.parametrize("text", ["", "case = 3", "case = [3]", "[[case]]\npath = [1]",
                                  "[[case]]\ntree = 'x'\n[[case.path]]\ncost = 3"])  # fmt: skip
def test_nonsense_is_reported_not_raised(text):
    cases, problems = read_futures(tomllib.loads(text), file="futures.toml")
    assert cases == ()
    assert problems
