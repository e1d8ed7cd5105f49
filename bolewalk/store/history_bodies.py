"""The bodies of a survey's entries with their whole history, and the same without a stretch of the
walk."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from sqlalchemy import Connection, delete, insert, select, update

from bolewalk.store.database import reading
from bolewalk.store.items import as_text, from_text
from bolewalk.store.media import Medium
from bolewalk.store.schema import changes, items
from bolewalk.store.store import Store

__all__ = ["bodies", "rewrite", "without_stretch"]


def bodies(store: Store, survey_id: int) -> Iterator[tuple[str, str, Mapping[str, Any], bool]]:
    """Give kind, key and body of all entries of a survey, and whether it says so now."""
    history = (
        select(items.c.kind, items.c.key, changes.c.before, changes.c.after, items.c.body)
        .join(items, items.c.id == changes.c.item_id)
        .where(items.c.survey_id == survey_id)
        .order_by(changes.c.id)
    )
    with reading(store.engine) as c:
        rows = c.execute(history).all()
    for kind, key, before, after, now in rows:
        for text in (before, after):
            body = from_text(text)
            if body is not None:
                yield kind, key, body, text == now


def rewrite(
    c: Connection, survey_id: int, edited: Callable[[Mapping[str, Any]], Mapping[str, Any]]
) -> None:
    """Rewrite every body of a survey, now and in its history.

    The history is only ever added to; here its rows are taken out and put back under their
    numbers, for this is the one thing it must not remember.
    """

    def again(text: str | None) -> str | None:
        body = from_text(text)
        return None if body is None else as_text(edited(body))

    mine = select(items.c.id).where(items.c.survey_id == survey_id)
    rows = c.execute(
        select(changes).where(changes.c.item_id.in_(mine)).order_by(changes.c.id)
    ).mappings().all()  # fmt: skip
    for row in rows:
        new = {**row, "before": again(row["before"]), "after": again(row["after"])}
        if new != dict(row):
            c.execute(delete(changes).where(changes.c.id == row["id"]))
            c.execute(insert(changes).values(new))
    for item in c.execute(select(items).where(items.c.survey_id == survey_id)).mappings().all():
        body = again(item["body"])
        if body != item["body"]:
            c.execute(update(items).where(items.c.id == item["id"]).values(body=body))


def without_stretch(
    value: Any, gone: Mapping[str, tuple[Medium, Medium]], span: tuple[float, float]
) -> Any:
    """Give a body with new files for old, and without words said within a span of the walk [s]."""
    if isinstance(value, list):
        return [without_stretch(v, gone, span) for v in value]
    if not isinstance(value, Mapping):
        return value
    made = {k: without_stretch(v, gone, span) for k, v in value.items()}
    pair = gone.get(made["sha256"]) if isinstance(made.get("sha256"), str) else None
    if pair is not None:
        made["sha256"] = pair[1].sha256
        if "size" in made:
            made["size"] = pair[1].size
    if isinstance(made.get("heard"), Mapping):
        made["heard"] = _unheard(made["heard"], span)
    return made


def _unheard(heard: Mapping[str, Any], span: tuple[float, float]) -> dict[str, Any]:
    """Take the words of the span out of what was heard of one tree; its times stay."""
    start, end = span
    taken = set()
    moments = []
    for moment in heard.get("moments", ()):
        a, b = moment.get("start", 0.0), moment.get("end", 0.0)
        if a < end and (b > start or a >= start):
            taken.add(moment.get("said"))
            moment = {**moment, "said": ""}
        moments.append(moment)
    if not taken:
        return dict(heard)
    measures = [
        {**m, "said": ""} if m.get("said") in taken else m for m in heard.get("measures", ())
    ]
    return {**heard, "moments": moments, "measures": measures}
