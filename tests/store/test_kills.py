"""SIGKILL at random moments: no confirmed change lost, no half change, integrity whole.

bench/kills.py runs the same for fifty rounds.
"""

import json
import subprocess
import sys

ROUNDS = 6


def test_no_confirmed_change_is_lost(fresh_place):
    arguments = [
        str(a) for a in (ROUNDS, 20260512, fresh_place["where"], fresh_place.get("media")) if a
    ]
    done = subprocess.run(
        [sys.executable, "-W", "error", "-m", "tests.store.kill_rounds", *arguments],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    summary = json.loads(done.stdout)
    assert summary["rounds"] == ROUNDS
    # Rounds that confirmed nothing would prove nothing.
    assert summary["confirmed"] > ROUNDS
