"""Reading a findings.json of earlier papers back into a visit, whatever is wrong with it."""

import hashlib
import json
import math
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any, cast

from bolewalk.model.figures import Figure
from bolewalk.model.problems import Problem
from bolewalk.model.survey import Drawing
from bolewalk.model.trees import Crown, Species, Tree
from bolewalk.model.units import CM_PER_IN, M_PER_FT
from bolewalk.model.words import AGES, DECISIONS, GRADES, OWNERS, VERDICTS
from bolewalk.visits.record import EarlierVisit, IssueOf, TreeThen, WorkThen

__all__ = ["default_key", "read_earlier", "read_seal"]

Json = Mapping[str, Any]
_WHOLE = "the findings.json of earlier papers, as they were written"


def read_earlier(
    content: bytes,
    *,
    file: str,
    crs: str | None,
    m_per_grid_unit: float,
    issue: IssueOf | None = None,
) -> tuple[EarlierVisit | None, tuple[Problem, ...]]:
    """Read the findings of an earlier visit.

    Parameters
    ----------
    content : bytes
        A findings.json.
    file : str
        Path for the problems.
    crs, m_per_grid_unit
        Of today's survey: positions of then are used where both stand on one grid.
    issue : IssueOf, optional
        The seal of the issue the findings belong to.

    Returns
    -------
    visit : EarlierVisit or None
        None where it is no findings.json with a survey, its date and its units.
    problems : tuple of Problem
        Trees that cannot be read are told and left out.
    """
    problems: list[Problem] = []

    def tell(row: str | int | None, field: str | None, expected: str, level: str = "fault") -> None:
        problems.append(Problem(file, row, field, None, expected, level))  # type: ignore[arg-type]

    try:
        data = json.loads(content)
    except (ValueError, RecursionError):
        data = None
    survey = _table(data, "survey")
    day = _day(survey.get("date"))
    units = survey.get("units")
    if not isinstance(data, Mapping) or day is None or units not in ("imperial", "metric"):
        tell(None, None, _WHOLE)
        return None, tuple(problems)
    feet = units == "imperial"
    length, trunk = (M_PER_FT, CM_PER_IN) if feet else (1.0, 1.0)
    grid = m_per_grid_unit if crs is not None else length
    if survey.get("crs") != crs:
        tell(None, "survey.crs", "the grid of today's survey; trees are told by name", "notice")
        grid = math.nan
    trees: list[TreeThen] = []
    seen: set[str] = set()
    for n, raw in enumerate(_rows(data.get("trees")), start=1):
        name = raw.get("tree")
        if not isinstance(name, str) or not name or name in seen:
            tell(n, "trees.tree", "an id of its own; left out")
            continue
        seen.add(name)
        trees.append(_tree(raw, name, grid=grid, length=length, trunk=trunk))
    people = _table(survey, "people")
    assessor = _table(people, "assessor")
    visit = EarlierVisit(
        source=file,
        date=day,
        name=_text(survey.get("name")),
        purpose=_text(survey.get("purpose")),
        assessor=_text(assessor.get("name")),
        credential_until=_day(assessor.get("expires")),
        price_until=_day(_table(data, "price").get("valid_until")),
        drawings=tuple(
            Drawing(
                _text(d.get("file")), _text(d.get("title")), _text(d.get("revision")),
                _day(d.get("date")), _text(d.get("author")),
            )
            for d in _rows(survey.get("drawings"))
        ),
        trees=tuple(trees),
        works=tuple(
            WorkThen(
                _text(w.get("id")), _text(w.get("label")) or _text(w.get("id")),
                _text(w.get("kind")), _text(w.get("phase")), _text(w.get("present")),
            )
            for w in _rows(data.get("works"))
        ),
        defaults={
            default_key(_text(d.get("code")), _table(d, "values")): _text(d.get("text"))
            for d in _rows(data.get("defaults"))
            # The firm's hours are no facts about the site, and run out with the price.
            if not _text(d.get("code")).startswith("price.")
        },
        issue=issue,
    )  # fmt: skip
    return visit, tuple(problems)


