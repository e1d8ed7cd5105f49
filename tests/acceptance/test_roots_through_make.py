"""The nine root accounting cases as survey folders, read back from findings.json.

Expected values: tests/data/impact/roots_cases.json, whose note tells how they were made (rays
and polar grids, not this code). The zone radius of each case is reached by a trunk of a twelfth
of it (AS 4970-2009: radius 12 x trunk diameter).
"""

import json
import math
from pathlib import Path
from typing import Any

import pytest

from tests.acceptance.conftest import Make
from tests.folders import feature

CASES = json.loads(
    (Path(__file__).parents[1] / "data" / "impact" / "roots_cases.json").read_text("utf-8")
)["cases"]
TOLERANCE = {
    "overlap_pct": 0.01,
    "severed_pct": 0.01,
    "severed_by_depth_pct": 0.1,
    "best_half_severed_pct": 0.05,
    "nearest_cut": 0.01,
    "widest_clear_arc_deg": 0.1,
    "best_half_bearing": 0.1,
}


def geojson(work: dict[str, Any], number: int) -> dict[str, Any]:
    rest = {k: v for k, v in work.items() if k not in ("kind", "line", "polygon", "at")}
    if "line" in work:
        shape: tuple[str, Any] = ("LineString", work["line"])
    elif "polygon" in work:
        shape = ("Polygon", [[*work["polygon"], work["polygon"][0]]])
    else:
        shape = ("Point", work["at"])
        rest["made"] = "bored"
    return feature(work["kind"], *shape, id=f"W{number}", **rest)


@pytest.mark.parametrize("case", CASES, ids=lambda c: c["name"])
def test_case(case: dict[str, Any], make: Make) -> None:
    x, y = case["centre"]
    trunk_cm = case["radius"] / 12 * 100
    findings = make(
        trees=f"tree,species,x,y,diameter\nT1,Quercus robur,{x},{y},{trunk_cm}\n",
        works=[geojson(w, i) for i, w in enumerate(case["works"], 1)],
    )
    tree = findings["trees"][0]
    assert tree["zone"]["radius"] == pytest.approx(case["radius"], abs=1e-9)
    got = tree["roots"]["proposed"]
    assert got == tree["roots"]["with_later"]
    assert tree["roots"]["existing"]["severed_pct"] == 0
    for key, expected in case["expect"].items():
        if key == "sectors_pct":
            assert got[key] == pytest.approx(expected, abs=0.05)
        else:
            assert got[key] == pytest.approx(expected, abs=TOLERANCE[key]), key


def test_imperial_survey_gives_the_same_shares(make: Make) -> None:
    """Analytic: a straight cut at half the radius severs 19.55 % (circle segment)."""
    findings = make(
        trees="tree,species,x,y,diameter\nT1,Quercus robur,100,200,20\n",
        works=[
            feature("excavation", "Polygon",
                    [[[110, 0], [300, 0], [300, 400], [110, 400], [110, 0]]], depth=4)
        ],
        units="imperial",
        root_zone="inch-foot",
    )  # fmt: skip
    tree = findings["trees"][0]
    assert tree["zone"]["radius"] == pytest.approx(20, abs=1e-9)
    share = (math.acos(0.5) - 0.5 * math.sqrt(0.75)) / math.pi * 100
    assert tree["roots"]["proposed"]["severed_pct"] == pytest.approx(share, abs=1e-6)
    assert tree["roots"]["proposed"]["nearest_cut"] == pytest.approx(10, abs=1e-9)
