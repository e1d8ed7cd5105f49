"""The same work written so that another bidder prices the same job."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from bolewalk.model.statements import Statement, say
from bolewalk.model.units import CM_PER_IN
from bolewalk.pricing.debris import diameter_class_in
from bolewalk.pricing.price import Price
from bolewalk.pricing.word_check import scope_words

__all__ = ["BID_ANSWERS", "BidRow", "BidSheet", "bid_sheet"]

BID_ANSWERS = ("price", "included", "excluded", "start", "licence", "insurance")
"""What each bidder fills in."""


@cache
def _specification() -> Mapping[str, Any]:
    text = files("bolewalk.pricing").joinpath("data/bid_specification.toml").read_text("utf-8")
    return tomllib.loads(text)


@dataclass(frozen=True, slots=True)
class BidRow:
    """One line of the sheet, without any price of ours.

    `class_in` is the trunk class in inches (over, up to). `objective`, `parts`, `limits` and
    `method` say what is wanted in neutral words; `scope` states stump, wood, chips and clean-up
    yes or no. `blocked` tells that leave of another owner is missing: not to be bid yet.
    """

    item: str
    tree: str
    label: str
    task: str
    diameter_cm: float | None
    class_in: tuple[float, float | None] | None
    height_m: float | None
    objective: Statement
    parts: Statement
    limits: tuple[Statement, ...]
    method: tuple[Statement, ...]
    scope: tuple[tuple[str, bool, Statement], ...]
    option: bool
    blocked: bool


@dataclass(frozen=True, slots=True)
class BidSheet:
    """The sheet: rows, what each bidder fills in, what no line includes, the class rule."""

    rows: tuple[BidRow, ...]
    answers: tuple[str, ...]
    exclusions: tuple[Statement, ...]
    class_rule: Statement


def _kind(task: str) -> str:
    return "remove" if task.startswith("remove") else task


def bid_sheet(price: Price) -> BidSheet:
    """Make the bid-compare sheet of a price: its work, none of its figures.

    The way a removal is done is left to the bidder, so every way down gives one and the same
    row.
    """
    rows = []
    for line in price.lines:
        item = line.item
        kind = _kind(item.task)
        spec = _specification()[kind]
        across = item.diameter_cm
        rows.append(
            BidRow(
                item=item.id,
                tree=item.tree,
                label=item.label,
                task=kind,
                diameter_cm=across,
                class_in=None if not across else diameter_class_in(round(across / CM_PER_IN, 6)),
                height_m=item.facts.height_m,
                objective=say(f"bid.objective_{kind}", tree=item.tree or item.label),
                parts=say(f"bid.parts_{spec['parts']}"),
                limits=_limits(spec),
                method=tuple(say(f"bid.method_{m}") for m in spec["method"]),
                scope=_scope(item.scope),
                option=item.standing == "option",
                blocked=item.standing == "blocked",
            )
        )
    return BidSheet(tuple(rows), BID_ANSWERS, price.exclusions, say("bid.class_rule"))


def _limits(spec: Mapping[str, Any]) -> tuple[Statement, ...]:
    limits = []
    if "branch_cm" in spec:
        limits.append(say("bid.limit_branch", branch_cm=float(spec["branch_cm"])))
    if "live_crown_pct" in spec:
        limits.append(say("bid.limit_live_crown", live_crown_pct=float(spec["live_crown_pct"])))
    return tuple(limits)


def _scope(scope: Mapping[str, str]) -> tuple[tuple[str, bool, Statement], ...]:
    done = {"grind", "haul", "rake"}
    words: Sequence[str] = scope_words()["always"]["remove"]
    return tuple((w, scope[w] in done, say(f"scope.{w}_{scope[w]}")) for w in words if w in scope)
