"""The values nobody gave that stand behind one tree's verdict."""

from collections.abc import Callable

from bolewalk.impact.clashes import CROWN_KINDS
from bolewalk.impact.near import NearWork, names_of
from bolewalk.impact.standing import Standing
from bolewalk.model.statements import Statement, say
from bolewalk.model.survey import Method
from bolewalk.model.trees import Tree
from bolewalk.model.words import WorkKind
from bolewalk.model.works import Work

__all__ = ["defaults_of"]


def defaults_of(standing: Standing, tree: Tree, method: Method) -> tuple[Statement, ...]:
    """List the defaults a verdict leans on.

    Parameters
    ----------
    standing : Standing
        Works that do not reach the root zone lean on nothing.
    tree : Tree
    method : Method

    Returns
    -------
    tuple of Statement
        Works first, in order, then the tree; each once.
    """
    said: list[Statement] = []
    reached = [n for n in standing.near if n.distance_m < standing.zone.radius_m]

    def lacking(code: str, lacks: Callable[[NearWork], bool]) -> None:
        by_kind: dict[tuple[WorkKind, str], list[Work]] = {}
        for n in reached:
            if lacks(n):
                by_kind.setdefault((n.work.kind, n.work.label), []).append(n.work)
        for (kind, _), works in by_kind.items():
            said.append(say(code, works=names_of(works), kind=kind))

    lacking("default.present", lambda n: n.work.present == "unknown")
    lacking("default.pile_bored", lambda n: n.role == "pile" and n.work.made is None)
    lacking("default.depth_deep", lambda n: n.role == "severs" and n.work.depth_m is None)
    lacking(
        "default.founded_strip",
        lambda n: n.work.kind == "building" and not n.work.entered.get("founded"),
    )
    tall = {n.work.id for n in _untold_heights(standing, tree)}
    if tall:
        works = [n.work for n in standing.near if n.work.id in tall]
        said.append(say("default.existing_height", works=names_of(works)))
    loses = standing.roots.with_later.severed_pct > 0
    if standing.tolerance.level is None and loses:
        said.append(say("default.tolerance_unknown"))
    if method.root_zone == "tolerance-age" and tree.age is None:
        said.append(say("default.age_mature"))
    crown = standing.crown
    if crown is not None and crown.removed_pct and tree.form is None:
        said.append(say("default.crown_form"))
    return tuple(dict.fromkeys(said))


def _untold_heights(standing: Standing, tree: Tree) -> list[NearWork]:
    """Give what stands under or beside the crown today with neither underside nor top told.

    The crown was measured beside it as it stands, so it takes nothing off the crown; but nor was
    it set against the crown, and a reader must know.
    """
    if tree.crown is None:
        return []
    reach = max(tree.crown.radii_m)
    return [
        n
        for n in standing.near
        if n.work.phase == "existing"
        and n.work.present != "no"
        and n.work.kind in CROWN_KINDS
        and n.work.low_m is None
        and n.work.high_m is None
        and n.distance_m <= reach + n.work.clearance_m
    ]
