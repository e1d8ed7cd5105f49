"""Turns of speech over several sentences: trees, plantings, sizes, questions. Expected by hand."""

import json
from pathlib import Path

import pytest

from bolewalk.walk.cues import Cue
from bolewalk.walk.draft import draft

DATA = Path(__file__).parent.parent / "data" / "walk" / "turn_fragments.json"
FRAGMENTS = json.loads(DATA.read_text(encoding="utf-8"))


@pytest.mark.parametrize("each", FRAGMENTS, ids=lambda f: f["about"])
def test_turn(each):
    said = each["said"]
    d = draft([Cue(k * 8.0, (k + 1) * 8.0, text) for k, text in enumerate(said)])
    got = sorted([t.species.botanical, t.count, t.decision] for t in d.trees)
    assert got == sorted(each["trees"])
    if "plantings" in each:
        assert sorted(p.species.botanical for p in d.plantings) == sorted(each["plantings"])
    if "sizes" in each:
        sizes = [[m.what, m.value, m.unit] for t in d.trees for m in t.measures]
        assert sizes == each["sizes"]
    if "questions" in each:
        assert [[m.said for m in q.moments] for q in d.questions] == each["questions"]
    if "owners" in each:
        assert [t.owner for t in d.trees] == each["owners"]
