"""Answers to open questions, as what they change in the survey: one step of undo each."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from bolewalk.desk.drawer import Sheet, WorkItem
from bolewalk.desk.drawing_entries import drawing_entries
from bolewalk.desk.placing import Placed, PlacingError, adopted, geometry_in_survey, work_edit
from bolewalk.impact.near import NearWork, moved, near_works
from bolewalk.impact.results import Question, QuestionAnswer
from bolewalk.model.units import UnitError, length_unit, parse_length
from bolewalk.model.words import MAKINGS, OWNERS
from bolewalk.model.works import Work
from bolewalk.papers.language import Speaker
from bolewalk.papers.questions import answer_key
from bolewalk.papers.reading import Reading
from bolewalk.store.edits import set_cells, set_head
from bolewalk.store.errors import StoreError
from bolewalk.store.items import Edit

__all__ = ["FREE", "Told", "answered", "fact_kind", "free_words", "open_question"]

FREE = "told"
"""The answer that is none of those offered: its value is typed."""

_LENGTHS: Mapping[str, str] = {
    "depth": "depth", "roof_low": "low", "wire_low": "low", "height": "high",
}  # fmt: skip
"""Kind of fact -> property of the work that tells it."""
_FAR_M = 200.0


@dataclass(frozen=True, slots=True)
class Told:
    """An answer as it was sent.

    `answer` is the key of one offered, or FREE; `value` what was typed then; `tree` the tree a
    distance was measured from; `by` who told it, in their own words.
    """

    fact: str
    answer: str
    value: str = ""
    tree: str = ""
    by: str = ""


def fact_kind(fact: str) -> str:
    """Give the kind at the end of a fact's id: "made" of "P1+P2.made"."""
    return fact.rsplit(".", 1)[-1]


def free_words(kind: str) -> tuple[str, ...]:
    """Give the words a value of a kind is chosen from; empty where it is typed."""
    return {"made": tuple(MAKINGS), "owner": tuple(OWNERS)}.get(kind, ())


def open_question(sheet: Sheet, fact: str) -> tuple[Question, tuple[str, ...]] | None:
    """Give an open question and the trees it bears on; None where it is open no more.

    Trees whose facts are not tried yet are tried: the desk may have started anew since it asked.
    """
    reckoning = sheet.reckoning
    for tree_id in reckoning.pending:
        reckoning.impact(tree_id)
    found = [(i.tree, q) for i in reckoning.known_impacts() for q in i.questions if q.fact == fact]
    return (found[0][1], tuple(tree for tree, _ in found)) if found else None


def answered(sheet: Sheet, reading: Reading, told: Told) -> Placed:
    """Give the edits an answer makes: what it changes, and the answer itself.

    Of works in a file, their properties change; of works in a drawing, what survey.toml says of
    their layer, or on a what-if copy a feature that stands for each; of a tree, its row. Where
    something really stands, told as a distance from a trunk, moves it.

    Raises
    ------
    PlacingError
        The question is not open any more, or the answer is none; the text says what would be.
    """
    kind = fact_kind(told.fact)
    if kind == "owner":
        return _owner(sheet, reading, told)
    asked = open_question(sheet, told.fact)
    if asked is None:
        raise PlacingError("this question is not open any more: somebody has answered it")
    question, trees = asked
    chosen = next((a for a in question.answers if answer_key(a.answer) == told.answer), None)
    if chosen is None and (told.answer != FREE or not told.value.strip()):
        raise PlacingError("choose one of the answers, or type another")
    if kind in ("diameter", "species"):
        edits = _of_tree(sheet, kind, told, chosen, reading.speaker)
    elif kind == "offset":
        edits = _of_place(sheet, told, chosen, trees)
    else:
        edits = _of_works(sheet, told.fact, _properties(kind, told, chosen, sheet))
    words = told.value.strip() if chosen is None else reading.speaker.text(chosen.answer)
    if kind == "offset" and chosen is None:
        words = f"{words} from the trunk of {told.tree or trees[0]}"
    ask = reading.speaker.text(question.ask)
    return _recorded(told, edits, ask, words, trees, reading.word("of", question.of))


