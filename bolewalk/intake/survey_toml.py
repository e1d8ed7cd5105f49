"""survey.toml in: what the survey is, which files it has, how its drawings are read."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal, cast

from bolewalk.drawing.details import Place
from bolewalk.drawing.placement import Pair
from bolewalk.drawing.settings import DRAWING_UNITS
from bolewalk.intake.head_keys import KEYS
from bolewalk.intake.head_tables import earlier_named, read_told
from bolewalk.intake.sections import Section
from bolewalk.model.problems import Problem
from bolewalk.model.survey import (
    ROOT_ZONE_METHODS,
    Drawing,
    Method,
    People,
    Person,
    RootZoneMethod,
    Site,
)
from bolewalk.model.units import UnitError, UnitSystem, parse_length
from bolewalk.model.words import PURPOSES, Purpose
from bolewalk.reference.regions import find_region, region_names

__all__ = ["HEAD_FILE", "KEYS", "DrawingEntry", "FilesNamed", "Head", "HeadError", "read_head"]

HEAD_FILE = "survey.toml"


class HeadError(ValueError):
    """survey.toml lacks what nothing can be read without. `problems` names all of it."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__("\n".join(p.line() for p in problems))
        self.problems = problems


@dataclass(frozen=True, slots=True)
class FilesNamed:
    """File names as survey.toml gives them; None or empty where it gives none."""

    trees: str = ""
    works: tuple[str, ...] = ()
    walk: tuple[str, ...] = ()
    photos: str = ""
    rates: str = ""
    rules: tuple[str, ...] = ()
    planting: str = ""
    phases: str = ""
    futures: str = ""
    thresholds: str = ""
    choices: str = ""
    discussion: str = ""


@dataclass(frozen=True, slots=True)
class DrawingEntry:
    """One [[drawing]]. `units` is a key of DRAWING_UNITS, None where not given; `row` names the
    entry in problems. `readable` is False where its placement or unit cannot be read."""

    drawing: Drawing
    row: str
    units: str | None
    ignore_header_units: bool
    layers: Mapping[str, Any]
    at: tuple[Pair, Pair] | None
    readable: bool


@dataclass(frozen=True, slots=True)
class Head:
    """survey.toml as read."""

    name: str
    date: date
    units: UnitSystem
    purpose: Purpose
    place: str
    crs: str | None
    people: People
    files: FilesNamed
    drawings: tuple[DrawingEntry, ...]
    method: Method
    site: Site
    earlier: tuple[str, ...]
    told: Mapping[str, str]
    problems: tuple[Problem, ...]


def read_head(raw: Mapping[str, Any]) -> Head:
    """Read the tables of survey.toml.

    Parameters
    ----------
    raw : mapping
        What tomllib gives.

    Returns
    -------
    Head
        Keys that cannot be read are told in `problems` and left out.

    Raises
    ------
    HeadError
        The date or the units are missing or cannot be read: no paper can be dated and no number
        read without them.
    """
    place = Place(HEAD_FILE, None)
    top = Section(raw, "", KEYS[""], place)
    survey = Section(top.raw.get("survey"), "survey", KEYS["survey"], place)
    day = survey.date("date")
    units = survey.choice("units", ("imperial", "metric"))
    if day is None and survey.raw.get("date") is None:
        survey.tell("date", "the day of the visit, such as 2026-05-12")
    if units is None and survey.raw.get("units") is None:
        survey.tell("units", "imperial or metric")
    if day is None or units is None:
        raise HeadError(tuple(p for p in place.problems if p.level == "fault"))
    system = cast(UnitSystem, units)
    name = survey.text("name")
    if not name:
        survey.tell("name", "what the survey is called")
    files = Section(top.raw.get("files"), "files", KEYS["files"], place)
    return Head(
        name=name,
        date=day,
        units=system,
        purpose=_purpose(survey),
        place=survey.text("place"),
        crs=survey.text("crs") or None,
        people=_people(top, place),
        files=_files(files),
        drawings=_drawings(top.raw.get("drawing"), place),
        method=_method(top, system, place),
        site=_site(top, system, place),
        earlier=earlier_named(top.raw.get("earlier"), KEYS["earlier"], place),
        told=read_told(top.raw, place),
        problems=tuple(place.problems),
    )


def _purpose(survey: Section) -> Purpose:
    if survey.raw.get("purpose") is None:
        survey.tell("purpose", f"one of {', '.join(PURPOSES)}; read as opinion", level="notice")
    return cast(Purpose, survey.choice("purpose", PURPOSES) or "opinion")


def _files(files: Section) -> FilesNamed:
    return FilesNamed(
        trees=files.text("trees"),
        works=files.texts("works"),
        walk=files.texts("walk"),
        photos=files.text("photos"),
        rates=files.text("rates"),
        rules=files.texts("rules"),
        planting=files.text("planting"),
        phases=files.text("phases"),
        futures=files.text("futures"),
        thresholds=files.text("thresholds"),
        choices=files.text("choices"),
        discussion=files.text("discussion"),
    )


def _people(top: Section, place: Place) -> People:
    people = Section(top.raw.get("people"), "people", KEYS["people"], place)
    others = people.raw.get("others", [])
    if not isinstance(others, list):
        others = [others]
    read = [_person(p, f"people.others[{n}]", "", place) for n, p in enumerate(others, start=1)]
    return People(
        assessor=_person(people.raw.get("assessor"), "people.assessor", "assessor", place),
        client=_person(people.raw.get("client"), "people.client", "client", place),
        others=tuple(p for p in read if p is not None),
    )


