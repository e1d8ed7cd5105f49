"""Stores of every earlier schema, filled as their version filled them, opened by this one.

Each is built by the project's own steps up to its schema; a survey with its history stands in the
first tables, and one made-up row in every table a later step has added.
"""

import hashlib
import json

import pytest
from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import MetaData, Table, inspect, make_url, select, text

from bolewalk.store import migrations
from bolewalk.store.checking import verify
from bolewalk.store.database import _engine, _postgres, is_url, writing
from bolewalk.store.edits import set_cells
from bolewalk.store.issues import list_issues
from bolewalk.store.items import Applied
from bolewalk.store.schema import HEAD
from bolewalk.store.store import DATABASE, Store

SCRIPT = ScriptDirectory(migrations.__path__[0])
STEPS = [s.revision for s in reversed(list(SCRIPT.walk_revisions()))]
PHOTO = b"\xff\xd8\xff photograph"
SHA256 = hashlib.sha256(PHOTO).hexdigest()
AT = "2026-05-12T09:00:00.000000+00:00"
HEAD_TEXT = (
    '[survey]\nname = "Saltgate"\ndate = 2026-05-12\nunits = "metric"\npurpose = "opinion"\n'
    '[files]\ntrees = "trees.csv"\n'
)
MANIFEST = json.dumps(
    {"at": AT, "inputs": {}, "number": "1", "papers": {"photo": {"sha256": SHA256, "size": 14}},
     "revision": 1, "survey": "Saltgate", "title": "First", "who": "Ada"},
    ensure_ascii=True, sort_keys=True, separators=(",", ":"),
)  # fmt: skip


def items():
    """Items of the survey as (kind, key, body now, body before or None)."""
    photo = {"sha256": SHA256, "size": len(PHOTO)}
    return [
        ("head", "survey.toml", {"text": HEAD_TEXT}, None),
        ("columns", "trees.csv", {"columns": ["tree", "height"]}, None),
        ("tree", "tree-1", {"cells": {"tree": "T1", "height": "6"}},
         {"cells": {"tree": "T1", "height": "5"}}),
        ("file", "photo.jpg", photo, None),
    ]  # fmt: skip


def rows():
    """The rows of the first tables, in an order that keeps every reference."""
    listed = [
        ("surveys", {"id": 1, "firm": "", "name": "Saltgate", "visited": "2026-05-12",
                     "created_at": AT, "created_by": "Ada", "revision": 2}),
        ("media", {"sha256": SHA256, "size": len(PHOTO), "added_at": AT}),
        ("groups", {"id": 1, "survey_id": 1, "at": AT, "who": "Ada", "action": "import",
                    "of_group": None, "note": ""}),
        ("groups", {"id": 2, "survey_id": 1, "at": AT, "who": "Ben", "action": "change",
                    "of_group": None, "note": "taller"}),
    ]  # fmt: skip
    change = 0
    for n, (kind, key, now, before) in enumerate(items(), start=1):
        bodies = [b for b in (before, now) if b is not None]
        texts = [json.dumps(b, separators=(",", ":")) for b in bodies]
        listed.append(
            ("items", {"id": n, "survey_id": 1, "kind": kind, "key": key, "place": 1.0,
                       "version": len(bodies), "body": texts[-1]})
        )  # fmt: skip
        for version, body in enumerate(texts, start=1):
            change += 1
            first = version == 1
            listed.append(
                ("changes", {"id": change, "group_id": 1 if first else 2, "item_id": n,
                             "version": version, "before": None if first else texts[version - 2],
                             "after": body, "place_before": None if first else 1.0,
                             "place_after": 1.0})
            )  # fmt: skip
    seal = hashlib.sha256(MANIFEST.encode()).hexdigest()
    listed += [
        ("issues", {"id": 1, "survey_id": 1, "number": "1", "title": "First", "at": AT,
                    "who": "Ada", "revision": 1, "sha256": seal, "manifest": MANIFEST}),
        ("issue_marks", {"id": 1, "issue_id": 1, "at": AT, "who": "Ada", "mark": "withdrawn",
                         "by_issue": None, "reason": "a typing error"}),
    ]  # fmt: skip
    return listed


