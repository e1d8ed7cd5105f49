"""Cautions that follow from what was found: on a tree, on the site, and always.

What endangers people now stands first, whatever it has to do with trees.
"""

import re
from collections.abc import Sequence
from functools import lru_cache
from typing import Protocol

from bolewalk.model.statements import Statement, say
from bolewalk.model.survey import Survey
from bolewalk.model.trees import Tree
from bolewalk.model.works import Work
from bolewalk.reference.wood import wood_kind
from bolewalk.rules.near import distance_m
from bolewalk.rules.settings import packaged
from bolewalk.rules.table import RuleTable, WireRule
from bolewalk.rules.wires import approach_distance_m, boom_distance_m, vegetation_clearance_m

__all__ = [
    "ALWAYS", "HazardLike", "always_cautions", "site_cautions", "tree_cautions", "urgent_first",
    "wire_rules_near",
]  # fmt: skip

ALWAYS = (
    "no_tree_free_of_risk", "what_was_seen", "local_code", "utility", "engineer", "surveyor",
    "lawyer",
)  # fmt: skip
"""What every paper says, whatever was found: limits, and what is others' to decide."""

_DIG_KINDS = frozenset(
    {"pile", "trench", "excavation", "strip footing", "building", "drain", "utility", "wall"}
)
_HANDS_ON = ("prune", "remove")


class MomentLike(Protocol):
    """When something was said, and the words."""

    @property
    def start(self) -> float:
        """Second of the recording."""
        ...

    @property
    def said(self) -> str:
        """The words."""
        ...


class HazardLike(Protocol):
    """A danger heard on the walk."""

    @property
    def kind(self) -> str:
        """What it is."""
        ...

    @property
    def urgent(self) -> bool:
        """Whether somebody must be called before anything else."""
        ...

    @property
    def moments(self) -> Sequence[MomentLike]:
        """When it was spoken of."""
        ...


_URGENT = {
    "gas smell": "gas", "live wire": "wire", "fire or smoke": "fire", "water leak": "water",
    "carbon monoxide": "monoxide", "open pit or collapse": "collapse", "asbestos": "asbestos",
}  # fmt: skip


def urgent_first(hazards: Sequence[HazardLike]) -> tuple[Statement, ...]:
    """Give the urgent dangers of a walk as the sentences that head every paper.

    Each kind once, in the order of the walk; a kind without a sentence of its own keeps its name.
    """
    made: dict[str, Statement] = {}
    for h in hazards:
        if not h.urgent or h.kind in made:
            continue
        said, start = (h.moments[0].said, h.moments[0].start) if h.moments else ("", 0.0)
        code = _URGENT.get(h.kind, "other")
        made[h.kind] = say(f"caution.urgent_{code}", hazard=h.kind, said=said, start_s=start)
    return tuple(made.values())


def always_cautions() -> tuple[Statement, ...]:
    """Give what every paper says, in the order it is said."""
    return tuple(say(f"caution.{name}") for name in ALWAYS)


def site_cautions(
    survey: Survey, tables: Sequence[RuleTable], hazards: Sequence[HazardLike] = ()
) -> tuple[Statement, ...]:
    """Give the cautions of the site as a whole: heard, digging, slope, command, wildlife."""
    made = [
        say("caution.heard", hazard=h.kind, said=h.moments[0].said, start_s=h.moments[0].start)
        for h in hazards
        if not h.urgent and h.moments
    ]
    planned = [w for w in survey.works if w.phase != "existing" and w.present != "no"]
    if any(w.kind in _DIG_KINDS for w in planned):
        rules = [t.digging for t in tables if t.digging is not None]
        made += [_digging(r.citation, r.notice_days, r.call) for r in rules]
        made += [
            say("caution.dig_by_hand", citation=r.citation, within_m=r.hand_within_m)
            for r in rules
            if r.hand_within_m is not None
        ]
        made += [
            say("caution.digging_expires", citation=r.citation, days_count=r.expires_days)
            for r in rules
            if r.expires_days is not None
        ]
        made += [] if rules else [say("caution.digging")]
    if planned:
        made.append(say("caution.command_site"))
    hands_on = any(t.decision in _HANDS_ON for t in survey.trees)
    if hands_on:
        made += [say("caution.command_crew"), say("caution.climbing"), say("caution.wildlife")]
        made += [
            say("caution.nest_buffer", citation=s.citation, buffer_m=s.buffer_m)
            for t in tables
            for s in t.seasons
            if s.buffer_m is not None
        ]
    slope = survey.site.slope_pct
    if slope is not None and slope >= packaged("settings.toml")["slope"]["steep_pct"]:
        made.append(say("caution.slope", slope_pct=slope))
    return tuple(dict.fromkeys(made))


