"""Kills at random moments: `python bench/kills.py store|desk [ROUNDS] [SEED]`.

`store`: a writer on SQLite, see tests/store/kill_rounds.py; `desk`: a running desk, see
tests/desk/kill_rounds.py. Fifty rounds where no number is given. Run from the top of the project;
prints the time it took as well.
"""

import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from tests.desk import kill_rounds as desk
from tests.store import kill_rounds as store

if __name__ == "__main__":
    run = {"store": store.main, "desk": desk.main}[sys.argv[1]]
    rounds = int(sys.argv[2]) if len(sys.argv) > 2 else 50
    seed = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    with tempfile.TemporaryDirectory() as folder:
        began = time.monotonic()
        code = run(rounds, seed, str(Path(folder, "data")))
        print(f"{time.monotonic() - began:.1f} s")
    sys.exit(code)
