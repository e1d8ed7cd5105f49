"""Run the fuzzing: python -m tests.fuzz.run [--minutes M | --runs N] [--target NAME ...].

A keeper starts a worker under limits and watches it. The worker writes each file down before it
reads it, so that a file which kills, hangs or fills memory is known afterwards; the keeper then
starts another worker. Findings are told once for each place they come from.
"""

import argparse
import faulthandler
import hashlib
import json
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, TextIO

if TYPE_CHECKING:
    from tests.fuzz.targets import Target

__all__ = ["Fuzzing", "fuzz", "fuzz_briefly"]

SECONDS_A_FILE = 10
"""Of the processor; a file of at most 60 kB that takes longer hangs."""
MEMORY_BYTES = 3 << 30
"""Address space of the worker with all its libraries; a reader gets about 2 GB of it."""
GROWTH_BYTES = 400 << 20
"""A file that makes the worker grow by more than this is a finding."""

GRACE_S = 900
"""For a worker to load its libraries on a machine that is busy with other things."""

Finding = dict[str, str]
Fuzzing = dict[str, object]


class _SlowError(Exception):
    pass


def fuzz(
    names: list[str], *, seconds: float, runs: int = 0, seed: int = 1, out: Path | None = None
) -> Fuzzing:
    """Fuzz the targets named, one after another, each for its share of the time.

    Parameters
    ----------
    names : list of str
    seconds : float
        For all of them.
    runs : int
        Instead of a time: files a target, always the same ones.
    seed : int
    out : Path, optional
        Folder that takes the files of the findings.

    Returns
    -------
    dict
        "runs" and "seconds" by target, "peak_bytes" of the largest worker, "findings".
    """
    from tests.fuzz.targets import TARGETS

    weights = sum(TARGETS[n].weight for n in names)
    done: dict[str, int] = {}
    took: dict[str, float] = {}
    peak = 0
    findings: list[Finding] = []
    known: set[str] = set()
    for name in names:
        left = seconds * TARGETS[name].weight / weights
        began, first, lives = time.monotonic(), 0, 0
        while lives < 100 and (first < runs if runs else time.monotonic() - began < left):
            rest = left - (time.monotonic() - began)
            told = _worker(name, seed, first, runs, rest)
            peak = max(peak, told["peak"])
            first, lives = told["next"], lives + 1
            for finding in told["findings"]:
                if finding["place"] not in known:
                    known.add(finding["place"])
                    findings.append(_kept(finding, out))
            if told["whole"]:
                break
        done[name], took[name] = first, round(time.monotonic() - began, 1)
        print(f"{name}: {first:,} files in {took[name]} s", file=sys.stderr, flush=True)
    return {"runs": done, "seconds": took, "peak_bytes": peak, "findings": findings}


def fuzz_briefly(runs: int) -> list[Finding]:
    """Feed every target a few files, always the same ones, in one worker; give the findings."""
    from tests.fuzz.targets import TARGETS

    return _worker(",".join(TARGETS), 1, 0, runs, 0)["findings"]


def _kept(finding: Finding, out: Path | None) -> Finding:
    if out is not None:
        out.mkdir(parents=True, exist_ok=True)
        data = bytes.fromhex(finding["bytes"])
        path = out / f"{finding['target']}-{hashlib.sha256(data).hexdigest()[:10]}"
        path.write_bytes(data)
        finding["file"] = str(path)
        print(f"  {finding['place']}: {finding['says'][:200]}", file=sys.stderr, flush=True)
    return finding


