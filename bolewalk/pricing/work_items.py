"""From decision, tree and verdict to work items in defined words."""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal, Protocol

from bolewalk.model.statements import Statement, say
from bolewalk.model.survey import Survey
from bolewalk.model.trees import Tree
from bolewalk.pricing.debris import Debris, TreeMaterial, grindings, wood_debris
from bolewalk.pricing.material import is_palm
from bolewalk.pricing.rates import Rates
from bolewalk.pricing.site_facts import Surroundings, surroundings
from bolewalk.pricing.tasks import TaskFacts, hours_table
from bolewalk.pricing.word_check import scope_words
from bolewalk.trees.mass import stump
from bolewalk.trees.stems import equal_area_cm

__all__ = ["Standing", "VerdictLike", "WorkItem", "prune_task", "work_items"]

Standing = Literal["base", "option", "blocked"]
"""base: in the total. option: priced, may be added. blocked: priced, may not be done yet."""


class VerdictLike(Protocol):
    """What this room needs of a verdict on works: its conditions."""

    @property
    def conditions(self) -> tuple[Statement, ...]:
        """What must hold for the tree to be kept."""
        ...


@dataclass(frozen=True, slots=True)
class WorkItem:
    """One piece of work on one tree (or on the site: tree "").

    `task` is a task of the hours table, or "remove" while the way down is still to be chosen.
    `scope` states stump, wood, chips and clean_up where they apply: "grind", "haul", "rake",
    "leave", "drag_only". `says` are the sentences that define the work; `assumed` what was not
    recorded and was taken as usual. `blocked_by` tells what must be had first. `after` names
    items that must be done before. `stock` young plants of `stock_size` are bought.
    `set_price_minor` is a price stated beforehand, in place of hours and goods [minor units].
    """

    id: str
    tree: str
    label: str
    task: str
    standing: Standing
    facts: TaskFacts
    scope: Mapping[str, str] = field(default_factory=dict)
    says: tuple[Statement, ...] = ()
    assumed: tuple[Statement, ...] = ()
    blocked_by: Statement | None = None
    after: tuple[str, ...] = ()
    debris: Debris = field(default_factory=lambda: Debris({}, {}))
    material: TreeMaterial | None = None
    diameter_cm: float | None = None
    stock: int = 0
    stock_size: str = ""
    set_price_minor: int | None = None
    palm: bool = False
    brittle: bool = False
    clear_m: float | None = None
    permits: tuple[str, ...] = ()


def prune_task(tree: Tree) -> tuple[str, bool]:
    """Name the kind of pruning the tree's notes ask for, and whether it had to be assumed."""
    if is_palm(tree):
        limit = hours_table()["method"]["palm_climb_m"]
        low = tree.height_m is not None and tree.height_m.value <= limit
        return "prune_palm" if low else "prune_palm_lift", False
    notes = tree.notes.lower()
    for entry in scope_words()["prune"]:
        if any(re.search(rf"\b{re.escape(word)}", notes) for word in entry["words"]):
            return str(entry["task"]), False
    return "prune_clean", True


def _scope(kind: str, rates: Rates) -> dict[str, str]:
    words = scope_words()
    return {w: str(rates.scope.get(w, words["defaults"][w])) for w in words["always"].get(kind, ())}


def _consent(tree: Tree, consents: Collection[str]) -> Statement | None:
    """Say whose leave is missing; None where none is."""
    if tree.owner in ("client", "unknown") or tree.id in consents:
        return None
    return say(f"scope.blocked_{tree.owner}", tree=tree.id)


def _act(task: str) -> str:
    """Name what a task does to a tree, as leave is given for it."""
    if task in ("remove", "grind"):
        return "remove"
    return "roots" if task in ("root_prune", "air_dig") else "prune"


