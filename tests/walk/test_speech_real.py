"""Real sound through a real model: synthetic voices, noise, interruptions.

The small English model (Whisper tiny.en) of the extra `speech-test`; figures for a larger one
are in `docs/speech.md`.
"""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from bolewalk.cli import main
from bolewalk.walk.cues import read_walk
from bolewalk.walk.draft import draft
from bolewalk.walk.hints import likely_species
from bolewalk.walk.recogniser import load_recogniser
from bolewalk.walk.speech import partial_path, transcribe
from bolewalk.walk.transcript import sections_of
from tests.walk.sound import (
    RATE,
    music,
    quiet,
    say,
    tiny_model,
    white,
    wind,
    with_noise,
    word_error,
    write_media,
    write_wav,
)

SAID = (
    "We start at the gate. The coast live oak is 40 feet tall, and the trunk is 32 inches. "
    "Keep it. Next is a jacaranda with a cavity at the base. Remove the jacaranda. "
    "The liquidambar by the garage is 20 inches. Prune the liquidambar away from the roof. "
    "The crape myrtle belongs to the neighbor."
)
SPECIES = {
    "Quercus agrifolia", "Jacaranda mimosifolia", "Liquidambar styraciflua", "Lagerstroemia indica",
}  # fmt: skip


class Counting:
    """A recogniser that counts what it hears."""

    def __init__(self, inner):
        self.inner = inner
        self.identity, self.label = inner.identity, inner.label
        self.heard = []

    def speech_in(self, sound):
        return self.inner.speech_in(sound)

    def hear(self, sound):
        self.heard.append(sound.tobytes())
        return self.inner.hear(sound)


@pytest.fixture(scope="module")
def hinted():
    return load_recogniser(tiny_model(), hints=likely_species("us-w"))


@pytest.fixture(scope="module")
def plain():
    return load_recogniser(tiny_model())


@pytest.fixture(scope="module")
def spoken():
    return np.concatenate([quiet(2.0), say(SAID, "rms"), quiet(1.5)])


@pytest.fixture(scope="module")
def long_walk(tmp_path_factory):
    """Five stretches and more: the same words in two voices, twice."""
    parts = [x for v in ("rms", "slt", "rms", "slt") for x in (say(SAID, v), quiet(3.0))]
    return write_wav(tmp_path_factory.mktemp("long") / "walk.wav", np.concatenate(parts))


@pytest.fixture(scope="module")
def uninterrupted(long_walk, tmp_path_factory, hinted):
    """The transcript of a run nobody stopped, the pieces it heard and the progress it told."""
    out = tmp_path_factory.mktemp("whole") / "walk.vtt"
    counting = Counting(hinted)
    ticks = iter(range(0, 10_000, 10))
    told = []
    done = transcribe(
        [(long_walk, "walk.wav")], out=out, recogniser=counting,
        progress=told.append, clock=lambda: float(next(ticks)),
    )  # fmt: skip
    assert done.finished
    assert done.problems == ()
    return out.read_text(encoding="utf-8"), counting.heard, told


def take_down(sound, tmp_path, recogniser, name="walk.wav"):
    path = write_wav(tmp_path / name, sound)
    out = tmp_path / "walk.vtt"
    done = transcribe([(path, name)], out=out, recogniser=recogniser)
    cues, problems = read_walk([(out, "walk.vtt")])
    assert [p.value for p in problems] == ([] if cues else ["no words"])
    return done, cues, draft(cues)


def species(found):
    return {t.species.botanical for t in found.trees} & SPECIES


def test_clear_speech_is_taken_down(spoken, tmp_path, hinted):
    done, cues, found = take_down(spoken, tmp_path, hinted)
    assert done.problems == ()
    assert word_error(SAID, " ".join(c.text for c in cues)) <= 0.10
    assert species(found) == SPECIES
    decisions = {t.species.botanical: t.decision for t in found.trees}
    assert decisions["Jacaranda mimosifolia"] == "remove"
    # The words stand where they are spoken: nothing before 2 s, the last 1.5 s before the end.
    assert cues[0].start_s == pytest.approx(2.0, abs=0.5)
    assert cues[-1].end_s == pytest.approx(len(spoken) / RATE - 1.5, abs=0.7)


def test_the_list_of_names_helps(spoken, tmp_path, hinted, plain):
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    _, _, with_list = take_down(spoken, tmp_path / "a", hinted)
    _, _, without = take_down(spoken, tmp_path / "b", plain)
    assert len(species(with_list)) > len(species(without))


def test_speech_in_the_wind(spoken, tmp_path, hinted):
    windy = with_noise(spoken, wind(len(spoken) / RATE, seed=3), snr_db=10)
    _, cues, found = take_down(windy, tmp_path, hinted)
    assert word_error(SAID, " ".join(c.text for c in cues)) <= 0.20
    assert len(species(found)) >= 3