def read_seal(content: bytes) -> IssueOf | None:
    """Read the sealed.json of an issue; None where it is none. The hash is worked out anew."""
    try:
        data = json.loads(content)
    except (ValueError, RecursionError):
        return None
    if not isinstance(data, Mapping) or not isinstance(data.get("number"), str):
        return None
    return IssueOf(
        data["number"], _text(data.get("title")), _text(data.get("at")), _text(data.get("who")),
        hashlib.sha256(content).hexdigest(),
    )  # fmt: skip


def default_key(code: str, values: Mapping[str, Any]) -> str:
    """Give the key by which a value nobody gave is known again at the next visit."""
    told = {k: v for k, v in values.items() if isinstance(v, str)}
    return json.dumps([code, told], sort_keys=True)


def _tree(raw: Json, name: str, *, grid: float, length: float, trunk: float) -> TreeThen:
    species, verdict = _table(raw, "species"), _table(raw, "verdict")
    decision = _table(raw, "decision")
    x, y = _point(raw.get("position"), grid)
    stems = _numbers(_table(raw, "diameter").get("stems"))
    radii = _numbers(_table(raw, "crown").get("radii"))
    height, base = _number(raw.get("height")), _number(raw.get("crown_base"))
    tree = Tree(
        name,
        Species(
            _text(species.get("botanical")) or None, _text(species.get("common")) or None,
            _text(species.get("as_heard")),
        ),
        x_m=x,
        y_m=y,
        stems_cm=tuple(_figure(s * trunk) for s in stems if s > 0),
        height_m=None if height is None else _figure(height * length),
        crown_base_m=None if base is None else _figure(base * length),
        crown=_crown([r * length for r in radii]),
        age=_word(raw.get("age"), AGES),
        health=_word(raw.get("health"), GRADES),
        structure=_word(raw.get("structure"), GRADES),
        owner=_word(raw.get("owner"), OWNERS) or "unknown",
        decision=_word(decision.get("word"), DECISIONS),
        tag=_text(raw.get("tag")),
        notes=_text(raw.get("notes")),
    )  # fmt: skip
    return TreeThen(
        tree,
        verdict=_word(verdict.get("now"), VERDICTS),
        verdict_later=_word(verdict.get("with_later"), VERDICTS),
        because=_texts(verdict.get("because")),
        conditions=_texts(verdict.get("conditions")),
        reasons=_texts(decision.get("reasons")),
        asked=tuple(
            (_text(q.get("fact")), _text(q.get("ask"))) for q in _rows(raw.get("questions"))
        ),
    )


def _crown(radii_m: list[float]) -> Crown | None:
    if len(radii_m) != 4:
        return None
    north, east, south, west = radii_m
    return Crown(north, east, south, west, _figure(sum(radii_m) / 4))


def _figure(value: float) -> Figure:
    return Figure(value, "measured", "earlier visit")


def _table(raw: Any, key: str) -> Json:
    found = raw.get(key) if isinstance(raw, Mapping) else None
    return found if isinstance(found, Mapping) else {}


def _rows(raw: Any) -> list[Json]:
    return [r for r in raw if isinstance(r, Mapping)] if isinstance(raw, list) else []


def _text(raw: Any) -> str:
    return raw if isinstance(raw, str) else ""


def _texts(raw: Any) -> tuple[str, ...]:
    return tuple(x for x in raw if isinstance(x, str)) if isinstance(raw, list) else ()


def _word(raw: Any, words: Iterable[str]) -> Any:
    return raw if raw in tuple(words) else None


def _number(raw: Any) -> float | None:
    fine = isinstance(raw, int | float) and not isinstance(raw, bool) and abs(raw) < 1e9
    return float(raw) if fine else None


def _numbers(raw: Any) -> list[float]:
    found = [_number(x) for x in raw] if isinstance(raw, list) else []
    return [] if None in found else cast(list[float], found)


def _point(raw: Any, grid: float) -> tuple[float | None, float | None]:
    at = _numbers(raw)
    if len(at) != 2 or math.isnan(grid):
        return None, None
    return at[0] * grid, at[1] * grid


def _day(raw: Any) -> date | None:
    try:
        return date.fromisoformat(raw) if isinstance(raw, str) else None
    except ValueError:
        return None
