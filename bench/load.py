"""Fifty people at one desk, editing and reading, signed in, on loopback: SQLite, then PostgreSQL.

    python bench/load.py [--seconds 300] [--people 50] [--think 5]
        [--database sqlite|postgresql|both]

Each person works in one of ten surveys as people do: looks at a sheet, thinks some seconds, moves
a pile, changes a row of the table. Five share a survey, so that rows are changed by two at once:
that is a conflict, told and counted, not an error. Prints JSON: milliseconds by kind of request at
the median and the 95th percentile, errors, memory of the desk over time.
"""

import argparse
import json
import os
import random
import re
import shutil
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import httpx2

sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.desk import survey
from bolewalk.store.accounts import add_account
from bolewalk.store.store import Store

SURVEYS = 10
THINK_S = 5.0
"""Mean of the time between two things one person does; --think gives another."""

PASSWORD = "seven mossy fence posts"
SHEETS = ("site", "trees", "papers", "price", "trees/T5")


@contextmanager
def postgres() -> Iterator[str]:
    """Run a PostgreSQL server of its own, kept on disk as one for an office would be."""
    binaries = sorted(Path("/usr/lib/postgresql").glob("*/bin"))[-1]
    home = Path(tempfile.mkdtemp(prefix="pg-"))
    as_user = ["runuser", "-u", "nobody", "--"] if os.geteuid() == 0 else []
    if as_user:
        shutil.chown(home, "nobody")

    def run(command: str, *arguments: object) -> None:
        told = [*as_user, binaries / command, *map(str, arguments)]
        subprocess.run(told, cwd="/", check=True, capture_output=True)

    data = home / "data"
    run("initdb", "-D", data, "-U", "keeper", "-A", "trust", "-E", "UTF8", "--locale=C")
    options = f"-k {home} -c listen_addresses='' -c max_connections=100"
    run("pg_ctl", "-D", data, "-l", home / "log", "-w", "-o", options, "start")
    try:
        yield f"postgresql://keeper@/postgres?host={home}"
    finally:
        run("pg_ctl", "-D", data, "-m", "immediate", "-w", "stop")
        shutil.rmtree(home)


def fill(where: str, media: Path, folder: Path, people: int) -> None:
    """Put the surveys and the people in."""
    with Store.open(where, media=media) as store:
        for _ in range(SURVEYS):
            store.import_folder(folder, who="bench", when=datetime.now(UTC))
        for n in range(people):
            add_account(
                store, f"person {n}", password=PASSWORD, role="estimator", who="bench",
                when=datetime.now(UTC),
            )  # fmt: skip


@contextmanager
def desk(where: str, media: Path) -> Iterator[tuple[str, int]]:
    """Serve it; give its address and the number of its process."""
    process = subprocess.Popen(
        [sys.executable, "-m", "bolewalk", "desk", "--data", where, "--media", str(media),
         "--port", "0", "--accounts"],
        stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, start_new_session=True,
    )  # fmt: skip
    try:
        assert process.stdout is not None
        found = re.match(r"desk: (http://\S+)", process.stdout.readline())
        assert found, "the desk did not start"
        yield found[1], process.pid
    finally:
        os.killpg(process.pid, signal.SIGTERM)
        process.wait(30)


def memory_mb(pid: int) -> float:
    """Give the memory a process holds, in MB."""
    text = Path(f"/proc/{pid}/status").read_text()
    found = re.search(r"VmRSS:\s+(\d+) kB", text)
    return int(found[1]) / 1024 if found else 0.0


