"""What became of the advice given for one tree: followed, refused, put off, overdue, open."""

from collections.abc import Sequence
from datetime import date
from typing import Literal

from bolewalk.model.statements import Statement, say
from bolewalk.visits.record import Choice, Done, TreeThen

__all__ = ["Standing", "stand"]

Standing = Literal["followed", "refused", "postponed", "overdue", "open", "none"]
"""none: nothing was advised that anybody had to do."""

_TO_DO = ("prune", "remove", "inspect", "monitor")


def stand(
    then: TreeThen,
    *,
    given: date,
    today: date,
    choices: Sequence[Choice],
    done: Sequence[Done],
    found_again: bool,
) -> tuple[Standing, Choice | None, tuple[Done, ...], Statement]:
    """Tell what became of what was advised for one tree.

    Parameters
    ----------
    then : TreeThen
        The tree as it stood when the advice was given.
    given, today : date
        Day of the advice, and of today's survey: the days the record is read between.
    choices, done
        Of this tree alone, in any order.
    found_again : bool
        Whether the tree is in today's survey.

    Returns
    -------
    standing : Standing
        followed: the act is on record, or a removal advised and the tree is gone. Otherwise the
        last choice on or after the day of the advice decides; a choice to wait whose day has
        passed is overdue.
    choice : Choice or None
        The one that decided.
    done : tuple of Done
        What was done between the two days, in order.
    says : Statement
    """
    advice = then.tree.decision
    since = [c for c in choices if given <= c.date <= today]
    last = max(since, key=lambda c: c.date, default=None)
    acts = tuple(sorted((d for d in done if given <= d.date <= today), key=lambda d: d.date))
    what = {"tree": then.tree.id}
    if advice not in _TO_DO:
        code = "none" if found_again else "gone_unasked"
        if acts and not found_again:
            code = "gone_recorded"
        return "none", last, acts, say(f"visit.{code}", **what)
    told = {**what, "decision": advice}
    follow = next((d for d in acts if d.act == advice), None)
    if follow is not None:
        if advice == "remove" and found_again:
            return "open", last, acts, say("visit.removed_still_there", **told)
        return "followed", last, acts, say("visit.followed", **told, day=follow.date.isoformat())
    if advice == "remove" and not found_again:
        return "followed", last, acts, say("visit.gone_as_advised", **told)
    if advice == "monitor" and found_again and (last is None or last.choice != "no"):
        return "followed", last, acts, say("visit.looked_again", **told)
    if last is None:
        return "open", None, acts, say("visit.open", **told)
    told |= {"by": last.by, "day": last.date.isoformat()}
    if last.choice == "no":
        return "refused", last, acts, say("visit.refused", **told)
    if last.choice == "later":
        if last.until is None:
            return "postponed", last, acts, say("visit.postponed", **told)
        until = last.until.isoformat()
        if last.until < today:
            return "overdue", last, acts, say("visit.overdue", **told, until=until)
        return "postponed", last, acts, say("visit.postponed_until", **told, until=until)
    return "open", last, acts, say("visit.agreed_not_done", **told)
