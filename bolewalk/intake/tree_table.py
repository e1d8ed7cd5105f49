"""The tree table in: every row read, every cell that cannot be read told and left out."""

import math
import re
import unicodedata
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bolewalk.drawing.details import Place, nearest
from bolewalk.drawing.grid import Grid
from bolewalk.intake.plausible import plausible
from bolewalk.intake.table_file import read_cells, read_header, read_records
from bolewalk.intake.tree_checks import check_tree
from bolewalk.model.figures import Figure
from bolewalk.model.problems import Problem
from bolewalk.model.trees import Crown, Species, Tree
from bolewalk.model.units import (
    M_PER_UNIT,
    Quantity,
    UnitError,
    UnitSystem,
    length_unit,
    parse_crown,
    parse_length,
    parse_stems,
    trunk_unit,
)
from bolewalk.model.words import AGES, CROWN_FORMS, DECISIONS, GRADES, OWNERS, TOLERANCES

__all__ = ["COLUMNS", "HEADINGS", "read_tree_records", "read_tree_table"]

COLUMNS: dict[str, str] = {
    "tree": "id, unique, required",
    "species": "botanical or common name",
    "x": "position east",
    "y": "position north",
    "offset": "distance the position may be off",
    "diameter": "trunk at breast height",
    "girth": "round the trunk at breast height, instead of diameter",
    "height": "top above ground",
    "crown_base": "lowest green above ground",
    "crown": "radius",
    "flare": "diameter just above the root flare",
    "age": "stage of life",
    "health": "vigour",
    "structure": "soundness",
    "owner": "whose tree it is",
    "decision": "what is to become of it",
    "form": "shape of the crown",
    "tag": "number on the tree",
    "photo": "file in the survey folder",
    "measured_at": "height at which the trunk was measured",
    "tolerance": "how the tree bears root loss",
    "access": "how it is reached",
    "failure": "likelihood of failure",
    "impact": "likelihood of striking a target",
    "consequence": "consequence of that",
    "notes": "free text",
}
"""Column -> meaning. The documentation is tested against this table."""

HEADINGS: dict[str, str] = {
    "tree_no": "tree", "tree_no.": "tree", "tree_number": "tree", "tree_#": "tree",
    "tree_id": "tree",
    "dbh": "diameter", "trunk": "diameter", "trunk_diameter": "diameter",
    "circumference": "girth", "easting": "x", "northing": "y",
    "comments": "notes", "remarks": "notes", "observations": "notes",
}  # fmt: skip
"""Heading a table may come with -> the column it is read as, with a notice."""

