"""Tables of a survey as items, and back: the tree table row by row, works feature by feature."""

import csv
import io
import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from bolewalk.drawing.details import Place
from bolewalk.intake.table_file import read_header, read_table
from bolewalk.intake.toml_file import TomlError, parse_toml
from bolewalk.intake.tree_table import COLUMNS, HEADINGS
from bolewalk.store.errors import StoreError
from bolewalk.store.items import Body

__all__ = [
    "column_names", "csv_bytes", "geojson_bytes", "json_bytes", "read_columns_and_rows",
    "read_features_file", "read_text", "records", "set_toml",
]  # fmt: skip

Bodies = tuple[Body, tuple[Body, ...]]


def read_text(path: Path) -> Body | None:
    """Give the body of a TOML file, None where it is not text in UTF-8."""
    try:
        return {"text": path.read_bytes().decode("utf-8-sig")}
    except UnicodeDecodeError:
        return None


def read_columns_and_rows(path: Path) -> Bodies | None:
    """Give the bodies of a tree table: its columns, and one a row.

    None where not all of it can be read, or no column names the tree: such a file stays as it is
    until someone mends it. Empty rows are not kept.
    """
    found = read_table(path)
    if not found:
        return None
    names = column_names(found[0])
    if "tree" not in names:
        return None
    rows = []
    for record in found[1:]:
        if not any(c.strip() for c in record):
            continue
        padded = [*record, *[""] * (len(names) - len(record))]
        body: dict[str, Any] = {"cells": dict(zip(names, padded, strict=False))}
        if any(c.strip() for c in record[len(names) :]):
            body["beyond"] = record[len(names) :]
        rows.append(body)
    return {"columns": found[0]}, tuple(rows)


def column_names(header: Sequence[str]) -> list[str]:
    """Give the names cells are kept under, one a column of a header.

    Known columns have their own spelling, others stand as written, those that have no name of
    their own (empty or twice) are called by their number.
    """
    names = read_header(header, COLUMNS, Place("", None), spellings=HEADINGS)
    return [name or f"column {n}" for n, name in enumerate(names, start=1)]


def records(columns: Body, rows: Sequence[Body]) -> list[list[str]]:
    """Give the records of a tree table, the header first; columns only the rows have come last."""
    header = list(columns["columns"])
    names = column_names(header)
    used = {name for row in rows for name in row["cells"]} - set(names)
    added = [c for c in COLUMNS if c in used] + sorted(used - set(COLUMNS))
    header += added
    names += added
    return [
        header,
        *([*(row["cells"].get(n, "") for n in names), *row.get("beyond", ())] for row in rows),
    ]


def csv_bytes(table: Sequence[Sequence[str]]) -> bytes:
    """Give records as a CSV file."""
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="\n").writerows(table)
    return out.getvalue().encode("utf-8", errors="replace")


def read_features_file(path: Path) -> Bodies | None:
    """Give the bodies of a GeoJSON file: what stands around its features, and one a feature.

    None where it is no FeatureCollection: such a file stays as it is until someone mends it.
    """
    try:
        raw = json.loads(path.read_bytes().decode("utf-8-sig"))
    except (ValueError, RecursionError):
        return None
    if not isinstance(raw, dict) or raw.get("type") != "FeatureCollection":
        return None
    features = raw.get("features")
    if not isinstance(features, list):
        return None
    top = {key: value for key, value in raw.items() if key != "features"}
    return {"top": top}, tuple({"feature": f} for f in features)


def geojson_bytes(top: Mapping[str, Any], features: Sequence[Any]) -> bytes:
    """Give features as a GeoJSON file."""
    return json_bytes({**top, "features": list(features)})


def json_bytes(value: Any) -> bytes:
    """Give any JSON value as a file people can read."""
    try:
        return (json.dumps(value, ensure_ascii=False, indent=1) + "\n").encode()
    except UnicodeEncodeError:
        # Half a surrogate pair is JSON, but no UTF-8.
        return (json.dumps(value, indent=1) + "\n").encode()


def set_toml(text: str, path: Sequence[str | int], value: Any) -> str:
    """Set, add or take out one value of a TOML text, its comments and order kept.

    Parameters
    ----------
    text : str
    path : sequence of str or int
        Keys from the top; a number is a place in a list, its length appends. Missing tables are
        made.
    value : object
        What TOML can hold; None takes the key out.

    Returns
    -------
    str
        A text whose tables equal those of `text` but for this one value.

    Raises
    ------
    StoreError
        The text is no TOML, or the path leads through something that is no table or list.

    Examples
    --------
    >>> set_toml('[survey]\\nname = "A"  # ours\\n', ("survey", "name"), "B")
    '[survey]\\nname = "B"  # ours\\n'
    """
    try:
        wanted = parse_toml(text)
        _set(wanted, path, value)
    except (TomlError, KeyError, IndexError, TypeError, ValueError) as e:
        raise StoreError(f"cannot set {'.'.join(map(str, path))}: {e}") from e
    try:
        document = tomlkit.parse(text)
        _set(document, path, value)
        kept = tomlkit.dumps(document)
        if parse_toml(kept) == wanted:
            return kept
    except (TOMLKitError, TomlError, KeyError, IndexError, TypeError, ValueError):
        pass
    try:
        # Keeping comments is a courtesy; the values are not.
        return tomlkit.dumps(wanted)
    except (TOMLKitError, TypeError, ValueError) as e:
        raise StoreError(f"cannot set {'.'.join(map(str, path))}: {e}") from e


def _set(table: Any, path: Sequence[str | int], value: Any) -> None:
    *steps, last = path
    for n, step in enumerate(steps):
        if isinstance(table, dict) and isinstance(step, str) and step not in table:
            table[step] = [] if isinstance(path[n + 1], int) else {}
        table = table[step]
    if value is None:
        if not isinstance(table, dict) or last in table:
            del table[last]
    elif isinstance(table, list) and last == len(table):
        table.append(value)
    else:
        table[last] = value
