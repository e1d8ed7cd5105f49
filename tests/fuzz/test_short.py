"""The short form of the fuzzing; the long one is `./scripts/long fuzz`."""

import random
from pathlib import Path

import pytest

from tests.fuzz import run
from tests.fuzz.mutate import mutated
from tests.fuzz.run import fuzz, fuzz_briefly
from tests.fuzz.targets import CORPUS, TARGETS, Target


def test_every_reader_takes_its_corpus_and_some_damage() -> None:
    assert [f"{f['target']}: {f['place']}: {f['says']}" for f in fuzz_briefly(14)] == []


def test_every_target_has_a_small_corpus() -> None:
    assert sorted(p.name for p in CORPUS.iterdir()) == sorted(TARGETS)
    assert sum(p.stat().st_size for p in CORPUS.rglob("*") if p.is_file()) < 300_000


@pytest.mark.parametrize("name", ["trees", "zip"])
def test_damage_is_the_same_for_the_same_number_and_not_for_another(name: str) -> None:
    seeds, text = TARGETS[name].seeds(), TARGETS[name].text
    one, again, other = (mutated(seeds, random.Random(f"{n}"), text=text) for n in (1, 1, 2))
    assert one == again
    assert one not in (other, *seeds)


@pytest.mark.parametrize(
    ("deed", "place"),
    [
        ("raise LookupError('x')", "LookupError in"),
        ("while True: pass", "slow in"),
        ("import ctypes; ctypes.string_at(0)", "killed -11"),
        ("bytearray(4 << 30)", "MemoryError in"),
        ("x = bytearray(b'1' * (60 << 20))", "memory"),
    ],
)
def test_the_keeper_sees_what_goes_wrong(
    deed: str, place: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On a reader that is made to go wrong, in a real worker, from its third file on."""
    made = tmp_path / "tests" / "fuzz"
    made.mkdir(parents=True)
    (made.parent / "__init__.py").touch()
    here = Path(run.__file__)
    (made / "__init__.py").touch()
    (made / "mutate.py").write_bytes(here.with_name("mutate.py").read_bytes())
    text = here.read_text().replace("SECONDS_A_FILE = 10", "SECONDS_A_FILE = 2")
    (made / "run.py").write_text(text.replace("= 400 << 20", "= 40 << 20"))
    (made / "targets.py").write_text(
        "from types import SimpleNamespace\n"
        "def read(path, scratch):\n"
        "    if path.read_bytes() == b'third':\n"
        f"        {deed}\n"
        "seeds = [b'one', b'two', b'third', b'four']\n"
        "TARGETS = {'t': SimpleNamespace(seeds=lambda: seeds, text=True, read=read)}\n"
    )
    monkeypatch.chdir(tmp_path)
    monkeypatch.setitem(TARGETS, "t", Target("t", lambda *_: None))
    found = fuzz(["t"], seconds=60, runs=5)
    (finding,) = found["findings"]
    assert place in finding["place"]
    assert bytes.fromhex(finding["bytes"]) == b"third"
    assert found["runs"] == {"t": 5}
