"""What the local rules say, as papers print it: protection, leave, earliest days, conflicts."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from bolewalk.papers.reading import Reading
from bolewalk.rules.dates import season_says
from bolewalk.rules.protection import reading_says

if TYPE_CHECKING:
    from bolewalk.rules.dates import ActDate
    from bolewalk.rules.findings import TreeRules

__all__ = ["rules_data", "tree_rules_data"]


def rules_data(reading: Reading) -> dict[str, Any] | None:
    """Give the section on local rules as JSON values; None where rules were not consulted.

    A tree has a row where a rule may protect it, somebody must agree, something bars an act or a
    question is open.
    """
    rules = reading.findings.rules
    if rules is None:
        return None
    rows = [row for t in rules.trees if (row := _row(reading, t)) is not None]
    return {
        "tables": [
            reading.say(
                "local_rules_says.table", place=t.place, source=t.source,
                checked=t.checked.isoformat(),
            )
            for t in rules.tables
            if t.place
        ]
        + [
            reading.say("local_rules_says.cited", rule=r.id, citation=r.citation)
            for t in rules.tables
            for r in t.rules
        ],
        "rows": rows if rules.tables else [],
        "owners": [] if rules.tables else [r for r in rows if r["leave"]],
        "conflicts": reading.texts(c.says for c in rules.conflicts),
        "duties": reading.texts((*rules.duties, *rules.deposit)),
        "cautions": reading.texts([
            *(season_says(s) for t in rules.tables for s in t.seasons),
            *(s for s in rules.cautions if s.code != "rule.table_used"),
        ]),
    }  # fmt: skip


def tree_rules_data(reading: Reading, tree: str) -> dict[str, Any] | None:
    """Give everything the rules say of one tree, in the reader's words and units.

    Parameters
    ----------
    reading : Reading
    tree : str
        Tree id.

    Returns
    -------
    dict or None
        None where rules were not consulted or there is no such tree. `status` and its word; `rules`
        with id, citation, status, sentences and every reading of the stems against the threshold;
        `leave`, `signers`, `blocked` (act -> sentence); `dates` (act, earliest day or "", what
        decides, every wait, what is open); `fire`, `conflicts`, `cautions`, `asks`, `meanwhile`.
    """
    rules = reading.findings.rules
    t = None if rules is None else rules.of(tree)
    if rules is None or t is None:
        return None
    amounts, p, say = reading.speaker.amounts, t.protection, reading.speaker.text
    return {
        "tree": tree,
        "status": p.status,
        "status_word": reading.word("protection", p.status),
        "says": reading.texts(p.says),
        "rules": [
            {
                "rule": s.rule.id, "citation": s.rule.citation, "status": s.status,
                "status_word": reading.word("protection", s.status),
                "because": reading.texts((*s.because, *s.says)),
                "threshold": "" if s.threshold_cm is None else amounts.trunk(s.threshold_cm),
                "readings": [
                    {
                        "name": reading.word("reading", r.name), "size": amounts.trunk(r.size_cm),
                        "over": amounts.trunk(abs(r.over_cm)), "meets": r.meets,
                        "decides": r.decides,
                    }
                    for r in s.readings
                ],
            }
            for s in p.rules
        ],
        "leave": reading.texts(t.consent.says),
        "signers": [
            {"as": reading.word("party", s.party), "name": s.name,
             "signed": [reading.word("act", a) for a in s.signed]}
            for s in t.consent.signers
        ],
        "blocked": {str(act): say(why) for act, why in t.consent.blocks.items()},
        "meanwhile": reading.texts(t.consent.meanwhile),
        "dates": [
            {
                "act": reading.word("act", d.act),
                "earliest": "" if d.earliest is None else d.earliest.isoformat(),
                "decided_by": "" if d.decided_by is None else say(d.decided_by),
                "waits": [{"until": w.until.isoformat(), "says": say(w.says)} for w in d.waits],
                "open": reading.texts(d.open),
            }
            for d in t.dates
        ],
        "fire": reading.texts(a.says for a in t.fire),
        "conflicts": reading.texts(c.says for c in rules.conflicts if c.tree == tree),
        "cautions": reading.texts(t.cautions),
        "asks": reading.texts((*t.asks, *t.says)),
    }  # fmt: skip


def _row(reading: Reading, t: "TreeRules") -> dict[str, Any] | None:
    p, consent = t.protection, t.consent
    held = p.status not in ("not_protected", "no_rule")
    leave = [*reading.texts(consent.says), *_blocked(reading, t)] if consent.signers else []
    told = reading.texts(consent.blocks.values()) if leave else []
    dates = _days(reading, t.dates if held or leave else _by_hand(t.dates), told)
    if not (held or leave or dates or t.asks):
        return None
    why: list[str] = reading.texts(p.says) if held else []
    for s in p.rules:
        if s.status != "not_protected":
            why += reading.texts((*s.because, *s.says))
        readings = reading_says(s)
        # One trunk reads the same in every way; only where they part is each worth a sentence.
        if held and len(readings) > 1:
            each = "; ".join(x.removesuffix(".") for x in reading.texts(readings))
            why.append(reading.say("local_rules_says.readings", rule=s.rule.id, each=each))
    return {
        "id": t.tree,
        "status": reading.word("protection", p.status),
        "why": list(dict.fromkeys(why)),
        "leave": leave,
        "dates": dates,
        "asks": reading.texts((*t.asks, *t.says)),
    }


def _blocked(reading: Reading, t: "TreeRules") -> list[str]:
    """Say what may not be done yet: in one sentence where all waits for the same consents."""
    blocks = t.consent.blocks
    missing = {dict(s.values).get("missing_count") for s in blocks.values()}
    if len(blocks) > 1 and len(missing) == 1 and None not in missing:
        acts = ", ".join(reading.word("act", act) for act in blocks)
        count = int(missing.pop() or 0)
        return [
            reading.say("local_rules_says.blocked", tree=t.tree, acts=acts, missing_count=count)
        ]
    return reading.texts(blocks.values())


def _by_hand(dates: "Sequence[ActDate]") -> "tuple[ActDate, ...]":
    return tuple(d for d in dates if d.act in ("remove", "prune"))


def _days(reading: Reading, dates: "Sequence[ActDate]", told: "Sequence[str]") -> list[str]:
    """Say the earliest day of each act, those of one day and one reason together; a reason that
    stands beside them under the leave of owners is not said again."""
    found: dict[tuple[str, str], list[str]] = {}
    for d in dates:
        if d.decided_by is None and d.earliest is not None:
            continue
        why = "" if d.decided_by is None else reading.speaker.text(d.decided_by)
        why = "" if why in told else why
        day = "" if d.earliest is None else d.earliest.isoformat()
        found.setdefault((day, why), []).append(reading.word("act", d.act))
    return [
        reading.say(
            f"local_rules_says.{'day' if day else 'no_day' if why else 'no_day_yet'}",
            day=day,
            acts=", ".join(acts),
            why=why,
        )
        for (day, why), acts in found.items()
    ]
