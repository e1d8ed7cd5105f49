"""Sound decoded in a process of its own: the same as decoded here, within limits, whatever breaks.

The other readers apart are tested in `test_uploads.py`.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from bolewalk.desk.apart import worker
from bolewalk.desk.apart.limits import limits
from bolewalk.desk.apart.sound import SoundApart, probe_apart
from bolewalk.walk.recordings import Recording, Sound, probe
from tests.desk import breaking
from tests.walk.sound import RATE, music, quiet, write_media, write_wav

from .test_stills import film


@pytest.fixture(scope="module")
def tune(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("tune") / "tune.m4a"
    return write_media(path, sound=music(10.0))


def recording(path: Path) -> Recording:
    found, problems = probe_apart(path, file=path.name)
    assert problems == ()
    assert found is not None
    return found


def test_it_is_the_sound_decoded_here(tune: Path) -> None:
    assert (recording(tune), ()) == probe(tune, file="tune.m4a")
    here, apart = Sound(recording(tune)), SoundApart(recording(tune))
    for a, b in zip(here, apart, strict=True):
        assert np.array_equal(a, b)
    assert apart.samples == here.samples > 9 * RATE
    assert apart.peak == here.peak > 0.1
    assert apart.heard_s == here.heard_s
    assert apart.problems() == here.problems() == ()


def test_it_tells_what_the_reader_here_tells(tmp_path: Path) -> None:
    still = write_wav(tmp_path / "still.wav", quiet(3.0))
    here, apart = Sound(recording(still)), SoundApart(recording(still))
    assert list(map(len, here)) == list(map(len, apart))
    assert apart.problems() == here.problems() != ()
    torn = tmp_path / "torn.mp4"
    torn.write_bytes(b"\0\0\0\x18ftypmp42" + bytes(2000))
    assert probe_apart(torn, file="torn.mp4") == probe(torn, file="torn.mp4")
    assert probe_apart(torn, file="torn.mp4")[0] is None
    silent = tmp_path / "film.mp4"
    silent.write_bytes(film())
    assert probe_apart(silent, file="film.mp4") == probe(silent, file="film.mp4")
    assert not probe_apart(silent, file="film.mp4")[0].has_audio  # type: ignore[union-attr]


def test_it_is_not_listened_to_beyond_the_longest(tune: Path) -> None:
    sound = SoundApart(recording(tune), hours=5 / 3600)
    assert sum(map(len, sound)) <= 5 * RATE
    assert sound.heard_s > 3
    assert [p.value for p in sound.problems()] == ["sound of more than 0.00138889 hours"]


def test_nobody_listening_on_ends_the_process(tune: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    begun = []
    begin = worker.begin
    monkeypatch.setattr(
        "bolewalk.desk.apart.sound.begin", lambda: begun.append(begin()) or begun[-1]
    )
    blocks = iter(SoundApart(recording(tune)))
    next(blocks)
    assert begun[0].poll() is None
    del blocks
    assert begun[0].poll() is not None


def test_processor_time_is_limited(tune: Path) -> None:
    sound = SoundApart(recording(tune), within=replace(limits().sound, cpu_s=0))
    assert list(sound) == []
    assert [p.value for p in sound.problems()] == ["not read after 0 seconds"]


@pytest.mark.parametrize(
    ("way", "blocks", "says"),
    [
        ("segfault", 0, "the reader broke off: exit -11"),
        ("abort", 0, "the reader broke off: exit -6"),
        ("raise", 0, "the reader broke off: LookupError: a bug"),
        ("half", 0, "the reader broke off: exit 0"),
        ("lies", 0, "the reader broke off: exit 0"),
        # Two good blocks, then neither sound nor an answer; every value within bounds.
        ("noise", 2, "the reader broke off: exit 0"),
        ("hang", 1, "not read after 2 seconds"),
        ("flood", 0, "the reader broke off: exit -9"),
        ("chatter", 0, "the reader broke off: exit -9"),
    ],
)
def test_a_reader_that_breaks_is_told(
    tune: Path, monkeypatch: pytest.MonkeyPatch, way: str, blocks: int, says: str
) -> None:
    found = recording(tune)
    monkeypatch.setattr(worker, "_INSIDE", breaking.__name__)
    monkeypatch.setenv("PYTHONPATH", str(Path(__file__).parents[2]))
    within = replace(limits().sound, clock_s=2.0, answer_bytes=100_000)
    sound = SoundApart(replace(found, name=way), within=within)
    given = list(sound)
    assert len(given) == blocks
    assert all(np.abs(b).max() <= 1 for b in given)
    assert [p.value for p in sound.problems()] == [says]
