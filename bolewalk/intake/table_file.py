"""CSV files in: text, records, header and cells, whatever wrote them."""

import csv
import io
import re
from collections.abc import Mapping, Sequence
from pathlib import Path

from bolewalk.drawing.details import Place, nearest
from bolewalk.intake.plausible import plausible

__all__ = ["read_cells", "read_header", "read_records", "read_table"]

# "DBH (in)": a unit in the heading is no unit of the cells, which name their own.
_UNIT_BEHIND = re.compile(r"_?[(\[][a-z.\"']{1,6}[)\]]$")

_STRANGE = 20
"""Unknown columns told one by one; ours, no source."""


def read_table(path: Path) -> list[list[str]] | None:
    """Give the records of a CSV file, the header first; None where not all of it can be read."""
    data = _text(path, Place("", None))
    return None if data is None else _records(data, Place("", None))[1]


def read_records(path: Path, whole: Place) -> list[list[str]]:
    """Give the records of a CSV file, the header first; none where it cannot be read.

    UTF-8 with or without byte order mark, any line ends, commas. Latin-1, UTF-16, semicolons and
    tabs are told and read.
    """
    text = _text(path, whole)
    return [] if text is None else _records(text, whole)[0]


def _records(text: str, whole: Place) -> tuple[list[list[str]], list[list[str]] | None]:
    """Give the records that can be read, and the same again where that is all of them."""
    first = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=first.count)
    if delimiter != "," and first.count(delimiter) > first.count(","):
        name = {";": "semicolons", "\t": "tabs"}[delimiter]
        whole.tell(None, name, f"cells parted by commas; read with {name}", level="notice")
    else:
        delimiter = ","
    limit = plausible().rows
    records: list[list[str]] = []
    try:
        for record in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True):
            if len(records) > limit:
                whole.tell(None, f"more than {limit:,} rows", "fewer rows; the rest is left out")
                return records, None
            records.append(record)
    except csv.Error as e:
        whole.tell(
            None,
            str(e),
            f"quotes in pairs and cells of ordinary length; rows after {len(records)} are left out",
        )
        return records, None
    return records, records


def _text(path: Path, whole: Place) -> str | None:
    header = "a header row naming the columns, with at least: tree"
    limit = plausible().table_bytes
    try:
        size = path.stat().st_size
        data = b"" if size > limit else path.read_bytes()
    except OSError as e:
        whole.tell(None, e.strerror, "a file that can be read")
        return None
    if size > limit:
        whole.tell(None, f"{size:,} bytes", f"a table of at most {limit:,} bytes")
        return None
    if not data.strip():
        whole.tell(None, "an empty file", header)
        return None
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        whole.tell(None, "UTF-16", "a file in UTF-8; read as UTF-16, check the names")
        text = data.decode("utf-16", errors="replace")
    else:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError as e:
            row = data[: e.start].count(b"\n") + 1
            whole.tell(
                None,
                f"byte 0x{data[e.start]:02x} in line {row}",
                "a file in UTF-8; read as Latin-1, check the names",
            )
            # Spreadsheets write the Windows form of Latin-1; five of its bytes mean nothing.
            text = data.decode("cp1252", errors="replace")
    if "\x00" in text:
        whole.tell(None, "a null character", "a text file; this is another kind of file")
        return None
    return text


def read_header(
    record: Sequence[str],
    known: Mapping[str, str],
    whole: Place,
    *,
    spellings: Mapping[str, str] | None = None,
) -> list[str]:
    """Give the column names of a header row.

    Parameters
    ----------
    record : sequence of str
    known : mapping
        Known column -> meaning; the first is required.
    whole : Place
        Takes the problems.
    spellings : mapping, optional
        Other heading -> known column; a heading read so is told.

    Returns
    -------
    list of str
        Known names in their own spelling, unknown ones as written, "" for a column left out.
    """
    required = next(iter(known))
    names: list[str] = []
    # A row may have thousands of cells: looked up in the list it would take their square.
    taken: set[str] = set()
    headings = {_heading(cell) for cell in record}
    strange = 0
    whole.row = 1
    for cell in record:
        raw = cell.strip()
        name = _heading(raw)
        meant = (spellings or {}).get(name, "")
        if meant and meant not in taken and meant not in headings:
            whole.tell(raw, None, f"the column {meant}; read as that", level="notice")
            name = meant
        if name in known and name in taken:
            whole.tell(raw, None, "each column once; the second is left out")
            name = ""
        elif name not in known:
            strange += bool(raw)
            if raw and strange <= _STRANGE:
                bare = _UNIT_BEHIND.sub("", name)
                close = (spellings or {}).get(bare, bare)
                hint = nearest(close, list(known))
                whole.tell(raw, None, f"a known column{hint}; kept as a note", level="notice")
            name = raw if raw not in taken else ""
        names.append(name)
        taken.add(name)
    if strange > _STRANGE:
        more = f"{strange - _STRANGE:,} more columns"
        whole.tell(None, more, "known columns; kept as notes", level="notice")
    if required not in names:
        whole.tell(required, None, f"a column {required} ({known[required]}); no row can be read")
    whole.row = None
    return names


def _heading(cell: str) -> str:
    return "_".join(cell.strip().lower().replace("-", " ").split())


def read_cells(header: Sequence[str], record: Sequence[str], place: Place) -> dict[str, str] | None:
    """Give the cells of one record by column; None where it has more cells than columns."""
    if len(record) > len(header) and any(c.strip() for c in record[len(header) :]):
        place.tell(
            None,
            f"{len(record)} cells",
            f"{len(header)} cells as in the header (a comma within a cell needs quotes); left out",
        )
        return None
    if len(record) < len(header):
        place.tell(
            None,
            f"{len(record)} cells",
            f"{len(header)} cells as in the header; the missing last ones count as empty",
            level="notice",
        )
    padded = [*record, *[""] * (len(header) - len(record))]
    for name, cell in zip(header, padded, strict=False):
        if not name and cell.strip():
            place.tell(None, cell, "a name for this cell's column; left out")
    return {name: cell for name, cell in zip(header, padded, strict=False) if name}
