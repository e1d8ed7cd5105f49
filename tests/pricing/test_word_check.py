"""Scope words that mean something else to each reader."""

import pytest

from bolewalk.pricing.word_check import check_words


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Trim oak and clean up", ["Trim", "clean up"]),
        ("Remove maple", ["Remove"]),
        ("cleanup", ["cleanup"]),
        ("Clean-up included", ["Clean-up"]),
        ("top the elm", ["top"]),
        ("haul away debris", ["haul away", "debris"]),
        ("TRIM", ["TRIM"]),
    ],
)
def test_undefined_words_block(text, words):
    assert [w.word for w in check_words(text)] == words


@pytest.mark.parametrize(
    "text",
    [
        "Crown clean oak: dead branches of 5 cm and more",
        "Trim: crown reduction, ends shortened",
        "Remove maple, stump cut to ground level",
        "Remove dead limb over drive",
        "Clean up: rake, and haul chips",
        "Haul wood and chips",
        "Stop at the gate",  # "top" is not a word here
        "",
    ],
)
def test_defined_lines_pass(text):
    assert check_words(text) == ()


def test_what_to_ask_and_where():
    (word,) = check_words("Please trim")
    assert (word.start, word.ask.code) == (7, "scope.ask_prune_kind")
