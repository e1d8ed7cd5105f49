"""Fifty kills of a running desk: `python bench/desk_kills.py [ROUNDS] [SEED]`.

Run from the top of the project; see tests/desk/kill_rounds.py. Prints the time it took as well.
"""

import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from tests.desk.kill_rounds import main

if __name__ == "__main__":
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 50
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    with tempfile.TemporaryDirectory() as folder:
        began = time.monotonic()
        code = main(rounds, seed, Path(folder) / "data")
        print(f"{time.monotonic() - began:.1f} s")
    sys.exit(code)
