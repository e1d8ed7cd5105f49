"""One answer to the bit, however the work is cut up, wherever it is done, whatever is killed."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from bolewalk.region.city import make_city, write_city
from bolewalk.region.screen import screen
from bolewalk.region.workers import workers
from tests.region.conftest import TREES, WORKS
from tests.region.makers import answer_of, table_of

ROOT = Path(__file__).parents[2]
BEGUN = """
import sys
from pathlib import Path
from bolewalk.region.screen import screen

def tell(what, done, of):
    print(what, done, of, flush=True)

if __name__ == "__main__":
    trees, works, out, processes, scheduler = sys.argv[1:6]
    screen(Path(trees), Path(works), Path(out), processes=int(processes),
           scheduler=scheduler or None, partitions=7, progress=tell)
"""


def begin(city, out, *, processes=1, scheduler=""):
    """A screening in a process of its own, telling its progress line by line."""
    script = out.parent / "begun.py"
    script.write_text(BEGUN)
    return subprocess.Popen(
        [sys.executable, str(script), *map(str, city), str(out), str(processes), scheduler],
        stdout=subprocess.PIPE, text=True, cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip


def wait_for(run, line):
    for told in run.stdout:
        if told.startswith(line):
            return
    raise AssertionError(f"never told {line!r}")


@pytest.mark.parametrize("count", [2, 7])
def test_partitions_do_not_matter(city, reference, tmp_path, count):
    found = screen(*city, tmp_path / "out", partitions=count)
    judged = list((tmp_path / "out" / "parts" / "judged").glob("*.npy"))
    assert len(judged) == count
    assert found.verdicts == reference[1].verdicts
    assert answer_of(tmp_path / "out") == answer_of(reference[0])


def test_processes_do_not_matter(city, reference, tmp_path):
    screen(*city, tmp_path / "out", processes=2)
    assert answer_of(tmp_path / "out") == answer_of(reference[0])


def test_number_of_files_does_not_matter(reference, tmp_path):
    # Names and row numbers are those of the files, the rest is not.
    many = write_city(tmp_path / "many", trees=TREES, works=WORKS, files=3)
    assert many[0].is_dir()
    screen(*many, tmp_path / "out")
    one, three = table_of(reference[0]), table_of(tmp_path / "out")
    assert strip(three) == strip(one)


@pytest.mark.parametrize("form", ["gpkg", "csv", "shuffled csv"])
def test_formats_and_row_order_do_not_matter(reference, tmp_path, form):
    kind = form.removeprefix("shuffled ")
    other = write_city(tmp_path / kind, trees=TREES, works=WORKS, form=kind)
    if form != kind:
        head, *lines = other[0].read_text().splitlines(keepends=True)
        order = np.random.default_rng(1).permutation(len(lines))
        other[0].write_text(head + "".join(lines[i] for i in order))
    mapping = None
    if kind == "csv":
        mapping = tmp_path / "map.toml"
        mapping.write_text('[trees]\ncrs = "EPSG:32625"\n')
    screen(*other, tmp_path / "out", columns=mapping)
    assert strip(table_of(tmp_path / "out")) == strip(table_of(reference[0]))


def strip(table):
    """Rows without what tells the file they came in; an id borne twice is told by its place."""
    return {
        tree: [repr(v) for n, v in row.items() if n not in ("file", "row")]
        for tree, row in table.items()
        if not row["id_repeated"]
    }


def test_killed_run_goes_on(city, reference, tmp_path):
    out = tmp_path / "out"
    run = begin(city, out)
    wait_for(run, "judging trees 3 7")
    run.kill()
    run.wait()
    run.stdout.close()
    finished = sorted((out / "parts" / "judged").glob("*.npy"))
    assert 3 <= len(finished) < 7
    before = {p: p.stat().st_mtime_ns for p in finished}
    found = screen(*city, out, partitions=7)
    assert found.kept_parts >= 4  # the piece read, three partitions judged
    assert {p: p.stat().st_mtime_ns for p in finished} == before
    assert answer_of(out) == answer_of(reference[0])


def test_killed_worker_is_replaced(city, reference, tmp_path):
    out = tmp_path / "out"
    run = begin(city, out, processes=2)
    wait_for(run, "judging trees 1 7")
    children = Path(f"/proc/{run.pid}/task/{run.pid}/children").read_text().split()
    workers_ = [c for c in children if b"spawn_main" in Path(f"/proc/{c}/cmdline").read_bytes()]
    os.kill(int(workers_[-1]), signal.SIGKILL)
    assert run.wait(timeout=120) == 0
    run.stdout.close()
    assert answer_of(out) == answer_of(reference[0])


def test_other_input_begins_anew(city, tmp_path):
    out = tmp_path / "out"
    first = screen(*city, out)
    assert first.kept_parts == 0
    assert screen(*city, out).kept_parts > 0
    other = screen(*city, out, method="inch-foot")
    assert other.kept_parts == 0
    assert other.verdicts != first.verdicts


def start(*arguments):
    """One process of Dask's own command line."""
    return subprocess.Popen(
        [sys.executable, "-m", "dask", *map(str, arguments)],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


@pytest.fixture
def cluster(tmp_path):
    """A Dask scheduler and two workers, each a process of its own: (address, workers)."""
    note = tmp_path / "scheduler.json"
    options = ("--host", "127.0.0.1", "--port", "0", "--no-dashboard")
    started = [start("scheduler", *options, "--scheduler-file", note)]
    for _ in range(600):
        if note.exists() and note.read_text().strip().endswith("}"):
            break
        time.sleep(0.1)
    address = json.loads(note.read_text())["address"]
    options = ("--nworkers", "1", "--nthreads", "1", "--no-dashboard", "--no-nanny")
    started += [
        start("worker", address, *options, "--local-directory", tmp_path / f"worker{k}")
        for k in range(2)
    ]
    try:
        yield address, started[1:]
    finally:
        for process in reversed(started):
            process.kill()
            process.wait()


def wait_for_two(address):
    code = (
        "import sys\nfrom distributed import Client\n"
        "with Client(sys.argv[1]) as c:\n    c.wait_for_workers(2, timeout=100)\n"
    )
    subprocess.run([sys.executable, "-c", code, address], check=True, cwd=ROOT, timeout=120)


def test_cluster_gives_the_same(city, reference, tmp_path, cluster):
    address, _ = cluster
    wait_for_two(address)
    out = tmp_path / "out"
    run = begin(city, out, scheduler=address)
    assert run.wait(timeout=300) == 0
    run.stdout.close()
    assert answer_of(out) == answer_of(reference[0])


def test_cluster_that_loses_a_worker_gives_the_same(city, reference, tmp_path, cluster):
    address, hands = cluster
    wait_for_two(address)
    out = tmp_path / "out"
    run = begin(city, out, scheduler=address)
    wait_for(run, "judging trees 1 7")
    hands[0].kill()
    assert run.wait(timeout=300) == 0
    run.stdout.close()
    assert answer_of(out) == answer_of(reference[0])


def die_once(flag, value):
    """Kill the process it runs in the first time round."""
    path = Path(flag)
    if not path.exists():
        path.write_text("")
        os.kill(os.getpid(), signal.SIGKILL)
    return value * 2


def test_work_of_a_killed_process_is_done_again(tmp_path):
    with workers(processes=2, scheduler=None) as hands:
        found = dict(hands.run(die_once, [(str(tmp_path / "flag"), k) for k in range(5)]))
    assert found == {k: 2 * k for k in range(5)}


def test_a_city_is_its_seed():
    one, two, other = (make_city(trees=3000, works=40, seed=s) for s in (4, 4, 5))
    assert all((one.columns[n] == two.columns[n]).all() for n in one.columns)
    np.testing.assert_array_equal(one.xy, two.xy)
    assert [str(s) for _, s in one.works] == [str(s) for _, s in two.works]
    assert (one.columns["diameter"] != other.columns["diameter"]).any()


def test_a_city_has_what_inventories_have():
    city = make_city(trees=20_000, works=300)
    trunks = city.columns["diameter"]
    assert 0.04 < (trunks == "").mean() < 0.08
    assert 0.08 < (np.char.find(trunks, "-") > 0).mean() < 0.25
    assert {"0", "-5", "9999"} <= set(trunks.tolist())
    assert len(set(city.columns["tree"].tolist())) < 20_000
    assert np.isnan(city.xy).any()
    assert len({w["kind"] for w, _ in city.works}) >= 6