def _facts(
    tree: Tree, survey: Survey, material: TreeMaterial | None, about: Surroundings
) -> TaskFacts:
    site = survey.site
    return TaskFacts(
        task="",
        mass_t=None if material is None else material.green_kg / 1000,
        mass_low_t=None if material is None else material.low_kg / 1000,
        mass_high_t=None if material is None else material.high_kg / 1000,
        height_m=None if tree.height_m is None else tree.height_m.value,
        form=tree.form,
        dead=tree.health == "dead",
        wires=about.wires,
        targets=about.targets,
        carry_m=site.carry_m,
        slope_pct=site.slope_pct,
        gate_m=site.gate_m,
    )


def work_items(
    survey: Survey,
    rates: Rates,
    *,
    materials: Mapping[str, TreeMaterial],
    verdicts: Mapping[str, VerdictLike] | None = None,
    consents: Collection[str] = (),
    permits: Mapping[str, Sequence[str]] | None = None,
    blocked: Mapping[str, Mapping[str, Statement]] | None = None,
) -> tuple[WorkItem, ...]:
    """List the work a survey asks for, in tree order.

    Parameters
    ----------
    survey : Survey
    rates : Rates
        For the firm's usual scope.
    materials : mapping
        Tree id -> what it is made of; a tree that is missing here gets items without hours.
    verdicts : mapping, optional
        Tree id -> verdict on works: its conditions may ask the firm for work of their own.
    consents : collection of str
        Ids of trees whose other owners have agreed in writing.
    permits : mapping, optional
        Tree id -> names of permits its removal needs, as in the rates.
    blocked : mapping, optional
        Tree id -> act (remove, prune, roots) -> why it may not be done yet. Where it is given it
        alone decides: owners and `consents` have been weighed by whoever made it.

    Returns
    -------
    tuple of WorkItem
        "remove": a removal and, by the firm's scope, grinding as base or option; "prune": the
        kind its notes name; "monitor" and "inspect": a visit; "retain" or none: only what a
        verdict's conditions ask for. Work on a tree the client does not own alone is blocked
        until consent, except looking at it.
    """
    items: list[WorkItem] = []
    for tree in survey.trees:
        material = materials.get(tree.id)
        about = surroundings(tree, survey)
        facts = _facts(tree, survey, material, about)
        made: list[WorkItem] = []
        if tree.decision == "remove":
            made += _removal(tree, rates, facts, material)
            if permits and tree.id in permits:
                made[0] = replace(made[0], permits=tuple(permits[tree.id]))
        elif tree.decision == "prune":
            task, assumed = prune_task(tree)
            made.append(_pruning(tree, rates, facts, material, task, assumed))
        elif tree.decision in ("monitor", "inspect"):
            says = (say(f"scope.{tree.decision}", tree=tree.id),)
            made.append(_item(tree, tree.decision, facts, says=says))
        if tree.decision != "remove" and verdicts and tree.id in verdicts:
            made += _conditions(tree, rates, facts, material, verdicts[tree.id], made)
        leave = _consent(tree, consents)
        for item in made:
            consent = hours_table()["task"].get(item.task, {"consent": True})["consent"]
            item = replace(item, brittle=facts.dead or tree.structure == "poor")
            item = replace(item, clear_m=about.clear_m, palm=is_palm(tree))
            if item.palm and consent:
                # Crews have died under skirts of dead leaves: the warning goes with every line.
                item = replace(item, says=(*item.says, say("scope.palm_skirt", tree=tree.id)))
            if tree.owner == "unknown" and consent:
                owner = say("scope.owner_not_recorded", tree=tree.id)
                item = replace(item, assumed=(*item.assumed, owner))
            if blocked is not None:
                leave = blocked.get(tree.id, {}).get(_act(item.task))
            if leave is not None and consent:
                item = replace(item, standing="blocked", blocked_by=leave)
            items.append(item)
    return tuple(items)


def _item(
    tree: Tree,
    task: str,
    facts: TaskFacts,
    *,
    says: tuple[Statement, ...],
    name: str | None = None,
    standing: Standing = "base",
    scope: Mapping[str, str] | None = None,
) -> WorkItem:
    stems = [s.value for s in tree.stems_cm]
    return WorkItem(
        id=f"{tree.id}.{name or task}",
        tree=tree.id,
        label=tree.species.label,
        task=task,
        standing=standing,
        facts=replace(facts, task=task),
        scope=dict(scope or {}),
        says=says,
        diameter_cm=equal_area_cm(stems) if stems else None,
    )


