"""Which verdicts a new drawing reopens: those whose inputs moved, and only those."""

from dataclasses import replace
from typing import Literal

from bolewalk.impact.assess import Subject, site_of, subject_of
from bolewalk.impact.site import SiteWorks
from bolewalk.model.survey import Survey
from bolewalk.model.works import Work

__all__ = ["Reopened", "reopened"]

Reopened = Literal["tree", "works", "method", "new", "gone"]


def reopened(before: Survey, after: Survey) -> dict[str, Reopened]:
    """Compare two states of a survey and name the trees that must be judged again.

    Parameters
    ----------
    before, after : Survey
        A new revision of a drawing, a corrected tree, another method.

    Returns
    -------
    dict of str to Reopened
        By tree id, in the order of `after`, then trees that are gone: what moved. A tree that is
        not listed has, near its roots and crown, the very works it had, wherever they were read
        from: its verdict stands and keeps the drawing it was read from.
    """
    old = {t.id: subject_of(t, before.method) for t in before.trees}
    found: dict[str, Reopened] = {}
    if before.method != after.method:
        found = dict.fromkeys((t.id for t in after.trees), "method")
    was, is_now = site_of(before), site_of(after)
    for tree in after.trees:
        subject = subject_of(tree, after.method)
        then = old.get(tree.id)
        if then is None:
            found[tree.id] = "new"
        elif tree.id in found:
            continue
        elif _seen(then) != _seen(subject):
            found[tree.id] = "tree"
        elif _works(subject, was) != _works(subject, is_now):
            found[tree.id] = "works"
    here = {t.id for t in after.trees}
    return found | {name: "gone" for name in old if name not in here}


def _seen(s: Subject) -> tuple[object, ...]:
    """What of a tree a verdict reads; notes, photographs and the like are left out."""
    tree = s.tree
    return (
        s.xy, s.zone, s.solid, s.tolerance.level, tree.stems_cm, tree.age,
        tree.species.botanical, tree.species.alternatives, tree.species.confidence,
    )  # fmt: skip


def _works(subject: Subject, site: SiteWorks) -> list[Work]:
    if subject.xy is None or subject.zone is None:
        return []
    reach = subject.zone.radius_m
    if subject.solid is not None:
        reach = max(reach, max(subject.solid.radii_m) + site.widest_clearance_m)
    near = site.near(subject.xy, reach)
    return sorted((_bare(n.work) for n in near), key=repr)


def _bare(work: Work) -> Work:
    """The work without where it was read from: a new sheet of the same plan moves nothing."""
    return replace(work, id="", file="", ref="", drawing="", layer="", label="", entered={})