def _digging(citation: str, days: int, call: str) -> Statement:
    code = "caution.digging_rule_call" if call else "caution.digging_rule"
    return say(code, citation=citation, days_count=days, call=call)


def tree_cautions(tree: Tree, survey: Survey, tables: Sequence[RuleTable]) -> tuple[Statement, ...]:
    """Give the cautions of one tree: wires, palms with skirts, decay, doubtful wood, wildlife."""
    made: list[Statement] = []
    near = [w for w in survey.works if w.kind == "wire" and _wire_near(tree, w)]
    for work in near:
        made += _wire_says(tree, work, tables)
    text = f"{tree.notes} {tree.access} ".lower()
    if not near and _speaks("wire", text):
        made.append(say("caution.wire_noted", tree=tree.id, **_ten_feet()))
    palm = tree.form == "palm" or wood_kind(tree.species.botanical or "") == "palm"
    if palm:
        tall = packaged("settings.toml")["tall_palm"]["skirt_m"]
        low = tree.height_m is not None and tree.height_m.value <= tall
        if _speaks("skirt", text) or not low:
            made.append(say("caution.palm_skirt", tree=tree.id))
    if _speaks("decay", text):
        made.append(say("caution.decay", tree=tree.id))
    doubtful = tree.health == "dead" or tree.structure == "poor" or _speaks("climb", text)
    if tree.decision in _HANDS_ON and (doubtful or _speaks("decay", text)):
        made.append(say("caution.not_climbed", tree=tree.id))
    if _speaks("wildlife", text):
        made.append(say("caution.wildlife_noted", tree=tree.id))
    return tuple(dict.fromkeys(made))


def wire_rules_near(
    tree: Tree, survey: Survey, tables: Sequence[RuleTable]
) -> tuple[WireRule, ...]:
    """Give the wire rules on file that speak of a wire near a tree."""
    near = [w for w in survey.works if w.kind == "wire" and _wire_near(tree, w)]
    rules = [r for w in near for r in _rules_of(w, tables)]
    return tuple(dict.fromkeys(rules))


def _rules_of(work: Work, tables: Sequence[RuleTable]) -> list[WireRule]:
    names = ("", work.id, work.label)
    return [r for t in tables for r in t.wires if r.work in names]


def _wire_near(tree: Tree, work: Work) -> bool:
    away = distance_m(tree, work)
    if away is None or work.present == "no":
        return False
    reach = 0.0 if tree.crown is None else max(tree.crown.radii_m)
    # Who works at the crown's edge must not come nearer to the wire than this.
    return away - reach <= approach_distance_m(0)


def _ten_feet() -> dict[str, float]:
    return {"person_m": approach_distance_m(0)}


def _wire_says(tree: Tree, work: Work, tables: Sequence[RuleTable]) -> list[Statement]:
    name = work.label or work.id
    rules = _rules_of(work, tables)
    kv = max((r.kv for r in rules if r.kv is not None), default=None)
    what = {"tree": tree.id, "work": name}
    if kv is None:
        made = [say("caution.wire_unknown", **what, **_ten_feet())]
    else:
        made = [say("caution.wire", **what, kv=kv, person_m=approach_distance_m(kv))]
        boom = boom_distance_m(kv)
        if boom is not None:
            made.append(say("caution.wire_boom", **what, kv=kv, boom_m=boom))
        growth = vegetation_clearance_m(kv)
        if growth is not None:
            made.append(say("caution.wire_growth", **what, kv=kv, clear_m=growth))
    for r in rules:
        made.append(say("caution.wire_who", **what, who=r.who, citation=r.citation))
        if r.clearance_m is not None:
            made.append(
                say("caution.wire_clearance", **what, clear_m=r.clearance_m, citation=r.citation)
            )
    if not rules:
        made.append(say("caution.wire_who_unknown", **what))
    return made


@lru_cache(maxsize=8)
def _pattern(group: str) -> re.Pattern[str]:
    words = packaged("caution_words.toml")[group]["words"]
    return re.compile(r"\b(?:" + "|".join(re.escape(w) for w in words) + ")")


def _speaks(group: str, text: str) -> bool:
    return _pattern(group).search(text) is not None
