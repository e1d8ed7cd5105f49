"""The demonstration's transcript through the draft, against what a person wrote down from it.

`walk.truth.json` was written by hand from the transcript's words alone. The bounds are what a
first draft must reach to save a person time (ours, no source).
"""

import json
from pathlib import Path

import pytest

from bolewalk.demo import survey_folder
from bolewalk.walk.cues import read_walk
from bolewalk.walk.draft import draft
from bolewalk.walk.draft_json import draft_json

NEAR_S = 15


@pytest.fixture(scope="module")
def truth():
    path = Path(__file__).with_name("walk.truth.json")
    return json.loads(path.read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def heard():
    cues, problems = read_walk([(survey_folder() / "walk.vtt", "walk.vtt")])
    assert problems == ()
    return draft_json(draft(cues))


def is_same(drafted, true):
    names = [true["species"]["botanical"], *true.get("accept", [])]
    said = drafted["species"]["botanical"] or ""
    named = any(said == n or (" " not in n and said.split(" ")[0] == n) for n in names)
    return named and any(
        abs(a["start"] - b["start"]) <= NEAR_S for a in drafted["moments"] for b in true["moments"]
    )


def pairs(heard, truth):
    """Each true tree with the first draft entry of its kind near it that no other has taken."""
    left = list(heard["trees"])
    found = []
    for true in truth["trees"]:
        match = next((d for d in left if is_same(d, true)), None)
        if match is not None:
            left.remove(match)
            found.append((match, true))
    return found, left


def test_nearly_every_tree_is_found_and_hardly_one_invented(heard, truth):
    found, left = pairs(heard, truth)
    assert len(truth["trees"]) == 24
    assert len(found) >= 22
    assert len(left) <= 1


def test_most_decisions_and_measures_are_right(heard, truth):
    found, _ = pairs(heard, truth)
    decided = sum(d["decision"] == t["decision"] for d, t in found)
    assert decided >= 0.7 * len(found)
    wanted = [(d, m) for d, t in found for m in t["measures"]]
    right = sum(
        any((m["what"], m["value"], m["unit"]) == (h["what"], h["value"], h["unit"])
            for h in d["measures"])
        for d, m in wanted
    )  # fmt: skip
    assert right >= 0.85 * len(wanted)


def test_plantings_price_and_hazard_are_heard(heard, truth):
    proposed = {p["species"]["botanical"] for p in heard["plantings"]}
    assert proposed == {p["species"]["botanical"] for p in truth["plantings"]}
    assert [c["amount"] for c in heard["costs"]] == [1900]
    assert any(h["urgent"] for h in heard["hazards"])


def test_the_missing_trench_is_asked_for(heard, truth):
    asked = [m["start"] for q in heard["questions"] for m in q["moments"]]
    power = truth["questions"][0]["moments"]
    assert any(abs(a - p["start"]) <= NEAR_S for a in asked for p in power)