_WORDS: dict[str, tuple[str, ...]] = {
    "age": AGES,
    "health": GRADES,
    "structure": tuple(g for g in GRADES if g != "dead"),
    "owner": OWNERS,
    "decision": DECISIONS,
    "form": CROWN_FORMS,
    "tolerance": TOLERANCES,
}
# Spellings of the same word, not other words.
_SPELLINGS = {"neighbor": "neighbour", "semimature": "semi-mature", "overmature": "over-mature"}
_FREE = ("tag", "photo", "access", "failure", "impact", "consequence", "notes")
_POSITION = re.compile(r"(~?)\s*([+-]?(?:\d+(?:\.\d*)?|\.\d+))\s*(ft|m|us-ft|')?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class _Reading:
    """What every row of one table is read with."""

    file: str
    grid: Grid | None
    units: UnitSystem
    name_species: Callable[[str, Place], Species]
    problems: list[Problem]


def read_tree_table(
    path: Path,
    *,
    file: str,
    grid: Grid | None,
    units: UnitSystem,
    name_species: Callable[[str, Place], Species],
) -> tuple[tuple[Tree, ...], tuple[Problem, ...]]:
    """Read a tree table.

    Parameters
    ----------
    path : Path
        A CSV file in UTF-8 with a header row, with or without byte order mark, any line ends.
    file : str
        Its name within the survey folder.
    grid : Grid or None
        Of x and y; None leaves all positions out (its own problem told elsewhere).
    units : UnitSystem
        Of plain numbers.
    name_species : callable (words, place) -> Species
        Matches a name and tells in `place` where it cannot.

    Returns
    -------
    trees : tuple of Tree
        In file order. Rows without id, with an id used twice, or longer than the header are left
        out; other cells that cannot be read are left out of their tree.
    problems : tuple of Problem
        `row` counts records, the header is row 1.
    """
    whole = Place(file, None)
    records = read_records(path, whole)
    trees, problems = read_tree_records(
        records, file=file, grid=grid, units=units, name_species=name_species
    )
    return trees, (*whole.problems, *problems)


def read_tree_records(
    records: Sequence[Sequence[str]],
    *,
    file: str,
    grid: Grid | None,
    units: UnitSystem,
    name_species: Callable[[str, Place], Species],
) -> tuple[tuple[Tree, ...], tuple[Problem, ...]]:
    """Read the records of a tree table, the header first, as `read_tree_table` does."""
    whole = Place(file, None)
    if not records:
        return (), tuple(whole.problems)
    header = read_header(records[0], COLUMNS, whole, spellings=HEADINGS)
    if "tree" not in header:
        return (), tuple(whole.problems)
    reading = _Reading(file, grid, units, name_species, whole.problems)
    rows = [
        (n, read_cells(header, record, Place(file, n, whole.problems)))
        for n, record in enumerate(records[1:], start=2)
        if any(c.strip() for c in record)
    ]
    if not rows:
        whole.tell(None, "no rows", "a row for each tree", level="notice")
    ids = Counter(_same_id(cells["tree"].strip()) for _, cells in rows if cells is not None)
    trees = [_tree(n, cells, ids, reading) for n, cells in rows if cells is not None]
    return tuple(t for t in trees if t is not None), tuple(whole.problems)


def _same_id(name: str) -> str:
    """Give what two ids that look the same have in common: composed letters, no invisible marks."""
    plain = unicodedata.normalize("NFC", name)
    return "".join(c for c in plain if unicodedata.category(c) != "Cf") or plain


def _tree(n: int, cells: Mapping[str, str], ids: Counter[str], reading: _Reading) -> Tree | None:
    place = Place(reading.file, n, reading.problems)
    row = {name: cells.get(name, "").strip() for name in COLUMNS}
    name = row["tree"]
    if not name:
        place.tell("tree", None, "an id; the row is left out")
        return None
    longest = plausible().id_characters
    if len(name) > longest:
        place.tell("tree", name, f"an id of at most {longest} characters; the row is left out")
        return None
    times = ids[_same_id(name)]
    twice = times > 1
    if twice:
        place.tell(
            "tree", name, f"an id used once, not {times} times; all rows with it are left out"
        )
    x, y = _position(row, reading.grid, place)
    stems, by_girth = _stems(row, reading, place)
    words: dict[str, Any] = {c: _word(row[c], c, place) for c in _WORDS}
    free: dict[str, Any] = {c: row[c] for c in _FREE}
    if words["owner"] is None:
        del words["owner"]
    measured_at = _length(row, "measured_at", reading, place)
    offset = _length(row, "offset", reading, place)
    tree = Tree(
        id=name,
        species=reading.name_species(row["species"], place),
        row=n,
        x_m=x,
        y_m=y,
        stems_cm=stems,
        by_girth=by_girth,
        height_m=_length(row, "height", reading, place),
        crown_base_m=_length(row, "crown_base", reading, place),
        crown=_crown(row, reading, place),
        flare_cm=_flare(row, reading, place),
        measured_at_m=None if measured_at is None else measured_at.value,
        offset_m=None if offset is None else offset.value,
        entered=dict(cells),
        **free,
        **words,
    )
    tree = check_tree(tree, place, units=reading.units)
    # Read all the same: whatever else is wrong in the row is told in the same run.
    return None if twice else tree


def _figure(q: Quantity, value: float, file: str) -> Figure:
    return Figure(
        value, "estimated" if q.by_eye else "measured", source=file, as_entered=q.text.strip()
    )


def _position(
    row: Mapping[str, str], grid: Grid | None, place: Place
) -> tuple[float | None, float | None]:
    if grid is None or (not row["x"] and not row["y"]):
        return None, None
    x, y = (_coordinate(row[c], c, grid, place) for c in ("x", "y"))
    if x is None or y is None:
        return None, None
    return x, y


def _coordinate(text: str, name: str, grid: Grid, place: Place) -> float | None:
    rest = "; the tree counts as not located"
    if not text:
        other = "y" if name == "x" else "x"
        place.tell(name, None, f"{name} beside {other}{rest}")
        return None
    match = _POSITION.fullmatch(text)
    value = float(match.group(2)) if match else math.nan
    if match is None or not math.isfinite(value):
        place.tell(
            name, text, f"plain digits, such as 1234.56 (in {grid.unit}), written out in full{rest}"
        )
        return None
    if match.group(1):
        place.tell(name, text, "a position without ~; read as it stands", level="notice")
    unit = (match.group(3) or "").lower().replace("'", "ft")
    return value * (M_PER_UNIT[unit] if unit else grid.m_per_unit)


def _stems(
    row: Mapping[str, str], reading: _Reading, place: Place
) -> tuple[tuple[Figure, ...], bool]:
    diameters, girths = (_trunk(row, c, reading, place) for c in ("diameter", "girth"))
    from_girth = tuple(_figure(q, q.value_m * 100 / math.pi, reading.file) for q in girths)
    if not diameters:
        return from_girth, bool(from_girth)
    stems = tuple(_figure(q, q.value_m * 100, reading.file) for q in diameters)
    if from_girth:
        share = plausible().girth_share
        a, b = (sum(f.value**2 for f in fs) ** 0.5 for fs in (stems, from_girth))
        if abs(a - b) > share * a:
            place.tell(
                "girth",
                row["girth"],
                f"a girth of pi times the diameter ({row['diameter']}); the diameter is used",
                level="notice",
            )
    return stems, False


def _trunk(
    row: Mapping[str, str], column: str, reading: _Reading, place: Place
) -> tuple[Quantity, ...]:
    text = row[column]
    if not text:
        return ()
    unit = trunk_unit(reading.units)
    limit = plausible().trunk_never_cm * (math.pi if column == "girth" else 1)
    try:
        stems = parse_stems(text, default_unit=unit)
    except UnitError as e:
        place.tell(column, text, f"{e.expected}; left out")
        return ()
    if any(q.value_m * 100 > limit for q in stems):
        most = limit / (M_PER_UNIT[unit] * 100)
        place.tell(column, text, f"a trunk of at most {most:.0f} {unit}; left out")
        return ()
    return stems


def _length(row: Mapping[str, str], column: str, reading: _Reading, place: Place) -> Figure | None:
    text = row[column]
    if not text:
        return None
    unit = length_unit(reading.units)
    try:
        q = parse_length(text, default_unit=unit)
    except UnitError as e:
        place.tell(column, text, f"{e.expected}; left out")
        return None
    limit = plausible().height_never_m
    if q.value_m > limit:
        place.tell(column, text, f"at most {limit / M_PER_UNIT[unit]:.0f} {unit}; left out")
        return None
    return _figure(q, q.value_m, reading.file)


def _flare(row: Mapping[str, str], reading: _Reading, place: Place) -> Figure | None:
    found = _trunk(row, "flare", reading, place)
    if len(found) > 1:
        place.tell("flare", row["flare"], "one diameter above the root flare; left out")
        return None
    return _figure(found[0], found[0].value_m * 100, reading.file) if found else None


def _crown(row: Mapping[str, str], reading: _Reading, place: Place) -> Crown | None:
    text = row["crown"]
    if not text:
        return None
    try:
        radii = parse_crown(text, default_unit=length_unit(reading.units))
    except UnitError as e:
        place.tell("crown", text, f"{e.expected}; left out")
        return None
    north, east, south, west = (q.value_m for q in radii)
    by_eye = next((q for q in radii if q.by_eye), radii[0])
    basis = _figure(by_eye, (north + east + south + west) / 4, reading.file)
    return Crown(north, east, south, west, basis)


def _word(text: str, column: str, place: Place) -> Any:
    if not text:
        return None
    choices = _WORDS[column]
    word = "-".join(text.lower().replace("_", " ").replace("-", " ").split())
    word = _SPELLINGS.get(word, word)
    if word in choices:
        return word
    place.tell(column, text, "one of " + ", ".join(choices) + nearest(text, choices) + "; left out")
    return None
