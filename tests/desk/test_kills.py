"""A desk killed at random moments: nothing confirmed is lost, and what was begun is finished.

bench/kills.py runs the same for fifty rounds.
"""

import json
import subprocess
import sys
from pathlib import Path

ROUNDS = 2
LONGEST_S = 4.0


def test_no_confirmed_change_is_lost(tmp_path: Path) -> None:
    done = subprocess.run(
        [
            sys.executable, "-W", "error", "-m", "tests.desk.kill_rounds",
            str(ROUNDS), "20261112", str(tmp_path / "data"), str(LONGEST_S),
        ],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    summary = json.loads(done.stdout)
    assert summary["rounds"] == ROUNDS
    # Rounds that confirmed nothing would prove nothing.
    assert summary["rows"] + summary["files"] > ROUNDS
