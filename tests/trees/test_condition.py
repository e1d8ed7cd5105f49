"""Observation apart from opinion. What must hold is from common practice, no source."""

import pytest

from bolewalk.trees.condition import (
    Condition,
    Observation,
    Opinion,
    contradictions,
    mixed_with_opinion,
    unseen,
)

CAVITY = Observation("trunk", "cavity", "seen", "20 cm wide at 1 m, south", start_s=61.0)
NO_CAVITY = Observation("trunk", "cavity", "not there", start_s=300.0)
IVY = Observation("root flare", "decay", "could not see", why_not="ivy", start_s=90.0)


def test_an_opinion_names_what_it_stands_on():
    opinion = Opinion("structure", "poor", (0,), "the assessor", "basic")
    assert Condition((CAVITY,), (opinion,)).opinions[0].because == (0,)
    with pytest.raises(ValueError, match="names no observation"):
        Opinion("structure", "poor", (), "the assessor", "basic")
    with pytest.raises(ValueError, match="observation 1"):
        Condition((CAVITY,), (Opinion("health", "fair", (1,), "the assessor", "basic"),))


def test_two_moments_that_contradict_are_both_kept():
    found = contradictions([CAVITY, IVY, NO_CAVITY])
    assert [(c.first.start_s, c.second.start_s) for c in found] == [(61.0, 300.0)]
    assert contradictions([CAVITY, CAVITY]) == ()
    elsewhere = Observation("union", "cavity", "not there")
    assert contradictions([CAVITY, elsewhere]) == ()


def test_what_could_not_be_seen_stays_until_it_was_seen():
    assert unseen([CAVITY, IVY]) == (IVY,)
    later = Observation("root flare", "decay", "not there", "after the ivy was lifted")
    assert unseen([IVY, later]) == ()


def test_opinion_inside_an_observation_is_found():
    mixed = mixed_with_opinion(
        [Observation("union", "included bark", "seen", "Dangerous union, will fail"), CAVITY]
    )
    assert {m.word for m in mixed} == {"dangerous", "will fail"}
    assert all(m.instead for m in mixed)
    # "unlikely" holds "likely", "safely" holds "safe": whole words only.
    words = "unlikely to be seen from the road, tied off safely"
    assert mixed_with_opinion([Observation("crown", "deadwood", "seen", words)]) == ()


@pytest.mark.parametrize(
    ("call", "hint"),
    [
        (lambda: Observation("leaf", "spots", "seen"), "root flare"),
        (lambda: Observation("trunk", "crack", "maybe"), "could not see"),
        (lambda: Observation("trunk", "crack", "could not see"), "say why"),
        (lambda: Opinion("health", "vigorous", (0,), "x", "basic"), "good"),
        (lambda: Opinion("health", "good", (0,), "x", "glance"), "limited"),
    ],
)
def test_errors_say_what_to_do(call, hint):
    with pytest.raises(ValueError, match=hint):
        call()
