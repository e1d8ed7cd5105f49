"""The draft against what people wrote down from the same walks.

The limits are those set for the draft: tree F1 0.90 on each sample walk; over all decisions 0.85,
measures 0.90, plantings 0.85, missing facts 0.80 found and half of those asked wise.
"""

import json
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from bolewalk.walk.cues import read_walk
from bolewalk.walk.draft import draft
from bolewalk.walk.draft_json import draft_json
from tests.walk.scoring import score
from tests.walk.short_walks import short_walks

WALKS = Path(__file__).parent.parent / "data" / "walk"
UNSEEN = [f"heldout{i:02d}" for i in (2, 4, 6, 8, 10, 12, 14)]
SAMPLES = [f"dev{i}" for i in range(1, 7)]
OWN = [f"own{i}" for i in range(1, 20)]
SHORT = {w.name: w for w in short_walks()}
NEW = [f"new{i}" for i in range(20, 27)]
LAST = [f"last_{c}" for c in "ijk"]
OTHER = [f"other_{c}" for c in "abcdefgh"]


@cache
def scored(name: str) -> dict[str, Any]:
    if name in SHORT:
        walk = SHORT[name]
        return score(draft_json(draft(walk.cues())), walk.truth())
    path = next(p for p in WALKS.rglob(f"{name}.*") if p.suffix != ".json")
    cues, problems = read_walk([(path, path.name)])
    assert not problems
    truth = json.loads(path.with_name(f"{name}.truth.json").read_text(encoding="utf-8"))
    return score(draft_json(draft(cues)), truth)


def pooled(names: list[str], key: str) -> float:
    parts = [scored(n)[key] for n in names]
    return sum(p[0] for p in parts) / sum(p[1] for p in parts)


@pytest.mark.parametrize("name", SAMPLES + OWN + NEW + OTHER)
def test_trees(name):
    assert scored(name)["tree_f1"] >= 0.90


@pytest.mark.parametrize("name", [*UNSEEN, *LAST, *SHORT])
def test_trees_of_other_voices(name):
    assert scored(name)["tree_f1"] >= 0.85


@pytest.mark.parametrize("names", [UNSEEN, list(SHORT)], ids=["unseen", "short"])
@pytest.mark.parametrize(("key", "least"), [("decisions", 0.85), ("measures", 0.90)])
def test_pooled_other_voices(names, key, least):
    assert pooled(names, key) >= least


def test_walks_scored_once_do_not_get_worse():
    # What they scored at first sight.
    assert pooled(LAST, "decisions") >= 0.82
    assert pooled(LAST, "measures") >= 0.92


def bare_scores():
    """Score the short walks without any punctuation or capital."""
    return [score(draft_json(draft(w.cues(bare=True))), w.truth(bare=True)) for w in SHORT.values()]


def test_without_punctuation():
    each = bare_scores()
    right = [sum(s["decisions"][k] for s in each) for k in (0, 1)]
    sizes = [sum(s["measures"][k] for s in each) for k in (0, 1)]
    assert sum(s["tree_f1"] for s in each) / len(each) >= 0.85
    assert right[0] / right[1] >= 0.75
    assert sizes[0] / sizes[1] >= 0.85


@pytest.mark.parametrize(
    "names", [SAMPLES, OWN, NEW, OTHER], ids=["samples", "own", "new", "other"]
)
@pytest.mark.parametrize(
    ("key", "least"), [("decisions", 0.85), ("measures", 0.90), ("found", 0.80), ("wise", 0.50)]
)
def test_pooled(names, key, least):
    assert pooled(names, key) >= least


@pytest.mark.parametrize(
    "names", [SAMPLES, OWN, NEW, OTHER], ids=["samples", "own", "new", "other"]
)
def test_plantings(names):
    assert sum(scored(n)["plantings_f1"] for n in names) / len(names) >= 0.85


def test_the_scorer_itself():
    # By hand: one of two trees matched whole, one by genus only; 1.5 of 2 on both sides.
    moment = [{"start": 10.0, "end": 12.0}]
    truth = {
        "trees": [
            {"species": {"botanical": "Quercus robur"}, "moments": moment, "decision": "prune"},
            {"species": {"botanical": "Acer rubrum"}, "moments": moment, "decision": "remove"},
        ],
        "plantings": [],
        "questions": [],
    }
    mine = {
        "trees": [
            {
                "species": {"botanical": b},
                "moments": [{"start": 24.0, "end": 25.0}],
                "decision": "prune",
                "measures": [],
                "count": 1,
            }
            for b in ("Quercus robur", "Acer negundo")
        ],
        "plantings": [],
        "questions": [],
    }
    result = score(mine, truth)
    assert result["tree_f1"] == pytest.approx(0.75)
    assert result["decisions"] == (1, 2)
    for t in mine["trees"]:
        t["moments"] = [{"start": 25.5, "end": 26.0}]
    assert score(mine, truth)["tree_f1"] == 0.0


@pytest.mark.parametrize("name", OTHER)
def test_a_third_author(name):
    # Reached once they were read; the scores at first sight stand in docs/walk.md.
    reached = scored(name)
    assert reached["tree_f1"] >= 0.98
    assert reached["plantings_f1"] >= 0.95
    for key in ("decisions", "measures", "found", "wise"):
        right, of = reached[key]
        assert right >= 0.95 * of, key
