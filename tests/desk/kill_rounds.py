"""A running desk killed again and again at random moments; nothing it confirmed may go.

    python -m tests.desk.kill_rounds ROUNDS SEED DATA [LONGEST_S]

Each round starts `bolewalk desk` on the data folder, works at it from three threads (edits, files
sent in pieces, papers and issues asked for), kills it with SIGKILL at a seeded random moment, half
the time with the processes it has begun and half the time without, and checks the store it leaves.
After the last round the desk is started once more and must finish everything. Prints a summary;
exits 1 at the first loss.
"""

import hashlib
import http.client
import io
import json
import os
import random
import re
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path
from urllib.parse import urlencode

from PIL import Image

from bolewalk.demo import survey_folder
from bolewalk.store.checking import verify
from bolewalk.store.issues import list_issues
from bolewalk.store.store import Store
from tests.desk.conftest import WHEN

PIECE = 150_000
_SMALL = io.BytesIO()
Image.new("RGB", (8, 8)).save(_SMALL, "JPEG")
PHOTO = _SMALL.getvalue()
PATIENCE_S = 600.0
FILES_WAITING = 4


class Desk:
    """A running desk, and what it confirmed."""

    def __init__(self, data):
        command = [sys.executable, "-m", "bolewalk", "desk", "--data", str(data), "--port", "0"]
        self.process = subprocess.Popen(
            command, stdout=subprocess.PIPE, text=True, start_new_session=True
        )
        for line in self.process.stdout:
            if match := re.match(r"desk: http://([\w.]+):(\d+)", line):
                self.host, self.port = match[1], int(match[2])
                break
        else:
            raise AssertionError("the desk ended by itself")

    def ask(self, method, path, body=None, kind="application/x-www-form-urlencoded"):
        """Send a request; give status and body."""
        line = http.client.HTTPConnection(self.host, self.port, timeout=60)
        try:
            line.request(method, path, body, {} if body is None else {"content-type": kind})
            answer = line.getresponse()
            return answer.status, answer.read()
        finally:
            line.close()

    def json(self, method, path, told=None):
        raw = None if told is None else json.dumps(told).encode()
        status, body = self.ask(method, path, raw, "application/json")
        return status, json.loads(body)

    def kill(self, *, with_its_own):
        """Kill it; wait until nothing of it is left."""
        if with_its_own:
            os.killpg(self.process.pid, signal.SIGKILL)
        else:
            self.process.kill()
        self.process.wait()
        self.process.stdout.close()
        end = time.monotonic() + 30
        while left := session(self.process.pid):
            assert time.monotonic() < end, f"processes go on without their desk: {left}"
            time.sleep(0.05)


def session(leader):
    """Give the processes of a session that still run."""
    found = []
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(fields[3]) == leader and fields[0] != "Z":
            found.append(int(stat.parent.name))
    return found


def working(desk, over, job):
    """Run one kind of work until the desk is gone."""
    try:
        while not over.is_set():
            job(desk)
    except (OSError, http.client.HTTPException):
        # The desk was killed in the middle of this: nothing was confirmed.
        pass


class Work:
    """What is done at the desk, and what it has confirmed so far."""

    def __init__(self, chance):
        # One a thread: what one does must not depend on how far another is.
        self.sizes, self.turns = (random.Random(chance.random()) for _ in range(2))
        self.n = 0
        self.rows, self.placed, self.asked, self.issues, self.files = [], [], [], [], {}
        self.sending = None
        self.at = 0
        self.unanswered, self.again = None, 0

    def edit(self, desk):
        """Add a row, then place it: both coordinates or none."""
        if self.unanswered is None:
            self.n += 1
            self.unanswered = f"K{self.n}"
        else:
            self.again += 1
        name = self.unanswered
        # Sent again under the id it had when the desk was killed.
        told = {"tree": name, "species": "Quercus rubra", "send": f"row-{name}"}
        status, body = desk.ask("POST", "/surveys/1/trees/rows", urlencode(told))
        assert status == 303, (status, body)
        self.unanswered = None
        self.rows.append(name)
        plan = desk.json("GET", "/api/surveys/1/plan")[1]
        version = next(t["version"] for t in plan["trees"] if t["id"] == name)
        told = {"at": [self.n, self.n], "version": version}
        status, answer = desk.json("PUT", f"/api/surveys/1/trees/{name}/place", told)
        assert status == 200, answer
        self.placed.append(name)

    def send(self, desk):
        """Send a file in pieces; one that was broken off goes on where the desk says."""
        if self.sending is None:
            raw = PHOTO + self.sizes.randbytes(self.sizes.randint(1, 700_000))
            self.sending, self.at = (f"photo{len(self.files)}.jpg", raw), 0
        name, raw = self.sending
        told = {"name": name, "size": len(raw), "stamp": name}
        while len(desk.json("GET", "/api/surveys/1/arrivals")[1]["arrivals"]) > FILES_WAITING:
            time.sleep(0.2)
        status, begun = desk.json("POST", "/api/surveys/1/arrivals", told)
        assert status == 200, begun
        assert begun["at"] >= self.at, f"{name}: {self.at} bytes were confirmed, {begun['at']} kept"
        while begun["task"] is None:
            at = begun["at"]
            status, body = desk.ask(
                "PUT", f"/api/surveys/1/arrivals/{begun['id']}?at={at}", raw[at : at + PIECE],
                "application/octet-stream",
            )  # fmt: skip
            begun = json.loads(body)
            assert status == 200, begun
            self.at = begun["at"]
        # From here on the desk has it, whatever happens.
        self.files[name] = hashlib.sha256(raw).hexdigest()
        self.sending = None

    def ask_for_papers(self, desk):
        """Ask for papers, and now and then for an issue."""
        if self.turns.random() < 0.25:
            title = f"Issue of round {len(self.issues)}"
            status, _ = desk.ask("POST", "/surveys/1/issues", urlencode({"title": title}))
            assert status == 303
            self.issues.append(title)
        else:
            status, _ = desk.ask("POST", "/surveys/1/papers/make", b"")
            assert status == 303
        self.asked.append(status)
        time.sleep(3)


