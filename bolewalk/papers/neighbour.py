"""The letter to a neighbour, a co-owner or the authority: what is planned, and leave for it.

One letter for each that must be asked, with all trees that are theirs; no letter where nothing
is to be done to their trees and no works touch them.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from bolewalk.papers.conditions import decisive
from bolewalk.papers.draw.plan import met_by_works
from bolewalk.papers.front import cautions, common_data
from bolewalk.papers.reading import DASH, Reading, client_name, stays

if TYPE_CHECKING:
    from bolewalk.rules.consent import TreeConsent
    from bolewalk.survey import TreeFinding

__all__ = ["neighbour_data"]

_PARTIES = {"neighbour": ("neighbour", "shared"), "authority": ("public",)}
_NAMED = {
    "neighbour": ("neighbour", "neighbor", "co-owner"),
    "authority": ("town", "city", "authority"),
}
_LEAST_PCT = 0.1


def neighbour_data(reading: Reading) -> dict[str, Any] | None:
    """Give the letters as JSON values; None where nobody has to be asked."""
    letters = []
    for party, owners in _PARTIES.items():
        trees = [t for t in reading.findings.trees if _owner(reading, t) in owners and _asked(t)]
        if trees:
            letters.append(_letter(reading, party, trees))
    if not letters:
        return None
    words = reading.labels("neighbour")
    a = reading.findings.survey.people.assessor
    return {
        **common_data(reading),
        "title": words["title"],
        "n": words,
        "letters": letters,
        "who": DASH if a is None else ", ".join(x for x in (a.name, a.contact) if x),
        "client": client_name(reading) or DASH,
        "place": reading.findings.survey.place,
        "drawings": reading.drawings_named(),
        "cautions": cautions(reading),
    }


def _consent(reading: Reading, t: "TreeFinding") -> "TreeConsent | None":
    rules = reading.findings.rules
    found = None if rules is None else rules.of(t.tree.id)
    return None if found is None else found.consent


def _owner(reading: Reading, t: "TreeFinding") -> str:
    consent = _consent(reading, t)
    return t.tree.owner if consent is None else consent.owner


def _asked(t: "TreeFinding") -> bool:
    return t.tree.decision in ("prune", "remove", "inspect") or met_by_works(t.impact)


def _letter(reading: Reading, party: str, trees: "Sequence[TreeFinding]") -> dict[str, Any]:
    people = reading.findings.survey.people.others
    names = [p.name for p in people if any(w in p.role.lower() for w in _NAMED[party])]
    words = reading.labels("neighbour")
    return {
        "to": ", ".join(names) or words[f"to_{party}"],
        "dear": words["dear"].replace("{name}", ", ".join(names))
        if names
        else words["dear_unnamed"],
        "ask": words[f"ask_{party}"],
        "trees": [_tree(reading, t) for t in trees],
    }


def _tree(reading: Reading, t: "TreeFinding") -> dict[str, Any]:
    consent = _consent(reading, t)
    says = () if consent is None else consent.says
    line = [s for s in says if s.code.split(".")[-1].startswith(("line_", "owner_"))]
    return {
        "id": t.tree.id,
        **reading.species(t.tree),
        "whose": reading.texts(line) or [reading.labels("neighbour_whose")[t.tree.owner]],
        "what": [reading.labels("neighbour_what")[t.tree.decision or "none"], *_works(reading, t)],
        "kept": reading.texts(decisive(t.impact.verdict)) if stays(t.tree) else [],
    }


def _works(reading: Reading, t: "TreeFinding") -> list[str]:
    roots, crown = t.impact.roots, t.impact.crown
    out = []
    if roots is not None and stays(t.tree):
        now = roots.proposed
        sides = ", ".join(c for c, v in now.sectors_pct.items() if v >= _LEAST_PCT)
        if now.severed_pct >= _LEAST_PCT:
            out.append(
                reading.say("neighbour_says.cut", severed_pct=now.severed_pct, sides=sides or DASH)
            )
        if now.covered_pct >= _LEAST_PCT:
            out.append(reading.say("neighbour_says.covered", covered_pct=now.covered_pct))
        if not out:
            out.append(reading.labels("neighbour")["no_works"])
    if crown is not None and crown.removed_pct and crown.removed_pct >= _LEAST_PCT:
        out.append(reading.say("neighbour_says.crown", removed_pct=crown.removed_pct))
    return out