@pytest.mark.parametrize(
    ("name", "sound", "told"),
    [
        ("silence", quiet(60), "silence from start to end"),
        ("noise", white(60, seed=1), "no speech was heard"),
        ("loud noise", white(60, seed=2, level=0.3), "no speech was heard"),
        ("wind", wind(60, seed=3), "no speech was heard"),
        ("music", music(60), "no speech was heard"),
    ],
    ids=lambda x: x if isinstance(x, str) else "",
)
def test_no_species_are_invented(name, sound, told, tmp_path, hinted):
    done, cues, found = take_down(sound, tmp_path, hinted, name=f"{name}.wav")
    assert done.finished
    assert cues == ()
    assert (found.trees, found.plantings, found.unplaced, found.hazards) == ((), (), (), ())
    assert [(p.value, p.level) for p in done.problems] == [(told, "fault")]
    text = (tmp_path / "walk.vtt").read_text(encoding="utf-8")
    assert text.startswith("WEBVTT\n")
    assert "-->" not in text


def test_without_the_filter_noise_would_name_species(hinted):
    # The danger the filter is there for, else the test above would show nothing.
    segments, _ = hinted._model.transcribe(
        white(30, seed=1), language="en", hotwords=", ".join(likely_species("us-w")),
        vad_filter=False, condition_on_previous_text=False, temperature=0.0,
        no_speech_threshold=None,
    )  # fmt: skip
    assert "ginkgo" in " ".join(s.text for s in segments).lower()


def test_cancel_and_go_on_hears_nothing_twice(long_walk, uninterrupted, tmp_path, hinted):
    out = tmp_path / "walk.vtt"
    counting = Counting(hinted)
    runs = 0
    while True:
        runs += 1
        before = len(counting.heard)
        done = transcribe(
            [(long_walk, "walk.wav")], out=out, recogniser=counting,
            cancelled=lambda before=before: len(counting.heard) > before,
        )  # fmt: skip
        if done.finished:
            break
        assert not out.exists()
        assert partial_path(out).exists()
        assert runs < 20
    assert runs >= 4
    assert counting.heard == uninterrupted[1]
    assert out.read_text(encoding="utf-8") == uninterrupted[0]
    assert not partial_path(out).exists()
    assert done.resumed_s > 0


_RUN = """
import sys
from pathlib import Path
from bolewalk.walk.hints import likely_species
from bolewalk.walk.recogniser import load_recogniser
from bolewalk.walk.speech import transcribe
r = load_recogniser(Path(sys.argv[1]), hints=likely_species("us-w"))
transcribe([(Path(sys.argv[2]), "walk.wav")], out=Path(sys.argv[3]), recogniser=r)
"""


def test_killed_in_the_middle_then_resumed(long_walk, uninterrupted, tmp_path, hinted):
    out = tmp_path / "walk.vtt"
    partial = partial_path(out)
    process = subprocess.Popen(
        [sys.executable, "-c", _RUN, str(tiny_model()), str(long_walk), str(out)]
    )
    deadline = time.monotonic() + 60
    while not (partial.exists() and partial.read_bytes().count(b"\n") >= 3):
        assert process.poll() is None, "it ended before it could be killed"
        assert time.monotonic() < deadline
        time.sleep(0.01)
    os.kill(process.pid, signal.SIGKILL)
    process.wait()
    assert not out.exists()
    # The worst moment: half a line was written.
    whole = partial.read_bytes()
    partial.write_bytes(whole + b'{"recording": 0, "start": 99')
    counting = Counting(hinted)
    done = transcribe([(long_walk, "walk.wav")], out=out, recogniser=counting)
    assert out.read_text(encoding="utf-8") == uninterrupted[0]
    finished = [json.loads(line) for line in whole.splitlines()[1:] if line]
    assert done.resumed_s == pytest.approx(finished[-1]["end"] / RATE)
    # What the killed run had finished is not heard again, the rest is.
    assert counting.heard
    before = len(uninterrupted[1]) - len(counting.heard)
    assert before > 0
    assert counting.heard == uninterrupted[1][before:]


def test_stretches_of_other_settings_are_not_taken_over(long_walk, tmp_path, hinted, plain):
    out = tmp_path / "walk.vtt"
    counting = Counting(plain)
    transcribe(
        [(long_walk, "walk.wav")], out=out, recogniser=counting,
        cancelled=lambda: len(counting.heard) > 0,
    )  # fmt: skip
    done = transcribe(
        [(long_walk, "walk.wav")], out=out, recogniser=hinted, cancelled=lambda: True
    )  # fmt: skip
    assert done.resumed_s == 0
    assert [p.level for p in done.problems] == ["notice"]
    assert "begun anew" in done.problems[0].expected