def losses(data, work, *, at_the_end):
    """Give what is wrong with the store after a kill, in words."""
    with Store.open(data) as store:
        wrong = list(verify(store))
        stored = store.load(1)
        rows = {}
        for item in stored.of("tree"):
            rows.setdefault(item.body["cells"]["tree"], []).append(item.body["cells"])
        wrong += [f"lost: row {name}" for name in work.rows if name not in rows]
        wrong += [f"lost: place of {n}" for n in work.placed if not rows[n][0].get("x")]
        for name, found in rows.items():
            if len(found) > 1:
                wrong.append(f"twice: row {name}")
            if name.startswith("K") and found[0].get("x", "") != found[0].get("y", ""):
                wrong.append(f"half a change: {found[0]}")
        if at_the_end:
            kept = {i.key: i.body["sha256"] for i in stored.of("file")}
            hashes = list(kept.values())
            for name, sha256 in work.files.items():
                if hashes.count(sha256) != 1:
                    wrong.append(f"{name}: {hashes.count(sha256)} times in the survey")
            titles = [i.title for i in list_issues(store, 1)]
            # Asked for again while the same waits, an issue is not made twice.
            if len(set(titles)) != len(titles) or not set(titles) <= set(work.issues):
                wrong.append(f"issues {titles} of {work.issues}")
            if work.issues and not titles:
                wrong.append("no issue was made")
    return wrong


def leftovers(data):
    """Give files that are in nobody's way and should not be there."""
    found = [*data.glob("media/incoming/*"), *data.glob("desk/incoming/*")]
    found += data.glob("desk/*/*/*/making-*")
    found += [p for p in data.glob("desk/tasks/*") if p.suffix != ".json"]
    return [str(p.relative_to(data)) for p in found]


def finish(data):
    """Start the desk once more and wait until it has done everything; give what failed."""
    desk = Desk(data)
    try:
        last_open, end = None, 0.0
        while True:
            tasks = [json.loads(p.read_text()) for p in data.glob("desk/tasks/*.json")]
            still_open = {t["id"] for t in tasks if t["state"] in ("waiting", "running")}
            if not still_open:
                break
            if still_open != last_open:
                # Every task has its own time: how many are left is chance.
                last_open, end = still_open, time.monotonic() + PATIENCE_S
            assert time.monotonic() < end, "the desk does not come to an end"
            time.sleep(0.5)
        return [t["says"] for t in tasks if t["state"] == "failed"]
    finally:
        desk.kill(with_its_own=True)


def main(rounds, seed, where, longest_s=8.0):
    """Run; give the exit code."""
    data = Path(where)
    with Store.open(data) as store:
        store.import_folder(survey_folder(), who="Ada", when=WHEN)
    chance = random.Random(seed)
    work = Work(chance)
    half_done = 0
    for n in range(rounds):
        desk = Desk(data)
        over = threading.Event()
        threads = [
            threading.Thread(target=working, args=(desk, over, job))
            for job in (work.edit, work.send, work.ask_for_papers)
        ]
        for t in threads:
            t.start()
        time.sleep(chance.uniform(0.0, longest_s))
        over.set()
        desk.kill(with_its_own=chance.random() < 0.5)
        for t in threads:
            t.join()
        half_done += bool(leftovers(data))
        wrong = losses(data, work, at_the_end=False)
        if wrong:
            print(json.dumps({"round": n, "wrong": wrong}))
            return 1
    failed = finish(data)
    if work.sending is not None:
        # Half a file is no confirmed one: it waits for whoever sends it.
        for path in data.glob("desk/incoming/*"):
            path.unlink()
    wrong = losses(data, work, at_the_end=True) + failed + leftovers(data)
    if wrong:
        print(json.dumps({"at the end": wrong}))
        return 1
    told = {
        "rounds": rounds, "rows": len(work.rows), "files": len(work.files),
        "papers_and_issues_asked": len(work.asked), "killed_in_the_middle": half_done,
        "rows_sent_again": work.again,
    }  # fmt: skip
    print(json.dumps(told))
    return 0


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]), int(sys.argv[2]), sys.argv[3], *map(float, sys.argv[4:])))