def _worker(name: str, seed: int, first: int, runs: int, seconds: float) -> dict[str, object]:
    """Run one worker to its end and give what it told, and what its death tells."""
    with tempfile.TemporaryDirectory(prefix="fuzz-") as made:
        # A process group of its own: nothing it starts outlives it.
        process = subprocess.Popen(
            [sys.executable, "-m", "tests.fuzz.run", "--worker", made, name, str(seed), str(first),
             str(runs), str(seconds)],
            env={**os.environ, "OPENBLAS_NUM_THREADS": "1"}, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        try:
            _, said = process.communicate(timeout=(seconds if not runs else 3600) + GRACE_S)
        except subprocess.TimeoutExpired:
            process.kill()
            _, said = process.communicate()
        if not Path(made, "file").exists():
            raise RuntimeError(f"the worker of {name} did not start:\n{said}")
        log = [json.loads(x) for x in Path(made, "log").read_text().splitlines() if x[-1:] == "}"]
        findings = [x for x in log if "place" in x]
        at = [int(x["at"]) for x in log if "at" in x]
        upto = int(Path(made, "n").read_text() or first) if Path(made, "n").exists() else first
        ended = any("end" in x for x in log)
        if not ended:
            data = Path(made, "file").read_bytes() if Path(made, "file").exists() else b""
            lines = [x.strip() for x in said.splitlines() if x.strip()]
            # The innermost place of ours, or of whatever was asked, in the dump of the dead.
            place = next((x for x in lines if "bolewalk" in x), lines[-1] if lines else "died")
            findings.append({
                "target": name, "place": f"{name} killed {process.returncode} {place}",
                "says": " | ".join(lines[:12]) or f"exit {process.returncode}", "bytes": data.hex(),
            })  # fmt: skip
            upto += 1
        peaks = [int(x["peak"]) for x in log if "peak" in x]
        return {"findings": findings, "next": upto, "whole": ended, "peak": max([0, *peaks]),
                "at": at}  # fmt: skip


def _work(folder: Path, names: str, seed: int, first: int, runs: int, seconds: float) -> None:
    """Feed one target, or several one after another from the first file on."""
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    signal.signal(signal.SIGPROF, _slow)
    with (folder / "log").open("a") as log, (folder / "n").open("w") as counter:
        n = first
        for name in names.split(","):
            n = _feed(folder, name, seed, first, runs, seconds, log, counter)
        print(json.dumps({"end": n, "peak": _peak()}), file=log, flush=True)


def _feed(
    folder: Path, name: str, seed: int, first: int, runs: int, seconds: float, log: TextIO,
    counter: TextIO,
) -> int:  # fmt: skip
    from tests.fuzz.mutate import mutated
    from tests.fuzz.targets import TARGETS

    target = TARGETS[name]
    seeds = target.seeds()
    began, n = time.monotonic(), first
    while n < runs if runs else time.monotonic() - began < seconds:
        # Each file hangs on its number alone: number 41 can be made again without 0 to 40.
        data = (
            seeds[n] if n < len(seeds)
            else mutated(seeds, random.Random(f"{name} {seed} {n}"), text=target.text)
        )  # fmt: skip
        _note(counter, n)
        before = _peak()
        finding = _tried(target, folder, data)
        grown = _peak() - before
        if finding is None and grown > GROWTH_BYTES and n > first:
            finding = (f"{name} memory", f"grew by {grown >> 20} MB")
        if finding is not None:
            told = {"target": name, "place": finding[0], "says": finding[1], "bytes": data.hex()}
            print(json.dumps(told), file=log, flush=True)
        n += 1
    _note(counter, n)
    return n


def _note(counter: TextIO, n: int) -> None:
    counter.seek(0)
    counter.write(str(n))
    counter.flush()


def _tried(target: "Target", folder: Path, data: bytes) -> tuple[str, str] | None:
    """Let a reader read a file; give the place and the words of what it raised."""
    path, scratch = folder / "file", folder / "scratch"
    path.write_bytes(data)
    scratch.mkdir()
    # Time of the processor, for a busy machine is no fault of the file. What sits in C and hears
    # no signal, or waits for ever, is ended by the clock.
    signal.setitimer(signal.ITIMER_PROF, SECONDS_A_FILE)
    faulthandler.dump_traceback_later(SECONDS_A_FILE * 10, exit=True)
    try:
        target.read(path, scratch)
    except (Exception, RecursionError, MemoryError) as e:
        return _place(e), f"{type(e).__name__}: {str(e)[:300]}"
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        faulthandler.cancel_dump_traceback_later()
        shutil.rmtree(scratch)
    return None


def _peak() -> int:
    """Give the most memory this process had in use [bytes].

    What getrusage tells begins with what the process that started this one had.
    """
    try:
        status = Path("/proc/self/status").read_text(encoding="ascii")
        return int(next(x for x in status.splitlines() if x.startswith("VmHWM")).split()[1]) * 1024
    except (OSError, StopIteration):
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


def _slow(_signal: int, _frame: FrameType | None) -> None:
    raise _SlowError(f"longer than {SECONDS_A_FILE} s")


def _place(error: BaseException) -> str:
    """Name the kind of an error and the innermost line of ours it passed."""
    frames = traceback.extract_tb(error.__traceback__)
    ours = [f for f in frames if "bolewalk" in f.filename and ".venv" not in f.filename] or frames
    f = ours[-1]
    slow = "slow" if isinstance(error, _SlowError) else type(error).__name__
    return f"{slow} in {Path(f.filename).name}:{f.lineno} {f.name}"


def _main() -> int:
    if sys.argv[1:2] == ["--worker"]:
        folder, name, seed, first, runs, seconds = sys.argv[2:]
        _work(Path(folder), name, int(seed), int(first), int(runs), float(seconds))
        return 0
    from tests.fuzz.targets import TARGETS

    parser = argparse.ArgumentParser(description="Feed every reader with damaged files.")
    parser.add_argument("--minutes", type=float, default=20.0, help="for all targets together")
    parser.add_argument("--runs", type=int, default=0, help="files a target, instead of a time")
    parser.add_argument(
        "--target", action="append", choices=sorted(TARGETS), help="may be repeated"
    )
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--out", type=Path, default=None, help="folder for the files of findings")
    asked = parser.parse_args()
    found = fuzz(
        asked.target or list(TARGETS), seconds=asked.minutes * 60, runs=asked.runs,
        seed=asked.seed, out=asked.out,
    )  # fmt: skip
    shown = {**found, "findings": [{k: v for k, v in f.items() if k != "bytes"}
                                   for f in found["findings"]]}  # fmt: skip
    print(json.dumps(shown, indent=1))
    return 1 if found["findings"] else 0


if __name__ == "__main__":
    sys.exit(_main())