def _removal(
    tree: Tree, rates: Rates, facts: TaskFacts, material: TreeMaterial | None
) -> list[WorkItem]:
    scope = _scope("remove", rates)
    item = _item(
        tree,
        "remove",
        replace(facts, handled_t=facts.mass_t),
        scope=scope,
        says=_scope_says("remove", tree, scope),
    )
    if material is not None:
        item = replace(
            item,
            material=material,
            debris=wood_debris(
                brush_kg=material.green_kg - material.log_kg,
                log_kg=material.log_kg,
                logs_kg_m3=material.logs_kg_m3,
                haul_chips=scope["chips"] == "haul",
                haul_logs=scope["wood"] == "haul",
            ),
        )
    made = [item]
    grind_scope = _scope("grind", rates)
    flare = None if tree.flare_cm is None else tree.flare_cm.value
    ground = None if item.diameter_cm is None else stump(item.diameter_cm, flare_cm=flare)
    grind = _item(
        tree,
        "grind",
        replace(facts, grind_m3=None if ground is None else ground.hole_m3),
        scope=grind_scope,
        says=_scope_says("grind", tree, grind_scope),
        standing="base" if scope["stump"] == "grind" else "option",
    )
    grind = replace(grind, after=(item.id,))
    if ground is not None:
        grind = replace(grind, diameter_cm=ground.diameter_cm)
        if grind_scope["chips"] == "haul":
            grind = replace(grind, debris=grindings(ground))
        if flare is None:
            grind = replace(grind, assumed=(say("scope.flare_not_measured", tree=tree.id),))
    made.append(grind)
    return made


def _pruning(
    tree: Tree,
    rates: Rates,
    facts: TaskFacts,
    material: TreeMaterial | None,
    task: str,
    assumed: bool,
) -> WorkItem:
    scope = _scope("prune", rates)
    share = hours_table()["task"][task]["share_pct"] / 100
    handled = None if facts.mass_t is None else facts.mass_t * share
    item = _item(
        tree,
        task,
        replace(facts, handled_t=handled),
        scope=scope,
        says=_scope_says(task, tree, scope),
    )
    if assumed:
        item = replace(item, assumed=(say("scope.prune_kind_assumed", tree=tree.id),))
    if material is None or handled is None:
        return item
    return replace(
        item,
        material=material,
        debris=wood_debris(
            brush_kg=handled * 1000, log_kg=0.0, haul_chips=scope["chips"] == "haul"
        ),
    )


def _conditions(
    tree: Tree,
    rates: Rates,
    facts: TaskFacts,
    material: TreeMaterial | None,
    verdict: VerdictLike,
    made: Sequence[WorkItem],
) -> list[WorkItem]:
    """Give the work that conditions of the verdict ask of the firm, as options: the client has
    not yet decided to build."""
    asked = {c.code for c in verdict.conditions}
    found: dict[str, WorkItem] = {}
    for entry in scope_words()["condition"]:
        task = str(entry["task"])
        if entry["code"] not in asked or any(m.task == task for m in made):
            continue
        if task.startswith("prune"):
            item = _pruning(tree, rates, facts, material, task, False)
            item = replace(item, standing="option")
        else:
            item = _item(
                tree,
                task,
                replace(facts, count=float(entry["count"])),
                says=(say(f"scope.{task}", tree=tree.id),),
                name=f"{task}_works",
                standing="option",
            )
        found.setdefault(task, item)
    return list(found.values())


def _scope_says(task: str, tree: Tree, scope: Mapping[str, str]) -> tuple[Statement, ...]:
    """Define the work and state every scope word, yes or no."""
    return (
        say(f"scope.{task}", tree=tree.id),
        *(say(f"scope.{word}_{choice}") for word, choice in scope.items()),
    )
