"""What-if copies of the works: tried beside the works themselves, and taken over or dropped."""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime

from bolewalk.store.edits import remove
from bolewalk.store.errors import StoreError
from bolewalk.store.items import Applied, Conflict, Edit, Item, StoredSurvey
from bolewalk.store.store import Store

__all__ = ["adopt_variant", "copy_works", "drop_variant"]


def copy_works(
    store: Store,
    survey_id: int,
    name: str,
    *,
    who: str,
    when: datetime,
    of: str = "",
    more: Callable[[str], Sequence[Edit]] = lambda _: (),
    send: str = "",
) -> str:
    """Copy the works under a name, to be changed apart from them.

    Parameters
    ----------
    store : Store
    survey_id : int
    name : str
        As people call it: "piles two feet south".
    who, when
        As `Store.change`.
    of : str
        Key of the copy to copy; "" = the works themselves.
    more : callable
        Given the key the copy is to have, edits that are to be part of the same step.
    send : str
        As `Store.change`.

    Returns
    -------
    str
        Key of the copy, for `Store.job` and `StoredSurvey.works`.

    Raises
    ------
    StoreError
        The name is taken, or someone else copied the works in the same moment.
    """
    if (before := store.sent(survey_id, who=who, send=send)) is not None:
        return next(i.key for i in before.items if i.kind == "variant")
    stored = store.load(survey_id)
    taken = {i.body["name"] for i in stored.of("variant") if i.body is not None}
    if not name.strip() or name in taken:
        raise StoreError(f"a name no other copy has, not {name!r}")
    # Keys of removed copies stay theirs: the history must tell one from the other.
    used = {c.key for c in store.history(survey_id, "variant")}
    key = next(k for n in range(1, len(used) + 2) if (k := f"variant-{n}") not in used)
    edits = [Edit("variant", key, {"name": name, "note": ""})]
    for work in stored.works(of):
        body = dict(work.body or {})
        body |= {"variant": key, "copy_of": body.get("copy_of", "") if of else work.key}
        edits.append(Edit("work", "", body))
    edits += more(key)
    note = f"works copied: {name}"
    done = store.change(survey_id, edits, who=who, when=when, note=note, send=send)
    if isinstance(done, Conflict):
        raise StoreError("someone else copied the works in the same moment; try again")
    return key


def drop_variant(
    store: Store, survey_id: int, key: str, *, who: str, when: datetime, send: str = ""
) -> Applied | Conflict:
    """Remove a what-if copy; undo brings it back."""
    stored = store.load(survey_id)
    edits = [remove(i) for i in (_variant(stored, key), *stored.works(key))]
    note = "copy of the works dropped"
    return store.change(survey_id, edits, who=who, when=when, note=note, send=send)


def adopt_variant(
    store: Store, survey_id: int, key: str, *, who: str, when: datetime, send: str = ""
) -> Applied | Conflict:
    """Make the works what a copy of them is, as one step of undo; the copy stays.

    Works keep their histories: those the copy changed change, those it lost go, new ones come.
    """
    stored = store.load(survey_id)
    name = (_variant(stored, key).body or {})["name"]
    base = {i.key: i for i in stored.works()}
    edits: list[Edit] = []
    for copy in stored.works(key):
        edits.append(_taken_over(copy, base))
    edits += [remove(i) for i in base.values()]
    note = f"works taken over: {name}"
    return store.change(survey_id, edits, who=who, when=when, note=note, send=send)


def _taken_over(copy: Item, base: dict[str, Item]) -> Edit:
    body: Mapping[str, object] = copy.body or {}
    plain = {k: v for k, v in body.items() if k not in ("variant", "copy_of")}
    own = base.pop(str(body.get("copy_of", "")), None)
    if own is None:
        return Edit("work", "", plain)
    return Edit("work", own.key, plain, own.version)


def _variant(stored: StoredSurvey, key: str) -> Item:
    item = stored.get("variant", key)
    if item is None:
        raise StoreError(f"there is no copy {key} of the works")
    return item
