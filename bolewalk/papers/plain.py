"""What the client reads, in plain words: one line a tree, three ways to go, what is not said.

Shared by the letter and the client's page, so that both tell one story.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from bolewalk.papers.draw.plan import met_by_works
from bolewalk.papers.price import price_data
from bolewalk.papers.questions import questions_data
from bolewalk.papers.reading import Reading, plain_date, stays

if TYPE_CHECKING:
    from bolewalk.survey import TreeFinding

__all__ = ["Way", "first_things", "needs_line", "plain_data", "tree_line", "ways_to_go"]

_FIRST = ("remove", "inspect")
"""Decisions that come first where the work is split in two: our reading, no source."""
_LOST = ("redesign", "undecided")
_LIMITS = ("day", "level", "unseen", "line", "rules", "drawing", "risk")


@dataclass(frozen=True, slots=True)
class Way:
    """One of the three ways to go: a head, what it means, what it costs."""

    head: str
    says: tuple[str, ...]
    price: str


def plain_data(reading: Reading) -> dict[str, Any]:
    """Give the plain parts as JSON values."""
    words = reading.labels("plain")
    lines = [tree_line(reading, t) for t in reading.findings.trees if needs_line(t)]
    quiet = [t for t in reading.findings.trees if not needs_line(t)]
    asked = [q for q in questions_data(reading) if q["of"] == reading.word("of", "client")]
    return {
        "w": words,
        "urgent": reading.urgent(),
        "short": _short(reading),
        "lines": lines,
        "quiet": [
            {"id": t.tree.id, "name": reading.species(t.tree)["name"]} for t in quiet
        ],
        "ways": [
            {"head": w.head, "says": list(w.says), "price": w.price} for w in ways_to_go(reading)
        ],
        "asked": [q["ask"] for q in asked],
        "others_asked": len({q["n"] for q in questions_data(reading)}) - len(asked),
        "aside": _aside(reading),
        "limits": [_limit(reading, code) for code in _LIMITS],
    }  # fmt: skip


def needs_line(t: "TreeFinding") -> bool:
    """Tell whether a tree needs a line of its own: work, a second look, or works that touch it."""
    if t.tree.decision != "retain":  # no decision is not "nothing is to be done"
        return True
    v = t.impact.verdict
    return v is not None and (v.now != "keep" or v.with_later in _LOST)


def tree_line(reading: Reading, t: "TreeFinding") -> dict[str, Any]:
    """Give one tree in plain words: advice, what was found, the works, what waiting means."""
    v, decision = t.impact.verdict, t.tree.decision
    mark = "remove" if not stays(t.tree) else v.now if v else "none"
    reason = v.because if v else ()
    known = reading.labels("plain_because")
    codes = [s.code.split(".", 1)[-1] for s in reason]
    why = next((known[c] for c in codes if c in known), "")
    later = v is not None and v.with_later != v.now and v.with_later in _LOST
    works = ""
    touched = v is not None and (met_by_works(t.impact) or v.now != "keep" or later)
    if stays(t.tree) and v is not None and touched:
        works = reading.word("verdict_plain", v.now)
        if v.now == "keep" and later:
            works = reading.labels("plain")["not_with_later"]
            why = ""
    return {
        "id": t.tree.id,
        "name": reading.species(t.tree)["name"],
        "mark": mark,
        "advice": (
            reading.word("decision_plain", decision)
            if decision
            else reading.labels("plain")["not_decided"]
        ),
        "found": _closed(t.tree.notes),
        "works": works,
        "why": why if works and v is not None and v.now != "keep" else "",
        "wait": reading.labels("plain_wait").get(decision or "", ""),
    }


def _closed(note: str) -> str:
    """End a note as a sentence, so that what follows is not read into it."""
    plain = note.strip()
    return plain if not plain or plain.endswith((".", "!", "?")) else plain + "."


def _short(reading: Reading) -> list[str]:
    f = reading.findings
    n = {d: sum(t.tree.decision == d for t in f.trees) for d in ("remove", "prune", "inspect")}
    wait = sum(
        t.impact.verdict is not None and t.impact.verdict.now == "undecided"
        for t in f.trees if stays(t.tree)
    )  # fmt: skip
    clash = sum(
        t.impact.verdict is not None and t.impact.verdict.now == "redesign"
        for t in f.trees if stays(t.tree)
    )  # fmt: skip
    out = [
        reading.say("plain_says.looked", date=plain_date(f.survey.date), trees_count=len(f.trees))
    ]
    counted = (
        ("remove", n["remove"]), ("prune", n["prune"]), ("inspect", n["inspect"]),
        ("clash", clash), ("wait", wait),
    )  # fmt: skip
    out += [reading.say(f"plain_says.{k}", trees_count=c) for k, c in counted if c]
    # A letter has no rows at its front that could say so.
    return out + reading.texts(f.examples)


def first_things(reading: Reading) -> "tuple[TreeFinding, ...]":
    """Give the trees whose work comes first."""
    return tuple(t for t in reading.findings.trees if t.tree.decision in _FIRST)


def ways_to_go(reading: Reading) -> tuple[Way, ...]:
    """Give three ways to go: all that is advised, first things first, nothing now."""
    words, price = reading.labels("plain"), reading.findings.price
    first = {t.tree.id for t in first_things(reading)}
    wanted = {
        t.tree.id for t in reading.findings.trees if t.tree.decision not in ("retain", None)
    }  # fmt: skip
    total, part = "", ""
    data = price_data(reading)
    if price is not None and data is not None:
        total = data["total"] if data["base"] or data["job"] else ""
        lines = [x for x in price.of("base") if x.item.tree in first]
        jobs = [j for j in price.job_lines if not j.trees or first & set(j.trees)]
        sum_minor = sum(x.price_minor for x in lines) + sum(j.price_minor for j in jobs)
        part = reading.say("plain_says.about", price_about_minor=sum_minor) if lines else ""
    rest = wanted - first
    ids = ", ".join(t.tree.id for t in first_things(reading))
    some = (
        reading.say("plain_says.first", trees=ids)
        if first and rest
        else words["way_some_none"]
    )  # fmt: skip
    until = (
        ""
        if price is None
        else reading.say("plain_says.until", until=plain_date(price.valid_until))
    )
    return (
        Way(words["way_all"], tuple(x for x in (words["way_all_says"], until) if x), total),
        Way(words["way_some"], (some,), part if first and rest else ""),
        Way(words["way_none"], (words["way_none_says"],), words["way_none_price"]),
    )


def _aside(reading: Reading) -> list[str]:
    """Say what was noticed that nobody asked about, and is not urgent."""
    draft = reading.findings.draft
    heard = () if draft is None else (h for h in draft.hazards if not h.urgent and h.moments)
    out = [
        reading.say(
            "plain_says.heard", hazard=h.kind, said=h.moments[0].said, moment_s=h.moments[0].start
        )
        for h in heard
    ]
    town = [t.tree.id for t in reading.findings.trees if t.tree.owner == "public"]
    if town:
        out.append(reading.say("plain_says.public", trees=", ".join(town), trees_count=len(town)))
    shared = [t.tree.id for t in reading.findings.trees if t.tree.owner in ("shared", "neighbour")]
    if shared:
        out.append(reading.say("plain_says.shared", trees=", ".join(shared)))
    return list(dict.fromkeys(out))


def _limit(reading: Reading, code: str) -> str:
    s = reading.findings.survey
    if code == "drawing":
        if not s.drawings:
            return reading.say("plain_says.limit_no_drawing")
        return reading.say("plain_says.limit_drawing", drawings=reading.drawings_named())
    if code == "day":
        return reading.say("plain_says.limit_day", date=plain_date(s.date))
    return reading.labels("plain")[f"limit_{code}"]
