"""Cutting sound, writing WebVTT, and keeping the recogniser honest: without a model."""

import csv
import itertools
from importlib.resources import files

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bolewalk.reference.plants import REGIONS, candidates, find_plant
from bolewalk.walk.cues import parse_cues
from bolewalk.walk.hints import likely_species
from bolewalk.walk.recogniser import (
    MODEL_VARIABLE,
    SpeechModelError,
    Word,
    find_model,
    load_recogniser,
    only_names,
    recites,
)
from bolewalk.walk.recording_settings import recording_settings
from bolewalk.walk.stretches import stretches
from bolewalk.walk.transcript import Section, sections_of, transcript_vtt
from tests.walk.sound import RATE

LONGEST = round(recording_settings().stretches.longest_s * RATE)
TENTH = RATE // 10


def loud(sound):
    """Speech is where it is loud, in tenths of a second; pauses shorter than 0.3 s are not told."""
    tenths = np.abs(sound[: len(sound) // TENTH * TENTH].reshape(-1, TENTH)).max(axis=1) > 0.1
    runs, k = [], 0
    for on, group in itertools.groupby(tenths):
        n = len(list(group))
        if on and runs and k - runs[-1][1] < 3:
            runs[-1][1] = k + n
        elif on:
            runs.append([k, k + n])
        k += n
    return [(a * TENTH, b * TENTH) for a, b in runs]


def sound_of(plan):
    """`plan` are lengths in tenths of a second, by turns spoken and quiet."""
    parts = [np.full(n * TENTH, 0.5 * (k % 2 == 0), "f4") for k, n in enumerate(plan)]
    return np.concatenate(parts) if parts else np.zeros(0, "f4")


def blocks(sound, size=RATE):
    return [sound[i : i + size] for i in range(0, len(sound), size)]


plans = st.lists(st.integers(1, 400), min_size=1, max_size=12)


@settings(max_examples=60, deadline=None)
@given(plans, st.integers(2000, 40000))
def test_stretches_cover_the_sound_once(plan, size):
    sound = sound_of(plan)
    cut = list(stretches(blocks(sound, size), speech_in=loud))
    assert np.array_equal(np.concatenate([c.sound for c in cut]), sound)
    assert cut[0].start == 0
    assert [c.end for c in cut[:-1]] == [c.start for c in cut[1:]]
    assert all(c.end - c.start == len(c.sound) <= LONGEST for c in cut)
    assert all(c.has_speech for c in cut if loud(c.sound))
    # The last second of a quiet stretch is looked at again, so silence is never joined to words.
    assert all(not loud(c.sound) for c in cut if not c.has_speech)


@settings(max_examples=40, deadline=None)
@given(plans, st.data())
def test_going_on_behind_any_stretch_cuts_the_same(plan, data):
    sound = sound_of(plan)
    cut = list(stretches(blocks(sound), speech_in=loud))
    k = data.draw(st.integers(0, len(cut) - 1))
    again = list(stretches(blocks(sound, 7777), speech_in=loud, skip=cut[k].end))
    assert [(c.start, c.end) for c in again] == [(c.start, c.end) for c in cut[k + 1 :]]


def test_a_cut_falls_into_the_longest_pause():
    # 16 s spoken, 0.5 s quiet, 5 s spoken, 1 s quiet, 20 s spoken: the pauses between 15 and
    # 28 s are 16.0-16.5 and 21.5-22.5.
    sound = sound_of([160, 5, 50, 10, 200])
    first = next(iter(stretches(blocks(sound), speech_in=loud)))
    assert first.end == 22 * RATE


def test_where_nobody_pauses_the_quietest_tenth_is_cut():
    sound = sound_of([600])
    sound[20 * RATE : 20 * RATE + TENTH] = 0.2
    first = next(iter(stretches(blocks(sound), speech_in=loud)))
    assert first.end == 20 * RATE + TENTH // 2


def w(text, start, end):
    return Word(text, start, end, 0.9)


def test_cues_end_with_sentences_pauses_and_recordings():
    words = [
        w(" The", 1.0, 1.2), w(" oak", 1.3, 1.6), w(" stays.", 1.7, 2.1), w(" A", 2.2, 2.3),
        w(" 12", 2.4, 2.6), w("-inch", 2.6, 2.9), w(" ash", 3.0, 3.4), w(" goes", 5.0, 5.4),
        w(" Next", 9.9, 10.0), w(" day", 10.1, 10.3),
    ]  # fmt: skip
    text = transcript_vtt(words, [Section("a.mp4", 0, 10.05), Section("b.mp4", 10.05, 30)])
    assert "<00:00:02.400>12-inch <00:00:03.000>ash" in text
    cues, problems = parse_cues(text)
    assert problems == ()
    assert [(c.start_s, c.end_s, c.text) for c in cues] == [
        (1.0, 2.1, "The oak stays."), (2.2, 3.4, "A 12-inch ash"), (5.0, 5.4, "goes"),
        (9.9, 10.0, "Next"), (10.1, 10.3, "day"),
    ]  # fmt: skip


def test_signs_and_names_come_back():
    words = [w(" Smith", 0.0, 0.5), w(" &", 0.5, 0.6), w(" <b>", 3600.5, 3601.0)]
    sections = (Section("a --> <b>.mp4", 0.0, 3700.125), Section("NOTE.wav", 3700.125, 1.5))
    text = transcript_vtt(words, sections, heard_by="model x --> y")
    assert sections_of(text) == sections
    assert "01:00:00.500 --> 01:00:01.000\n&lt;b&gt;" in text
    cues, _ = parse_cues(text)
    assert cues[0].text == "Smith &"
    assert sections_of("WEBVTT\n\n00:01.000 --> 00:02.000\nthe oak\n") == ()


@given(st.lists(st.tuples(st.floats(0, 3), st.floats(0, 2)), min_size=1, max_size=40))
def test_cues_are_in_order_short_and_lose_no_word(steps):
    words, at = [], 0.0
    for k, (gap, length) in enumerate(steps):
        words.append(w(f" w{k}", at + gap, at + gap + length))
        at += gap + length
    cues, problems = parse_cues(transcript_vtt(words, [Section("a.wav", 0, at)]))
    assert problems == ()
    assert " ".join(c.text for c in cues).split() == [x.text.strip() for x in words]
    assert all(c.end_s - c.start_s <= 12.01 for c in cues)
    assert all(a.end_s <= b.start_s + 0.002 for a, b in itertools.pairwise(cues))


LIST = ("coast live oak", "jacaranda", "liquidambar", "camphor", "crape myrtle", "ginkgo")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("coast live oak, jacaranda, liquidambar, camphor, crape myrtle", True),
        (" Jacaranda, liquidambar, camphor, crape myrtle. Ginkgo.", True),
        # Three in the list's order may be chance; so may four in another.
        ("coast live oak, jacaranda, liquidambar", False),
        ("ginkgo, camphor, liquidambar, jacaranda", False),
        # Four in order, but there is speech around them.
        (
            "from the gate I see coast live oak jacaranda liquidambar camphor and then there is "
            "nothing but lawn all the way down to the road",
            False,
        ),
        ("the jacaranda stays", False),
        ("", False),
    ],
)
def test_reciting_the_list_is_noticed(text, expected):
    assert recites(text, LIST) is expected