def _recorded(
    told: Told, edits: tuple[Edit, ...], ask: str, words: str, trees: tuple[str, ...], of: str
) -> Placed:
    body = {
        "fact": told.fact, "tree": ", ".join(trees), "ask": ask, "answer": words, "of": of,
        "by": told.by.strip()[:200],
    }  # fmt: skip
    return Placed((*edits, Edit("answer", "", body)), f"answered: {ask} {words}"[:400])


def _owner(sheet: Sheet, reading: Reading, told: Told) -> Placed:
    tree = told.fact.rsplit(".", 1)[0]
    item = sheet.tree_item(tree)
    if item is None:
        raise PlacingError(f"there is no tree {tree!r}")
    if told.value not in OWNERS or told.value == "unknown":
        raise PlacingError("choose whose tree it is")
    ask = reading.say("consent.ask_owner", tree=tree)
    edits = (set_cells(item, {"owner": told.value}),)
    return _recorded(told, edits, ask, told.value, (tree,), reading.word("of", "client"))


# --- the tree -------------------------------------------------------------------------------------


def _of_tree(
    sheet: Sheet, kind: str, told: Told, chosen: QuestionAnswer | None, speaker: Speaker
) -> tuple[Edit, ...]:
    name = told.fact.rsplit(".", 1)[0]
    item = sheet.tree_item(name)
    if item is None or item.body is None:
        raise PlacingError(f"there is no tree {name!r}")
    cells = item.body["cells"]
    values = {} if chosen is None else dict(chosen.answer.values)
    if kind == "species":
        species = told.value.strip() or str(values.get("species", "")).split(" / ")[0]
        return (set_cells(item, {"species": species}),)
    written = told.value.strip()
    if chosen is not None:
        written = speaker.amounts.trunk(float(values["trunk_cm"])).replace(" ", "")
    stems = str(cells.get("diameter") or cells.get("girth") or "")
    notes = "; ".join(
        x for x in (str(cells.get("notes", "")), f"trunk written as {stems}" if stems else "") if x
    )
    told_cells = {"diameter": written, "notes": notes}
    if cells.get("girth"):
        told_cells["girth"] = ""
    return (set_cells(item, told_cells),)


# --- works ----------------------------------------------------------------------------------------


def _properties(
    kind: str, told: Told, chosen: QuestionAnswer | None, sheet: Sheet
) -> dict[str, str]:
    code = "" if chosen is None else chosen.answer.code.removeprefix("answer.")
    if kind == "made":
        word = code.removeprefix("made_") or told.value.strip()
        if word not in MAKINGS:
            raise PlacingError(f"made: one of {', '.join(MAKINGS)}")
        return {"made": word}
    if kind == "present":
        if chosen is None:
            raise PlacingError("it is there or it is not")
        return {"present": "yes" if code == "present_yes" else "no"}
    if kind == "later":
        if chosen is None:
            raise PlacingError("it is built or it is not")
        return {"phase": "proposed"} if code == "later_built" else {"present": "no"}
    if chosen is None:
        value = told.value.strip()
        _metres(value, sheet)
    else:
        metres = [v for v in dict(chosen.answer.values).values() if not isinstance(v, str)]
        if not metres:
            raise PlacingError("this says that it is not told; leave the question open")
        value = f"{float(metres[0]):.4f} m"
    return {_LENGTHS[kind]: value}


def _metres(value: str, sheet: Sheet) -> float:
    unit = length_unit(sheet.job.survey.units)
    try:
        metres = parse_length(value, default_unit=unit).value_m
    except UnitError as e:
        raise PlacingError(f"{value!r}: a length, such as 3 or 0.9 m ({e.expected})") from None
    if not 0 <= metres <= _FAR_M:
        raise PlacingError(f"{value!r}: a length of 0 to {_FAR_M:g} m")
    return metres


def _entries(sheet: Sheet, fact: str) -> list[WorkItem]:
    ids = fact.rsplit(".", 1)[0]
    works = sheet.works()
    whole = [w for w in works if w.work.id == ids]
    wanted = set(ids.split("+"))
    found = whole or [w for w in works if w.work.id in wanted]
    if not found:
        raise PlacingError(f"there is no work {ids!r} on this plan")
    return found