class Person(threading.Thread):
    """One of them."""

    def __init__(
        self, n: int, address: str, together: threading.Barrier, told: argparse.Namespace
    ) -> None:
        super().__init__()
        self._together = together
        self._n = n
        self._pick = random.Random(n)
        self._survey = n % SURVEYS + 1
        self._seconds = told.seconds
        self._think_s = told.think
        # Passwords are slow on purpose: fifty at once wait for one another.
        self._browser = httpx2.Client(base_url=address, timeout=300)
        self.took: dict[str, list[float]] = defaultdict(list)
        self.told: Counter[str] = Counter()

    def run(self) -> None:
        """Work until the end."""
        self._sign_in()
        self._together.wait()
        end = time.monotonic() + self._seconds
        while time.monotonic() < end:
            self._pick.choice((self._read, self._read, self._plan, self._drag, self._edit))()
            time.sleep(self._pick.expovariate(1 / self._think_s))
        self._browser.close()

    def _ask(self, kind: str, method: str, place: str, **told: object) -> httpx2.Response | None:
        start = time.perf_counter()
        try:
            answer = self._browser.request(method, place, **told)  # type: ignore[arg-type]
        except httpx2.HTTPError as e:
            self.told[f"{kind}: {type(e).__name__}"] += 1
            return None
        self.took[kind].append(1000 * (time.perf_counter() - start))
        if answer.status_code == 409:
            self.told["conflicts"] += 1
        elif answer.status_code >= 400:
            self.told[f"{kind}: {answer.status_code}"] += 1
        return answer

    def _sign_in(self) -> None:
        page = self._browser.get("/sign-in").text
        told = {"form_token": token(page), "name": f"person {self._n}", "password": PASSWORD}
        self._ask("sign in", "POST", "/sign-in", data=told)
        self._browser.headers["x-form-token"] = token(self._browser.get("/account").text)

    def _read(self) -> None:
        self._ask("sheet", "GET", f"/surveys/{self._survey}/{self._pick.choice(SHEETS)}")

    def _plan(self) -> None:
        self._ask("plan", "GET", f"/api/surveys/{self._survey}/plan")

    def _drag(self) -> None:
        for n in range(5):
            at = [45 + self._pick.uniform(0, 30), 65 + n]
            body = {"work": "P16", "geometry": {"type": "Point", "coordinates": at}}
            self._ask("drag", "POST", f"/api/surveys/{self._survey}/drag", json=body)

    def _edit(self) -> None:
        page = self._ask("table", "GET", f"/surveys/{self._survey}/trees")
        if page is None:
            return
        keys = re.findall(r"/trees/rows/([^/?\"]+)\?edit=1", page.text)
        key = self._pick.choice(sorted(set(keys)))
        place = f"/surveys/{self._survey}/trees/rows/{key}"
        row = self._ask("row", "GET", f"{place}?edit=1")
        version = row and re.search(r'name="version" value="(\d+)"', row.text)
        if not version:
            return
        time.sleep(self._pick.expovariate(1 / self._think_s))
        told = {"version": version[1], "cell.notes": f"seen by {self._n}"}
        self._ask("change", "POST", place, data=told)


def token(page: str) -> str:
    """Give the token of a page."""
    found = re.search(r'name="form-token" content="([0-9a-f]+)"', page)
    return found[1] if found else ""


def measure(where: str, media: Path, asked: argparse.Namespace) -> dict[str, object]:
    """Let them work, and give the figures."""
    with desk(where, media) as (address, pid):
        together = threading.Barrier(asked.people + 1)
        crowd = [Person(n, address, together, asked) for n in range(asked.people)]
        for person in crowd:
            person.start()
        together.wait()
        memory = []
        while any(p.is_alive() for p in crowd):
            memory.append(round(memory_mb(pid)))
            time.sleep(max(1.0, asked.seconds / 20))
        took: dict[str, list[float]] = defaultdict(list)
        told: Counter[str] = Counter()
        for person in crowd:
            told += person.told
            for kind, values in person.took.items():
                took[kind] += values
        conflicts = told.pop("conflicts", 0)
        return {
            "requests": sum(map(len, took.values())),
            "a_second": round(sum(map(len, took.values())) / asked.seconds, 1),
            "ms": {
                kind: {
                    "n": len(v),
                    "p50": round(statistics.median(v)),
                    "p95": round(sorted(v)[int(0.95 * len(v))]),
                }
                for kind, v in sorted(took.items())
            },
            "conflicts_told": conflicts,
            "errors": dict(told),
            "memory_mb": memory,
        }


def main() -> None:
    """Measure and print."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--seconds", type=float, default=300.0)
    ask.add_argument("--think", type=float, default=THINK_S)
    ask.add_argument("--people", type=int, default=50)
    ask.add_argument("--database", choices=("sqlite", "postgresql", "both"), default="both")
    told = ask.parse_args()
    found: dict[str, object] = {"load_average": os.getloadavg()[0]}
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made, "survey")
        survey(folder)
        if told.database != "postgresql":
            data = Path(made, "sqlite")
            fill(str(data), data / "media", folder, told.people)
            found["sqlite"] = measure(str(data), data / "media", told)
        if told.database != "sqlite":
            media = Path(made, "postgresql", "media")
            with postgres() as url:
                fill(url, media, folder, told.people)
                found["postgresql"] = measure(url, media, told)
    json.dump(found, sys.stdout, indent=1)
    print()


if __name__ == "__main__":
    main()
