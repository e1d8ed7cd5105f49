"""A store whose writer is killed again and again at random moments; nothing confirmed may go.

    python -m tests.store.kill_rounds ROUNDS SEED WHERE [MEDIA]

Each round forks a writer, kills it with SIGKILL at a seeded random moment, opens the store again
and checks it. What the writer confirmed comes through a pipe: a line is written only after the
store's method has returned. Prints a summary; exits 1 at the first loss.
"""

import io
import json
import os
import random
import select
import signal
import sys
import time
from datetime import UTC, date, datetime
from pathlib import Path

from bolewalk.store.checking import verify
from bolewalk.store.edits import new_tree, set_cells
from bolewalk.store.issues import list_issues, seal
from bolewalk.store.items import Applied, Edit
from bolewalk.store.store import Store

WHEN = datetime(2026, 5, 12, tzinfo=UTC)


def write(place, round_number, papers, out):
    """Write to the store without end, and tell each thing that was confirmed."""

    def tell(*words):
        os.write(out, (" ".join(map(str, words)) + "\n").encode())

    store = Store.open(**place)
    if not store.surveys():
        store.create_survey(
            "Kestrel Heights", visited=date(2026, 5, 12), units="metric", who="Ada", when=WHEN
        )
    if store.load(1).tree("T1") is None:
        store.change(1, [new_tree({"tree": "T1", "height": "0"})], who="Ada", when=WHEN)
    tell("ready")
    n = 0
    while True:
        n += 1
        name = f"{round_number}.{n}"
        # Two items in one change: both or neither.
        edits = [
            Edit("note", "", {"text": name}),
            set_cells(store.load(1).tree("T1"), {"notes": name}),
        ]
        assert isinstance(store.change(1, edits, who="Ada", when=WHEN), Applied)
        tell("note", name)
        if n % 3 == 0:
            body = random.Random(name).randbytes(200_000)
            medium = store.put_media(io.BytesIO(body), when=WHEN)
            tell("media", medium.sha256)
            file = Edit("file", f"{name}.bin", {"sha256": medium.sha256, "size": medium.size})
            assert isinstance(store.change(1, [file], who="Ada", when=WHEN), Applied)
            tell("file", f"{name}.bin")
        if n % 7 == 0:
            revision = store.load(1).revision
            issue = seal(store, 1, papers, revision=revision, title=name, who="Ada", when=WHEN)
            tell("issue", issue.number, issue.sha256)


def killed_after(place, round_number, papers, wait_s, from_start):
    """Give what a writer confirmed before it was killed."""
    back, out = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(back)
        try:
            write(place, round_number, papers, out)
        finally:
            os._exit(99)
    os.close(out)
    said = b""
    if not from_start:
        while b"ready\n" not in said:
            piece = os.read(back, 4096)
            assert piece, "the writer ended by itself"
            said += piece
    end = time.monotonic() + wait_s
    while (left := end - time.monotonic()) > 0:
        if select.select([back], [], [], left)[0]:
            said += os.read(back, 4096)
    os.kill(child, signal.SIGKILL)
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == -signal.SIGKILL
    while piece := os.read(back, 4096):
        said += piece
    os.close(back)
    return [line.split() for line in said.decode().splitlines() if line != "ready"]


def losses(place, confirmed):
    """Give what is wrong with the store after a kill, in words."""
    with Store.open(**place) as store:
        wrong = list(verify(store))
        if not store.surveys():
            return wrong + [f"lost: {c}" for c in confirmed]
        now = store.load(1)
        notes = [i.body["text"] for i in now.of("note")]
        there = {("note", text) for text in notes}
        there |= {("file", i.key) for i in now.of("file")}
        there |= {("media", sha256) for sha256 in store.files.names()}
        there |= {("issue", i.number, i.sha256) for i in list_issues(store, 1)}
        wrong += [f"lost: {c}" for c in confirmed if tuple(c) not in there]
        if notes and now.tree("T1").body["cells"]["notes"] != notes[-1]:
            wrong.append(f"half a change: {notes[-1]} without its tree")
        if len(notes) != len(set(notes)):
            wrong.append("a note twice")
        return wrong


def main(rounds, seed, where, media=None):
    """Run; give the exit code."""
    place = {"where": where, "media": None if media is None else Path(media)}
    papers = Path(media or where, "papers-to-issue")
    papers.mkdir(parents=True)
    (papers / "report.pdf").write_bytes(b"%PDF")
    chance = random.Random(seed)
    confirmed = []
    empty = 0
    for n in range(rounds):
        # One in five is killed while it opens the store; the first while it makes the schema.
        from_start = n % 5 == 0
        wait_s = chance.uniform(0.0, 0.3 if from_start else 0.4)
        new = killed_after(place, n, papers, wait_s, from_start)
        empty += not new
        confirmed += new
        wrong = losses(place, confirmed)
        if wrong:
            print(json.dumps({"round": n, "wrong": wrong}))
            return 1
    print(json.dumps({"rounds": rounds, "confirmed": len(confirmed), "rounds_without": empty}))
    return 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]), int(sys.argv[2]), *sys.argv[3:]))