def _of_works(sheet: Sheet, fact: str, told: Mapping[str, str | None]) -> tuple[Edit, ...]:
    entries = _entries(sheet, fact)
    own = [e for e in entries if e.item is not None]
    drawn = [e.work for e in entries if e.item is None]
    edits = [_own_edit(sheet, e, told) for e in own]
    if drawn and sheet.variant:
        edits += [adopted(sheet, w, _with(w, told)) for w in drawn]
    elif drawn:
        edits.append(_layer_edit(sheet, drawn, told))
    return tuple(edits)


def _own_edit(
    sheet: Sheet, entry: WorkItem, told: Mapping[str, str | None], geometry: object | None = None
) -> Edit:
    item = entry.item
    assert item is not None
    assert item.body is not None
    was = item.body["feature"].get("properties") or {}
    properties = {k: v for k, v in {**was, **told}.items() if v is not None}
    placed = work_edit(
        sheet, key=item.key, version=item.version, properties=properties, geometry=geometry
    )
    return placed.edits[0]


def _with(work: Work, told: Mapping[str, str | None]) -> dict[str, str | None]:
    return {"id": f"{work.id} told", **told}


def _layer_edit(sheet: Sheet, drawn: list[Work], told: Mapping[str, str | None]) -> Edit:
    """Write an answer to the layers the works stand on, in survey.toml."""
    head = sheet.head()
    values: list[tuple[tuple[str | int, ...], Any]] = []
    for file, layer in dict.fromkeys((w.file, w.layer) for w in drawn):
        path, now = _layer(head, file, layer)
        if isinstance(now, str):
            whole = {"kind": now, **{k: v for k, v in told.items() if v is not None}}
            values.append((path, whole))
            continue
        values += [((*path, k), v) for k, v in told.items() if v is not None or k in now]
    try:
        return set_head(sheet.stored, *values)
    except StoreError as e:
        raise PlacingError(str(e)) from None


def _layer(head: Mapping[str, Any], file: str, layer: str) -> tuple[tuple[str | int, ...], Any]:
    """Give the key of a layer in survey.toml, and what stands there."""
    for drawing in drawing_entries(head):
        layers = drawing.told.get("layers", {})
        name = next((k for k in layers if k.casefold() == layer.casefold()), None)
        if drawing.file == file and name is not None:
            return (*drawing.path, "layers", name), layers[name]
    raise PlacingError(f"survey.toml does not name layer {layer!r} under [drawing.layers]")


# --- where something really is --------------------------------------------------------------------


def _of_place(
    sheet: Sheet, told: Told, chosen: QuestionAnswer | None, trees: tuple[str, ...]
) -> tuple[Edit, ...]:
    if chosen is not None and chosen.answer.code == "answer.offset_as_drawn":
        return _of_works(sheet, told.fact, {"offset": None})
    tree = told.tree or trees[0]
    edits = []
    for entry in _entries(sheet, told.fact):
        near = _near(sheet, tree, entry.work)
        if near is None:
            raise PlacingError(f"measure from a tree it is near to, not from {tree!r}")
        if chosen is None:
            away_m = _metres(told.value.strip(), sheet) - near.distance_m
        else:
            sign = 1.0 if chosen.answer.code == "answer.offset_farther" else -1.0
            away_m = sign * float(dict(chosen.answer.values)["offset_m"])
        bearing = math.radians(near.bearing_deg)
        there = moved(entry.work, away_m * math.sin(bearing), away_m * math.cos(bearing))
        geometry = geometry_in_survey(sheet, there)
        if entry.item is not None:
            edits.append(_own_edit(sheet, entry, {"offset": None}, geometry))
        elif sheet.variant:
            edits.append(adopted(sheet, replace(there, offset_m=0.0), _with(there, {})))
        else:
            raise PlacingError(
                "a drawing stays as it is: make a what-if copy of the works and answer there"
            )
    return tuple(edits)


def _near(sheet: Sheet, tree_id: str, work: Work) -> NearWork | None:
    tree = next((t for t in sheet.job.survey.trees if t.id == tree_id), None)
    if tree is None or tree.x_m is None or tree.y_m is None:
        return None
    found = near_works((tree.x_m, tree.y_m), _FAR_M, (work,))
    # The trunk stands in the footprint: there is no direction to move it away in.
    return found[0] if found and found[0].distance_m > 0 else None
