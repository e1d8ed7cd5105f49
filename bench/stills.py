"""Peak memory of cutting stills from a short and a long video.

    python bench/stills.py

Writes a video of moving noise (640 x 480, 10 frames a second) of two minutes and of twenty, cuts
twenty stills spread over each in a process of its own, and prints time and peak memory. Needs the
extra media.
"""

import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bolewalk.walk.cues import Cue
from bolewalk.walk.draft import draft
from bolewalk.walk.recordings import probe
from bolewalk.walk.stills import Footage, cut_stills
from tests.walk.sound import write_media

MINUTES, STILLS, PER_S = (2, 20), 20, 10
KINDS = ("red oak", "white ash", "sugar maple", "white pine", "river birch")


def pictures(minutes: int) -> Iterator[np.ndarray]:
    """Yield pictures that move, so that the video is not packed to nothing."""
    field = np.random.default_rng(7).integers(0, 256, (480, 640, 3), dtype=np.uint8)
    for k in range(minutes * 60 * PER_S):
        yield np.roll(field, k * 3, axis=1)


def cut(video: Path, minutes: int) -> None:
    """Cut the stills of one video and print what it took."""
    step = minutes * 60 / STILLS
    cues = [
        Cue(k * step, k * step + 4.0, f"Another {KINDS[k % len(KINDS)]}, {10 + k} inches.")
        for k in range(STILLS)
    ]
    found, _ = probe(video, file=video.name)
    assert found is not None
    start = time.perf_counter()
    stills, _ = cut_stills(draft(cues).trees, [Footage(found, 0.0)], out=video.parent / "out")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"{minutes} min: {len(stills)} stills, {time.perf_counter() - start:.0f} s, {peak:.0f} MB"
    )


def main() -> None:
    """Make the videos and run each in a process of its own."""
    if len(sys.argv) == 3:
        cut(Path(sys.argv[1]), int(sys.argv[2]))
        return
    with tempfile.TemporaryDirectory() as folder:
        for minutes in MINUTES:
            video = Path(folder) / f"{minutes}.mp4"
            write_media(video, pictures=pictures(minutes), per_s=PER_S)
            subprocess.run([sys.executable, __file__, str(video), str(minutes)], check=True)


if __name__ == "__main__":
    main()