def test_nothing_but_names_is_noticed():
    assert only_names(" Jacaranda, jacaranda. Coast live oak!", LIST)
    assert not only_names("a jacaranda", LIST)
    assert not only_names("", LIST)
    assert not only_names("jacaranda", ())


def test_the_lists_are_short_known_and_of_their_region():
    most = recording_settings().words.most_hints
    assert most == 25
    for region in REGIONS:
        names = likely_species(region)
        assert 20 <= len(names) == len(set(names)) <= most
    path = files("bolewalk.walk") / "data" / "likely_species.csv"
    for row in csv.DictReader(path.read_text(encoding="utf-8").splitlines()):
        plant = find_plant(row["botanical"])
        assert plant is not None, row
        assert not plant.regions or row["region"] in plant.regions, row
        assert plant in candidates(row["name"]) or plant.genus in {
            c.botanical for c in candidates(row["name"])
        }, row


def test_table_names_stand_in_the_reference_cities_of_their_region():
    # Urban Tree Database, species measured by city; the cities of the three parts of the US.
    cities = {
        "us-w": {"InlEmp", "InlVal", "NoCalC", "PacfNW", "SacVal", "SoCalC"},
        "us-s": {"CenFla", "GulfCo", "Piedmt", "SWDsrt"},
        "us-e": {"LoMidW", "MidWst", "NoEast"},
    }
    path = files("bolewalk.reference") / "data" / "utd_species.csv"
    rows = csv.DictReader(path.read_text(encoding="utf-8").splitlines())
    standing = {(r["region"], r["botanical"]) for r in rows}
    listed = files("bolewalk.walk") / "data" / "likely_species.csv"
    checked = 0
    for row in csv.DictReader(listed.read_text(encoding="utf-8").splitlines()):
        if row["basis"] == "table":
            assert any(
                c in cities[row["region"]] and b.removesuffix(" spp.").startswith(row["botanical"])
                for c, b in standing
            ), row
            checked += 1
    assert checked > 40


def test_a_missing_model_is_explained(tmp_path):
    with pytest.raises(SpeechModelError, match=f"--model or {MODEL_VARIABLE}.*CTranslate2"):
        find_model(environment={})
    with pytest.raises(SpeechModelError, match=r"is not a folder.*fetches nothing"):
        find_model(tmp_path / "none", environment={})
    for name in ("model.bin", "config.json"):
        (tmp_path / name).write_bytes(b"{}")
    # Without its own tokenizer the library would fetch one.
    with pytest.raises(SpeechModelError, match=r"lacks tokenizer.json, vocabulary.json or"):
        find_model(environment={MODEL_VARIABLE: str(tmp_path)})
    for name in ("tokenizer.json", "vocabulary.txt"):
        (tmp_path / name).write_bytes(b"{}")
    assert find_model(environment={MODEL_VARIABLE: f" {tmp_path} "}) == tmp_path
    assert find_model(tmp_path, environment={MODEL_VARIABLE: "elsewhere"}) == tmp_path


def test_a_damaged_model_is_explained(tmp_path):
    for name in ("model.bin", "config.json", "tokenizer.json", "vocabulary.json"):
        (tmp_path / name).write_bytes(b"{}")
    with pytest.raises(SpeechModelError, match="cannot be loaded"):
        load_recogniser(tmp_path)