def made_up(column):
    """A value of a column's kind, the same whenever it is asked for."""
    for key in column.foreign_keys:
        return 1 if key.column.name == "id" else SHA256
    if column.type.python_type is str:
        length = getattr(column.type, "length", None)
        return AT if column.name.endswith("_at") or column.name == "at" else "x" * (length or 9)
    return column.type.python_type(1)


def build(place, step):
    """Make a store of an earlier schema and fill it; give the rows of each table as kept."""
    if is_url(place["where"]):
        url, media = _postgres(place["where"]), place["media"]
    else:
        place["where"].mkdir(parents=True, exist_ok=True)
        url, media = f"sqlite:///{place['where'] / DATABASE}", place["where"] / "media"
    engine = _engine(make_url(url))
    config = Config()
    config.set_main_option("script_location", migrations.__path__[0])
    with writing(engine) as c:
        config.attributes["connection"] = c
        command.upgrade(config, step)
    metadata = MetaData()
    with writing(engine) as c:
        metadata.reflect(c)
        for name, row in rows():
            c.execute(metadata.tables[name].insert().values(**row))
        filled = {name for name, _ in rows()} | {"alembic_version"}
        for table in metadata.sorted_tables:
            if table.name not in filled:
                values = {k.name: made_up(k) for k in table.columns}
                c.execute(table.insert().values(**values))
        _count_on(c)
        kept = {t.name: _rows(c, t) for t in metadata.sorted_tables}
    engine.dispose()
    path = media / SHA256[:2] / SHA256
    path.parent.mkdir(parents=True)
    path.write_bytes(PHOTO)
    del kept["alembic_version"]
    return kept


def _rows(c, table):
    return [dict(r) for r in c.execute(select(table).order_by(*table.primary_key)).mappings()]


def _count_on(c):
    """Let a server number new rows after those written with numbers of their own."""
    if c.dialect.name != "postgresql":
        return
    for name in inspect(c).get_table_names():
        columns = {k["name"] for k in inspect(c).get_columns(name)}
        if "id" in columns:
            c.execute(
                text(
                    f"SELECT setval(pg_get_serial_sequence('{name}', 'id'),"
                    f" (SELECT max(id) FROM {name}))"
                )
            )


@pytest.mark.parametrize("step", STEPS)
def test_a_store_of_every_schema_is_brought_up_to_date(fresh_place, clock, step):
    before = build(fresh_place, step)
    with Store.open(**fresh_place) as store:
        with store.engine.connect() as c:
            assert c.execute(text("SELECT version_num FROM alembic_version")).scalar() == HEAD
            for name, kept in before.items():
                table = Table(name, MetaData(), autoload_with=c)
                now = _rows(c, table)
                # Every row is there with all it said; a later step may have added columns.
                assert [{k: v for k, v in row.items() if k in kept[0]} for row in now] == kept, name
        assert verify(store) == ()
        job = store.job(1)
        assert job.survey.name == "Saltgate"
        assert job.survey.trees[0].height_m.value == 6
        assert store.load(1, revision=1).tree("T1").body["cells"]["height"] == "5"
        (issue,) = list_issues(store, 1)
        assert (issue.title, issue.state) == ("First", "withdrawn")
        with store.open_media(SHA256) as stream:
            assert stream.read() == PHOTO
        # And it can be worked in.
        edit = set_cells(store.load(1).tree("T1"), {"height": "7"})
        assert isinstance(store.change(1, [edit], who="Ada", when=clock()), Applied)
        assert store.undo(1, who="Ben", when=clock()) is not None
        assert store.create_survey(
            "Other", visited=clock().date(), units="metric", who="Ada", when=clock()
        ) == 2  # fmt: skip
        assert verify(store) == ()


def test_there_is_a_step_for_every_schema():
    assert STEPS[0] == "0001"
    assert STEPS[-1] == HEAD
