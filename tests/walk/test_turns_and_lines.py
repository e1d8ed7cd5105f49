"""Speakers that change within a cue, and lines that are utterances. Expected by hand."""

import pytest

from bolewalk.walk.cues import parse_cues
from bolewalk.walk.draft import draft

TALK = """\
[0:02] WREN: Starting at the lychgate. PELL: Is that one dead?
[0:10] WREN: No. It's a hornbeam, eleven metres. It stays. PELL: I want it gone.
[0:20] Height: twelve metres to the wire. PELL: Fine.
"""


def test_speakers_within_a_cue():
    cues, problems = parse_cues(TALK)
    assert problems == ()
    assert [(c.start_s, c.speaker, c.text) for c in cues] == [
        (2.0, "WREN", "Starting at the lychgate."),
        (2.0, "PELL", "Is that one dead?"),
        (10.0, "WREN", "No. It's a hornbeam, eleven metres. It stays."),
        (10.0, "PELL", "I want it gone."),
        (20.0, "PELL", "Height: twelve metres to the wire."),
        (20.0, "PELL", "Fine."),
    ]
    tree = draft(cues).trees[0]
    assert (tree.species.botanical, tree.decision) == ("Carpinus", "retain")


def test_one_colon_makes_no_speaker():
    cues, _ = parse_cues("[0:01] Three of them. Note: the left one leans. Crown: thin.\n")
    assert [c.speaker for c in cues] == [""]


LINES = (
    "right this is the yard at pellow court", "by the bins there's a grey alder",
    "nine metres and two hundred and ten millimetres at chest height",
    "there's a long split down the back of it", "i would take that one down",
    "round the corner there is a field maple", "seven metres nothing wrong with it",
    "that can stay where it is", "past the lamp post there are two whitebeams",
    "they want a crown lift over the path", "that's the whole yard",
)  # fmt: skip


@pytest.mark.parametrize("cut", ["lines", "length"])
def test_lines_without_marks(cut):
    lines = LINES
    if cut == "length":
        words = " ".join(LINES).split()
        lines = tuple(" ".join(words[k : k + 7]) for k in range(0, len(words), 7))
    cues, _ = parse_cues("\n".join(f"[0:{2 + 4 * k:02d}] {x}" for k, x in enumerate(lines)))
    found = draft(cues)
    got = [(t.species.botanical, t.count, t.decision) for t in found.trees]
    assert got == [
        ("Alnus incana", 1, "remove"), ("Acer campestre", 1, "retain"), ("Sorbus aria", 2, "prune"),
    ]  # fmt: skip
    # The words shown are those said: no guessed mark in them.
    assert all("," not in m.said and "." not in m.said for t in found.trees for m in t.moments)