def _person(raw: object, name: str, role: str, place: Place) -> Person | None:
    if raw is None:
        return None
    if isinstance(raw, str):
        return Person(raw.strip(), role) if raw.strip() else None
    person = Section(raw, name, KEYS["person"], place)
    called = person.text("name")
    if not called:
        if person.raw:
            person.tell("name", "a name; the person is left out")
        return None
    return Person(
        name=called,
        role=person.text("role") or role,
        credential=person.text("credential"),
        number=person.text("number"),
        expires=person.date("expires"),
        contact=person.text("contact"),
    )


def _method(top: Section, units: UnitSystem, place: Place) -> Method:
    method = Section(top.raw.get("method"), "method", KEYS["method"], place)
    zone = method.choice("root_zone", ROOT_ZONE_METHODS)
    bearings = method.raw.get("cut_bearings", 8)
    if bearings not in (8, 16) or isinstance(bearings, bool):
        method.tell("cut_bearings", "8 or 16; 8 is used")
        bearings = 8
    length = method.length_m("cut_length", units)
    if length == 0:
        method.tell("cut_length", "a length above 0; left out")
        length = None
    usual: RootZoneMethod = "inch-foot" if units == "imperial" else "as4970-2009"
    return Method(
        root_zone=cast(RootZoneMethod, zone or usual),
        growth_region=_growth_region(method),
        cut_length_m=length,
        cut_bearings=cast(Literal[8, 16], bearings),
        root_zone_defaulted=zone is None,
    )


def _growth_region(method: Section) -> str | None:
    name = method.text("growth_region")
    if name and find_region(name) is None:
        method.tell("growth_region", f"one of {', '.join(region_names())}, or its city; left out")
        return None
    return name or None


def _site(top: Section, units: UnitSystem, place: Place) -> Site:
    site = Section(top.raw.get("site"), "site", KEYS["site"], place)
    return Site(
        slope_pct=site.number("slope_pct", low=0, high=300, what="a slope in percent"),
        slope_bearing_deg=site.number(
            "slope_bearing", low=0, high=360, what="a bearing in degrees"
        ),
        carry_m=site.length_m("carry", units),
        gate_m=site.length_m("gate", units),
    )


def _drawings(raw: object, place: Place) -> tuple[DrawingEntry, ...]:
    if raw is None:
        return ()
    if isinstance(raw, Mapping):
        raw = [raw]
    if not isinstance(raw, list):
        place.tell("drawing", raw, "[[drawing]] tables")
        return ()
    entries = []
    for n, one in enumerate(raw, start=1):
        here = Place(HEAD_FILE, f"drawing {n}", place.problems)
        entry = _drawing(Section(one, "drawing", KEYS["drawing"], here), here)
        if entry is not None:
            entries.append(entry)
    return tuple(entries)


def _drawing(table: Section, place: Place) -> DrawingEntry | None:
    file = table.text("file")
    if not file:
        table.tell("file", "the file of the drawing; the drawing is left out")
        return None
    layers = table.raw.get("layers", {})
    if not isinstance(layers, Mapping):
        table.tell("layers", 'a table of layer = kind, such as "S-PILE" = "pile"')
        layers = {}
    units, units_fine = _units(table)
    at, at_fine = _at(table)
    ignore = table.flag("ignore_header_units")
    if ignore and units is None:
        table.tell("units", "the unit of the drawing, as its own is to be ignored")
        units_fine = False
    return DrawingEntry(
        drawing=Drawing(
            file=file,
            title=table.text("title"),
            revision=table.text("revision"),
            date=table.date("date"),
            author=table.text("author"),
        ),
        row=str(place.row),
        units=units,
        ignore_header_units=ignore,
        layers=layers,
        at=at,
        readable=units_fine and at_fine,
    )


def _units(table: Section) -> tuple[str | None, bool]:
    given = table.text("units")
    if not given:
        return None, "units" not in table.raw
    word = given.lower()
    if word in DRAWING_UNITS:
        return word, True
    try:
        return parse_length(f"1 {given}", default_unit="").unit, True
    except (UnitError, KeyError):
        table.tell("units", f"one of {', '.join(DRAWING_UNITS)}; the drawing is left out")
        return None, False


def _at(table: Section) -> tuple[tuple[Pair, Pair] | None, bool]:
    raw = table.raw.get("at")
    if raw is None:
        return None, True
    pairs = raw
    if _is_points(raw) and len(raw) == 4:
        pairs = [raw[:2], raw[2:]]
    fine = isinstance(pairs, list) and len(pairs) == 2
    if fine and all(_is_points(p) and len(p) == 2 for p in pairs):
        first, second = (((p[0][0], p[0][1]), (p[1][0], p[1][1])) for p in pairs)
        return (first, second), True
    table.tell(
        "at",
        "two pairs of points, [[[drawing x, y], [survey x, y]], [[drawing x, y], [survey x, y]]]; "
        "the drawing is left out",
    )
    return None, False


def _is_points(raw: object) -> bool:
    return isinstance(raw, list) and all(
        isinstance(p, list)
        and len(p) == 2
        and all(isinstance(v, int | float) and not isinstance(v, bool) for v in p)
        for p in raw
    )
