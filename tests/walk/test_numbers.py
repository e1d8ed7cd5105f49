"""Numbers as people say them. Expected values by hand."""

import pytest

from bolewalk.walk.cues import Cue
from bolewalk.walk.numbers import find_numbers
from bolewalk.walk.sentences import read_sentences


def said(text):
    return [n.value for s in read_sentences([Cue(0.0, 1.0, text)]) for n in find_numbers(s.tokens)]


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("thirty-one inches", [31]),
        ("a hundred and ten feet", [110]),
        ("one thousand one hundred and eighty millimetres", [1180]),
        ("eleven-twenty mil", [1120]),
        ("six-oh-five", [605]),
        ("six forty at breast height", [640]),
        ("one, two, three, four trunks", [1, 2, 3, 4]),
        ("twenty-nine and a half inches", [29.5]),
        ("five point two", [5.2]),
        ("half a dozen stems", [6]),
        ("a couple of them", [2]),
        ("two-forty and one-ninety mil", [240, 190]),
        ("1,180 mm and 31\" and 6'", [1180, 31, 6]),
        ("DBH 520, height 11", [520, 11]),
        ("thirty-four hundred", [3400]),
        ("three and a half thousand", [3500]),
        ("nobody said a number", []),
        ("two thousand four hundred", [2400]),
    ],
)
def test_spoken_numbers(text, values):
    assert said(text) == pytest.approx(values)
