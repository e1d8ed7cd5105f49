"""A store on a disk that is full, or in a folder nobody may write to: what is told, what is left.

    python -m tests.store.short_of_room full WHERE
    python -m tests.store.short_of_room read-only WHERE

A process of its own, because the limit of the system on the size of files (RLIMIT_FSIZE) and the
rights of a user hold for all of it. Prints what happened as JSON.
"""

import io
import json
import os
import resource
import sys
from datetime import UTC, datetime
from pathlib import Path

from bolewalk.store.checking import verify
from bolewalk.store.edits import new_tree
from bolewalk.store.errors import StoreError
from bolewalk.store.items import Edit
from bolewalk.store.store import Store

WHEN = datetime(2026, 5, 12, tzinfo=UTC)
NOBODY = 65534
LIMITS = (60_000, 150_000, 300_000, 700_000)


def full(where):
    """Write until the disk is full, again and again with a little more room."""
    told, kept, lost = [], [], []
    with Store.open(where) as store:
        number = store.create_survey(
            "Saltgate", visited=WHEN.date(), units="metric", who="Ada", when=WHEN
        )
        n = 0
        for limit in LIMITS:
            hard = resource.getrlimit(resource.RLIMIT_FSIZE)[1]
            resource.setrlimit(resource.RLIMIT_FSIZE, (limit, hard))
            try:
                while True:
                    n += 1
                    name = f"T{n}"
                    # Two items in one change, and a file: each whole or not at all.
                    edits = [new_tree({"tree": name}), Edit("note", "", {"text": name * 2_000})]
                    store.change(number, edits, who="Ada", when=WHEN)
                    kept.append(name)
                    if n % 5 == 0:
                        store.put_media(io.BytesIO(name.encode() * 40_000), when=WHEN)
            except StoreError as e:
                told.append(str(e))
            finally:
                resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))
            lost += [f"{limit}: {w}" for w in verify(store)]
            stored = store.load(number)
            trees = [i.body["cells"]["tree"] for i in stored.of("tree")]
            notes = [
                i.body["text"][: len(t)] for i, t in zip(stored.of("note"), trees, strict=True)
            ]
            lost += [f"{limit}: {name}" for name in kept if name not in trees]
            lost += [f"{limit}: half of {t}" for t, m in zip(trees, notes, strict=True) if t != m]
            # With room again it goes on.
            n += 1
            store.change(
                number,
                [new_tree({"tree": f"T{n}"}), Edit("note", "", {"text": f"T{n}"})],
                who="Ada",
                when=WHEN,
            )
            kept.append(f"T{n}")
        left = len(list(store.files.incoming.glob("*"))) if store.files.incoming.is_dir() else 0
    return {"told": told, "kept": len(kept), "lost": lost, "left": left}


def read_only(where):
    """Open and write in a folder that may only be read."""
    with Store.open(where) as store:
        store.put_media(io.BytesIO(b"before"), when=WHEN)
    for folder, _, files in os.walk(where):
        os.chmod(folder, 0o555)
        for name in files:
            os.chmod(Path(folder, name), 0o444)
    store = Store.open(where)
    if os.geteuid() == 0:
        # To whoever runs everything, rights are no hindrance.
        os.setuid(NOBODY)
    told = []
    try:
        store.put_media(io.BytesIO(b"after"), when=WHEN)
    except StoreError as e:
        told.append(str(e))
    store.close()
    try:
        with Store.open(where) as again:
            again.create_survey("X", visited=WHEN.date(), units="metric", who="Ada", when=WHEN)
    except StoreError as e:
        told.append(str(e))
    return {"told": told, "files": sorted(p.name for p in where.rglob("*") if p.is_file())}


if __name__ == "__main__":
    print(json.dumps({"full": full, "read-only": read_only}[sys.argv[1]](Path(sys.argv[2]))))
