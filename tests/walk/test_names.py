"""Names found in sentences: exact, garbled, and words that only look like one. By hand."""

import pytest

from bolewalk.walk.cues import Cue
from bolewalk.walk.names import find_names
from bolewalk.walk.sentences import read_sentences


def found(text, *, expect=True):
    (s,) = read_sentences([Cue(0.0, 1.0, text)])
    return [(n.key, n.other) for n in find_names(s.tokens, expect=expect)]


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("next is a western red-cedar", "westernredcedar"),
        ("two lob lolly pines", "loblollypine"),
        ("the crapes along the drive", "crape"),
        ("an Amelanchier, lamarckii", "amelanchierlamarckii"),
        ("this big lie vogue", "liveoak"),
        ("we got a cedar L", "cedarelm"),
        ("two ball cypress", "baldcypress"),
        ("or a shoe mard", "shumard"),
        ("the you pawn by the porch", "yaupon"),
        ("it's got sugar may pulls", "sugarmaple"),
    ],
)
def test_names(text, key):
    assert [k for k, other in found(text) if not other] == [key]


@pytest.mark.parametrize(
    "text",
    [
        "put a new wall there",
        "look at the plan here",
        "growing into the service drop",
        "on the western side",
        "I've got it on the tape",
        "you don't cut the trunk",
        "crown lift to five point two",
        "watch the hose by the roots",
        "a possum lives under the roots",
    ],
)
def test_ordinary_words_are_no_garbled_names(text):
    assert found(text) == []


@pytest.mark.parametrize(
    ("text", "other"),
    [
        ("the cedar boards", "wood"),
        ("it has oak wilt", "pest or illness"),
        ("at the end of Ash Lane", "place"),
        ("behind Lime House", "place"),
        ("a slice of cherry pie", "food"),
        ("call the cherry picker", "other"),
        ("it's got gum running out", "resin"),
        ("she put pepper on her eggs", "spice"),
        ("pear seedlings in the row", "part of a plant"),
        ("it is only poison oak", "another plant"),
        ("the size of my palm on her hand", "hand"),
    ],
)
def test_other_meanings(text, other):
    assert [o for _, o in found(text)] == [other]


def test_garbled_names_need_a_tree_at_hand():
    assert found("we saw the lie vogue", expect=False) == []