def test_progress_tells_the_time_left(uninterrupted):
    told = uninterrupted[2]
    assert [p.done_s for p in told] == sorted(p.done_s for p in told)
    assert told[-1].done_s == pytest.approx(told[-1].total_s, abs=0.5)
    # The clock moves 10 s a stretch: pace so far times what is left.
    first = told[0]
    assert first.left_s == pytest.approx(10 / first.done_s * (first.total_s - first.done_s))
    assert told[-1].left_s == pytest.approx(0, abs=2)


def test_several_recordings_share_one_time_line(tmp_path, hinted):
    one = write_media(tmp_path / "1.m4a", sound=say("The coast live oak stays.", "rms"))
    silent = write_wav(tmp_path / "2.wav", quiet(10.0))
    three = write_media(
        tmp_path / "3.mp3", sound=say("Remove the jacaranda.", "slt"), codec="libmp3lame"
    )
    out = tmp_path / "walk.vtt"
    done = transcribe([(p, p.name) for p in (one, silent, three)], out=out, recogniser=hinted)
    assert [(p.file, p.value) for p in done.problems] == [("2.wav", "silence from start to end")]
    first, second, third = sections_of(out.read_text(encoding="utf-8"))
    assert second.start_s == pytest.approx(first.duration_s, abs=0.002)
    assert third.start_s == pytest.approx(first.duration_s + 10.0, abs=0.002)
    cues, _ = read_walk([(out, "walk.vtt")])
    assert cues[0].end_s <= first.duration_s
    assert cues[-1].start_s >= third.start_s
    assert [t.species.botanical for t in draft(cues).trees] == [
        "Quercus agrifolia", "Jacaranda mimosifolia",
    ]  # fmt: skip


def run(*arguments):
    return CliRunner().invoke(main, [str(a) for a in arguments])


def test_the_command_line_from_recording_to_draft(spoken, tmp_path, monkeypatch):
    monkeypatch.setenv("BOLEWALK_SPEECH_MODEL", str(tiny_model()))
    walk = write_media(tmp_path / "walk.m4a", sound=spoken)
    result = run("draft", walk, "--region", "us-w", "--out", tmp_path / "draft.json")
    assert result.exit_code == 0, result.output
    assert "transcript:" in result.stderr
    found = json.loads((tmp_path / "draft.json").read_text(encoding="utf-8"))
    assert {t["species"]["botanical"] for t in found["trees"]} >= SPECIES
    # Corrected by hand, the transcript is what counts, and is not written over.
    transcript = tmp_path / "walk.vtt"
    text = transcript.read_text(encoding="utf-8")
    transcript.write_text("WEBVTT\n\n00:01.000 --> 00:02.000\nThe beech stays.\n", "utf-8")
    monkeypatch.delenv("BOLEWALK_SPEECH_MODEL")
    result = run("draft", walk)
    assert result.exit_code == 0
    assert "Fagus" in result.stdout
    result = run("transcribe", walk)
    assert result.exit_code == 2
    assert "--replace" in result.stderr
    result = run("transcribe", walk, "--replace")
    assert result.exit_code == 2
    assert "BOLEWALK_SPEECH_MODEL" in result.stderr
    result = run("transcribe", walk, "--replace", "--region", "us-w", "--model", tiny_model())
    assert result.exit_code == 0, result.output
    assert "listening:" in result.stderr
    assert transcript.read_text(encoding="utf-8") == text


def test_the_command_line_tells_what_it_cannot_use(tmp_path, monkeypatch):
    monkeypatch.setenv("BOLEWALK_SPEECH_MODEL", str(tiny_model()))
    bad = tmp_path / "bad.mp4"
    bad.write_bytes(np.random.default_rng(1).bytes(3000))
    result = run("draft", bad, "--out", tmp_path / "d.json", "--json")
    assert result.exit_code == 1
    problems = json.loads(result.stdout)
    assert [(p["file"], p["level"]) for p in problems] == [("bad.mp4", "fault")]
    assert json.loads((tmp_path / "d.json").read_text(encoding="utf-8"))["trees"] == []
    # Nothing was taken down, so the next run must not find a transcript.
    assert not (tmp_path / "bad.vtt").exists()
    still = write_wav(tmp_path / "still.wav", quiet(20.0))
    assert run("transcribe", still, "--out", tmp_path / "s.vtt").exit_code == 1
    assert run("transcribe", tmp_path / "none.wav").exit_code == 2
    assert run("transcribe", still, "--region", "moon").exit_code == 2
    # Two recordings of one name would share a transcript.
    write_media(tmp_path / "still.mp3", sound=quiet(1.0), codec="libmp3lame")
    assert run("transcribe", still, Path(tmp_path / "still.mp3")).exit_code == 2
