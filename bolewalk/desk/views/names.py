"""The names in the papers: property, client, arborist and firm, as survey.toml has them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from bolewalk.desk.drawer import Sheet
from bolewalk.desk.views.head import SurveyHead, survey_head
from bolewalk.papers.reading import Reading

__all__ = ["NameField", "NamesView", "names_edits", "names_view"]

Path = tuple[str, ...]

_FIELDS: dict[str, tuple[tuple[Path, str], ...]] = {
    "Property": (
        (("survey", "name"), "Name"),
        (("survey", "place"), "Address"),
        (("survey", "date"), "Day of the walk"),
    ),
    "Client": (
        (("people", "client", "name"), "Name"),
        (("people", "client", "role"), "On behalf of"),
        (("people", "client", "contact"), "Telephone or address"),
    ),
    "Arborist": (
        (("people", "assessor", "name"), "Name"),
        (("people", "assessor", "credential"), "Credential"),
        (("people", "assessor", "number"), "Number of the credential"),
        (("people", "assessor", "expires"), "Its last valid day"),
        (("people", "assessor", "contact"), "Telephone or address"),
    ),
    "Firm": (
        (("firm", "name"), "Name"),
        (("firm", "address"), "Address"),
        (("firm", "licence"), "License"),
        (("firm", "licence_until"), "License valid to"),
        (("firm", "insurance"), "Insurance"),
        (("firm", "insurance_until"), "Insured to"),
    ),
}
_DATES = ("date", "expires", "licence_until", "insurance_until")
_REQUIRED = (("survey", "name"), ("survey", "date"))


@dataclass(frozen=True, slots=True)
class NameField:
    """One field of the form: `name` in the request, "" or "date" as its kind."""

    name: str
    label: str
    value: str
    kind: str
    required: bool


@dataclass(frozen=True, slots=True)
class NamesView:
    """The page: fields by group, and what was wrong with what was sent."""

    head: SurveyHead
    groups: tuple[tuple[str, tuple[NameField, ...]], ...]
    says: tuple[str, ...] = ()


def names_view(
    sheet: Sheet, reading: Reading, *, sent: Mapping[str, str] | None = None,
    says: Sequence[str] = (),
) -> NamesView:  # fmt: skip
    """Give the page, with what was sent where it was not kept."""
    raw = sheet.head()

    def field(path: Path, label: str) -> NameField:
        name = ".".join(path)
        value = (sent or {}).get(name, _now(raw, path))
        kind = "date" if path[-1] in _DATES else ""
        return NameField(name, label, value, kind, path in _REQUIRED)

    groups = tuple((g, tuple(field(p, label) for p, label in f)) for g, f in _FIELDS.items())
    return NamesView(survey_head(sheet, reading, "papers"), groups, tuple(says))


def names_edits(sheet: Sheet, sent: Mapping[str, str]) -> tuple[list[tuple[Path, Any]], list[str]]:
    """Read what was sent.

    Returns
    -------
    values : list of (path, value)
        What changes in survey.toml, None for a key that goes.
    says : list of str
        What is wrong, in sentences; then nothing is to be kept.
    """
    raw = sheet.head()
    values: list[tuple[Path, Any]] = []
    says: list[str] = []
    for group, fields in _FIELDS.items():
        # What was not sent stays as it is.
        told = {p: sent.get(".".join(p), _now(raw, p)).strip() for p, _ in fields}
        by_name = fields[0][0]
        if by_name[0] == "people":
            if any(told.values()) and not told[by_name]:
                says.append(f"{group}: a name is needed beside the rest.")
                continue
            if not any(told.values()):
                if _now(raw, by_name):
                    values.append((by_name[:-1], None))
                continue
            if isinstance(_at(raw, by_name[:-1]), str):
                # A name alone; it becomes a table with the first thing more that is told.
                values.append((by_name[:-1], {"name": told[by_name]}))
        for path, label in fields:
            if told[path] == _now(raw, path):
                continue
            value: object = told[path] or None
            if value is None and path in _REQUIRED:
                says.append(f"{group}, {label.lower()}: it cannot be left empty.")
            if value is not None and path[-1] in _DATES:
                try:
                    value = date.fromisoformat(told[path])
                except ValueError:
                    says.append(f"{group}, {label.lower()}: a day such as 2027-12-31.")
            values.append((path, value))
    return values, says


def _at(raw: Mapping[str, Any], path: Path) -> Any:
    here: Any = raw
    for key in path:
        here = here.get(key) if isinstance(here, Mapping) else None
    return here


def _now(raw: Mapping[str, Any], path: Path) -> str:
    above = _at(raw, path[:-1])
    if isinstance(above, str):
        return above if path[-1] == "name" else ""
    value = _at(raw, path)
    return "" if value is None else str(value)
