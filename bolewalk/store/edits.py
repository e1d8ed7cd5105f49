"""Edits people make at a desk, each as what it does to the items of a survey."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from bolewalk.intake.survey_toml import HEAD_FILE
from bolewalk.store.errors import StoreError
from bolewalk.store.folders import edits_of_file
from bolewalk.store.items import Body, Edit, Item, StoredSurvey, as_text
from bolewalk.store.media import Medium
from bolewalk.store.tables import records, set_toml

__all__ = [
    "file_edits", "folder_edits", "new_tree", "new_work", "remove", "set_cells",
    "set_feature", "set_head", "set_table",
]  # fmt: skip


def new_tree(cells: Mapping[str, str]) -> Edit:
    """Give the edit that adds a row to the tree table, at its end."""
    return Edit("tree", "", {"cells": dict(cells)})


def set_cells(tree: Item, cells: Mapping[str, str]) -> Edit:
    """Give the edit that writes some cells of a row, "" to empty one; the others stay."""
    body = _body(tree)
    return Edit(tree.kind, tree.key, {**body, "cells": {**body["cells"], **cells}}, tree.version)


def new_work(feature: Mapping[str, Any], *, file: str = "works.geojson", variant: str = "") -> Edit:
    """Give the edit that adds a feature to the works, or to a what-if copy of them.

    A feature whose property `replaces` is the id of a drawn work stands for that one: so a drawn
    pile is moved (with `present` "no": taken out) without touching its drawing.
    """
    body: dict[str, Any] = {"file": file, "feature": dict(feature)}
    if variant:
        body["variant"] = variant
    return Edit("work", "", body)


def set_feature(work: Item, feature: Mapping[str, Any]) -> Edit:
    """Give the edit that puts another feature in the place of one of the works."""
    return Edit(work.kind, work.key, {**_body(work), "feature": dict(feature)}, work.version)


def remove(item: Item) -> Edit:
    """Give the edit that takes an item away; undo and history still have it."""
    return Edit(item.kind, item.key, None, item.version)


def set_head(stored: StoredSurvey, *values: tuple[Sequence[str | int], Any]) -> Edit:
    """Give the edit that sets values of survey.toml, its comments kept; see `set_toml`.

    Examples
    --------
    ``set_head(stored, (("survey", "name"), "Sedge Lane"), (("site", "gate"), None))``
    """
    return set_table(stored, HEAD_FILE, *values)


def set_table(stored: StoredSurvey, name: str, *values: tuple[Sequence[str | int], Any]) -> Edit:
    """Give the edit that sets values of a TOML table by its file name, made where there is none.

    Raises
    ------
    StoreError
        A value cannot be set.
    """
    kind = "head" if name == HEAD_FILE else "table"
    item = stored.get(kind, name)
    text: str = "" if item is None else _body(item)["text"]
    for path, value in values:
        text = set_toml(text, path, value)
    return Edit(kind, name, {"text": text}, 0 if item is None else item.version)


def _body(item: Item) -> Body:
    if item.body is None:
        raise StoreError(f"{item.kind} {item.key} was removed")
    return item.body


def file_edits(
    stored: StoredSurvey, name: str, path: Path, medium: Medium, *, role: str = ""
) -> tuple[Edit, ...]:
    """Give the edits that add a file to a survey, or put a newer one in its place.

    Rows of a tree table and features of works are matched by their ids, so that each keeps its
    history; rows and features the new file has not are removed. The head is not touched: naming
    the file there is an edit of its own.

    Parameters
    ----------
    stored : StoredSurvey
    name : str
        In the survey folder.
    path : Path
        Where its bytes lie now.
    medium : Medium
        What `Store.put_media` gave for them.
    role : str
        "head", "table", "columns" (tree table), "works"; "" for a file that is only kept
        (drawings, recordings, photographs).
    """
    own = Edit("file", name, {"sha256": medium.sha256, "size": medium.size})
    edits = [_onto(own, stored.get("file", name))]
    return (*edits, *table_edits(stored, edits_of_file(name, path, role), name, role))


def table_edits(
    stored: StoredSurvey, new: Sequence[Edit], name: str, role: str
) -> tuple[Edit, ...]:
    """Give the edits that make a table of a survey what new items of the same file say."""
    old = [i for i in stored.items if _belongs(i, name, role)]
    if role == "columns" and _table(old) == _table(new):
        # A row made at the desk may lack cells its file has empty.
        return ()
    waiting: dict[tuple[str, str], list[Item]] = {}
    for item in old:
        waiting.setdefault((item.kind, _name(item.kind, item.key, item.body)), []).append(item)
    pairs: list[tuple[Edit, Item | None]] = []
    for edit in new:
        same = waiting.get((edit.kind, _name(edit.kind, edit.key, edit.body)), [])
        pairs.append((edit, same.pop(0) if same else None))
    gone = [remove(item) for items in waiting.values() for item in items]
    if _in_order([item for edit, item in pairs if edit.kind in ("tree", "work")]):
        return (*(_onto(edit, item) for edit, item in pairs), *gone)
    placed = (
        _onto(e, i, place=float(n) if e.kind in ("tree", "work") else None)
        for n, (e, i) in enumerate(pairs, start=1)
    )
    return (*placed, *gone)


def _table(rows: Sequence[Item | Edit]) -> list[list[str]] | None:
    header = [r.body for r in rows if r.kind == "columns" and r.body is not None]
    trees = [r.body for r in rows if r.kind == "tree" and r.body is not None]
    return records(header[0], trees) if header else None


def _in_order(rows: Sequence[Item | None]) -> bool:
    """Tell whether rows that were there stand as before, new ones behind them."""
    known = [r.place for r in rows if r is not None]
    return known == sorted(known) and all(r is not None for r in rows[: len(known)])


def folder_edits(stored: StoredSurvey, read: Sequence[Edit]) -> tuple[Edit, ...]:
    """Give the edits that make a stored survey what a folder says now.

    Parameters
    ----------
    stored : StoredSurvey
    read : sequence of Edit
        What `read_files` gave of the folder: each file followed by what its table holds.
    """
    tables: dict[str, list[Edit]] = {}
    edits: list[Edit] = []
    name = ""
    for edit in read:
        if edit.kind == "file":
            name = edit.key
            tables[name] = []
            edits.append(_onto(edit, stored.get("file", name)))
        else:
            tables[name].append(edit)
    for name, new in tables.items():
        role = new[0].kind if new else ""
        edits += table_edits(stored, new, name, role)
    edits += [remove(i) for i in stored.of("file") if i.key not in tables]
    for item in stored.items:
        new = tables.get(item.key, [])
        if item.kind in ("table", "columns", "works") and not (new and new[0].kind == item.kind):
            edits += table_edits(stored, [], item.key, item.kind)
    return tuple(edits)


def _belongs(item: Item, name: str, role: str) -> bool:
    if item.kind == "tree":
        return role == "columns"
    if item.kind == "work":
        body = _body(item)
        return role == "works" and body["file"] == name and not body.get("variant")
    return item.kind == role and item.key == name


def _name(kind: str, key: str, body: Body | None) -> str:
    """Give what an item is known by to the person who wrote the file."""
    if kind == "tree" and body is not None:
        return str(body["cells"].get("tree", "")).strip()
    if kind == "work" and body is not None:
        feature = body["feature"]
        properties = feature.get("properties") if isinstance(feature, Mapping) else None
        given = properties.get("id") if isinstance(properties, Mapping) else None
        return as_text({"id": given}) or ""
    return key


def _onto(edit: Edit, item: Item | None, *, place: float | None = None) -> Edit:
    if item is None:
        return Edit(edit.kind, edit.key, edit.body, 0, place)
    return Edit(edit.kind, item.key, edit.body, item.version, place)
