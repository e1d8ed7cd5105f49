"""What has been worked out of one state of a survey: at once what is quick, the rest when asked.

A page must not wait for what nobody is looking at. Verdicts by the facts as recorded come for all
trees in one pass; open facts, nearest cuts and the price are worked out tree by tree and kept as
long as nothing near the tree changes.
"""

import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import shapely

from bolewalk.desk.spare_time import SPARE
from bolewalk.desk.spare_time import Work as SpareWork
from bolewalk.impact.assess import (
    Quick,
    Subject,
    assess_all,
    assess_tree,
    site_of,
    subject_of,
    verdicts_only,
)
from bolewalk.impact.facts import rows_of
from bolewalk.impact.near import outline_of
from bolewalk.impact.results import TreeImpact
from bolewalk.impact.site import SiteWorks
from bolewalk.intake.job import Job
from bolewalk.model.statements import Statement
from bolewalk.model.trees import Tree
from bolewalk.model.works import Work
from bolewalk.rules.findings import RuleFindings
from bolewalk.survey import Findings, TreeFinding, assess, rules_of
from bolewalk.trees.stems import combined_diameters
from bolewalk.walk.draft import Draft, DraftTree, draft
from bolewalk.walk.fuse import fuse

__all__ = ["Moved", "Reckoning"]

_REACH_ZONES, _REACH_M = 2.0, 3.0
"""A tree is looked at again when works change within twice its root zone and 3 m: wide enough for
the largest zone its trunk may turn out to have, and for works that stand off where they are
drawn (by their own offset, added)."""

_PATIENCE_S = 0.15
"""Seconds a page waits for what it shows before it says that it is being worked out."""


@dataclass(frozen=True, slots=True)
class Moved:
    """One tree whose quick verdict was worked out anew."""

    tree: str
    quick: Quick | None


class Reckoning:
    """One state of a survey, and what is known of it so far. Safe for several threads.

    Parameters
    ----------
    job : Job
    before : Reckoning, optional
        An earlier state; what has not changed since is taken over.
    """

    def __init__(self, job: Job, *, before: "Reckoning | None" = None) -> None:
        self.job = job
        self._lock = threading.Lock()
        # Locks of their own: what is known already is given meanwhile.
        self._whole = threading.Lock()
        self._hearing = threading.Lock()
        self._work: SpareWork | None = None
        self._failed = False
        self._stopped = threading.Event()
        self._findings: Findings | None = None
        self._walk: tuple[Draft | None, dict[str, DraftTree]] | None = None
        if before is not None and before.job.cues == job.cues and before.same_trees(job):
            self._walk = before._walk
        if before is not None and not before._bears_on(job):
            before = None
        self.subjects = self._subjects(before)
        changed = self._changed_works(before)
        self.site = self._site(before)
        self._impacts = self._kept(before, changed)
        self.quick = self._quick(before, changed)
        self.row_of = {t.id: i for i, t in enumerate(job.survey.trees)}

    # Taken over from the state before

    def same_trees(self, job: Job) -> bool:
        """Tell whether another state has the same trees."""
        return self.job.survey.trees == job.survey.trees

    def _bears_on(self, job: Job) -> bool:
        """Tell whether another state has the same of all that bears on every tree."""
        was, now = self.job.survey, job.survey
        same = (was.method, was.site, was.left_out) == (now.method, now.site, now.left_out)
        return same and self.job.limits == job.limits

    def _subjects(self, before: "Reckoning | None") -> tuple[Subject, ...]:
        known = {} if before is None else {s.tree.id: s for s in before.subjects}
        found = []
        for tree in self.job.survey.trees:
            old = known.get(tree.id)
            same = old is not None and old.tree == tree
            found.append(
                old
                if same and old is not None
                else subject_of(tree, self.job.survey.method, limits=self.job.limits)
            )
        return tuple(found)

    def _changed_works(self, before: "Reckoning | None") -> tuple[Work, ...] | None:
        """Give the works that differ, as they were and as they are; None = all of them."""
        if before is None:
            return None
        old, new = set(map(_key, before.job.survey.works)), set(map(_key, self.job.survey.works))
        return tuple(
            w
            for works, others in ((before.job.survey.works, new), (self.job.survey.works, old))
            for w in works
            if _key(w) not in others
        )

    def _site(self, before: "Reckoning | None") -> SiteWorks:
        works = self.job.survey.works
        if before is None:
            return site_of(self.job.survey)
        if works == before.site.works:
            return before.site
        differ = [i for i, w in enumerate(works) if i >= len(before.site.works)
                  or before.site.works[i] != w]  # fmt: skip
        if len(works) == len(before.site.works) and len(differ) == 1:
            return before.site.replaced(differ[0], works[differ[0]])
        return site_of(self.job.survey)

    def _kept(
        self, before: "Reckoning | None", changed: Sequence[Work] | None
    ) -> dict[str, TreeImpact]:
        if before is None or changed is None:
            return {}
        known = {s.tree.id: s for s in before.subjects}
        with before._lock:
            impacts = dict(before._impacts)
        touched = set(self._reached((*changed, *self._asked_with(before))))
        return {
            s.tree.id: impacts[s.tree.id]
            for s in self.subjects
            if s.tree.id in impacts and known.get(s.tree.id) is s and s.tree.id not in touched
        }

    def _asked_with(self, before: "Reckoning") -> tuple[Work, ...]:
        """Give the works of every row that a work has left or come to since: a question about a
        row names all of it, however far from the tree."""
        was, now = before.job.survey.works, self.job.survey.works
        stood, stand = ({(w.id, row) for w in works for row in rows_of(w)} for works in (was, now))
        other = {row for _, row in stood ^ stand}
        return tuple(w for w in (*was, *now) if rows_of(w) & other) if other else ()

    def _quick(
        self, before: "Reckoning | None", changed: Sequence[Work] | None
    ) -> tuple[Quick | None, ...]:
        if before is None or changed is None:
            return verdicts_only(self.subjects, self.site)
        last = {id(s): q for s, q in zip(before.subjects, before.quick, strict=True)}
        same = [s for s in self.subjects if id(s) in last]
        told = [last[id(s)] for s in same]
        if changed:
            told = list(verdicts_only(same, self.site, last=told, moved=changed))
        new = [s for s in self.subjects if id(s) not in last]
        told += verdicts_only(new, self.site)
        known = {id(s): q for s, q in zip((*same, *new), told, strict=True)}
        return tuple(known[id(s)] for s in self.subjects)

    def _reached(self, works: Sequence[Work]) -> Iterable[str]:
        if not works:
            return
        shapes = shapely.union_all([outline_of(w) for w in works])
        slack = max(w.offset_m + w.clearance_m for w in works)
        for s in self.subjects:
            if s.zone is None or s.xy is None:
                continue
            crown = 0.0 if s.solid is None else max(s.solid.radii_m)
            reach = _REACH_ZONES * max(s.zone.radius_m, crown) + _REACH_M + slack
            if shapely.dwithin(shapes, shapely.Point(s.xy), reach):
                yield s.tree.id

    # What a drag asks for

    def drag_work(self, work: Work) -> tuple[Moved, ...]:
        """Judge the trees again with one work changed; a work of a new id is added.

        Returns
        -------
        tuple of Moved
            The trees whose figures were worked out anew, in file order.
        """
        ids = [w.id for w in self.site.works]
        if work.id in ids:
            position = ids.index(work.id)
            site = self.site.replaced(position, work)
            moved: tuple[Work, ...] = (self.site.works[position], work)
        else:
            site = site_of(replace(self.job.survey, works=(*self.job.survey.works, work)))
            moved = (work,)
        quick = verdicts_only(self.subjects, site, last=self.quick, moved=moved)
        return tuple(
            Moved(s.tree.id, now)
            for s, was, now in zip(self.subjects, self.quick, quick, strict=True)
            if now is not was
        )

    def drag_tree(self, tree: Tree) -> Moved:
        """Judge one tree again as it is given here."""
        subject = subject_of(tree, self.job.survey.method, limits=self.job.limits)
        return Moved(tree.id, verdicts_only([subject], self.site)[0])

    # What takes longer

    @property
    def pending(self) -> tuple[str, ...]:
        """The trees whose open facts have not been tried yet, in file order."""
        with self._lock:
            return tuple(t.id for t in self.job.survey.trees if t.id not in self._impacts)

    def tried(self, tree_id: str) -> bool:
        """Tell whether a tree's open facts have been tried."""
        with self._lock:
            return tree_id in self._impacts

    def impact(self, tree_id: str) -> TreeImpact:
        """Work out everything about one tree; kept. Raises KeyError for an unknown tree."""
        with self._lock:
            known = self._impacts.get(tree_id)
        if known is not None:
            return known
        tree = self.job.survey.trees[self.row_of[tree_id]]
        found = assess_tree(tree, self.job.survey, site=self.site, limits=self.job.limits)
        with self._lock:
            return self._impacts.setdefault(tree_id, found)

    def settle(self) -> None:
        """Work out every tree that is not yet."""
        if len(self.pending) == len(self.subjects):
            found = assess_all(self.job.survey, site=self.site, limits=self.job.limits)
            with self._lock:
                for impact in found:
                    self._impacts.setdefault(impact.tree, impact)
        for tree_id in self.pending:
            self.impact(tree_id)

    def known_impacts(self) -> tuple[TreeImpact, ...]:
        """Give what is known of each tree now: open facts where tried, else as recorded."""
        with self._lock:
            impacts = dict(self._impacts)
        return tuple(
            impacts.get(s.tree.id) or _as_recorded(s, q)
            for s, q in zip(self.subjects, self.quick, strict=True)
        )

    def heard(self) -> tuple[Draft | None, dict[str, DraftTree]]:
        """Give the draft of the walk, and its entry for each tree; kept."""
        with self._hearing:
            if self._walk is None:
                if not self.job.cues:
                    self._walk = None, {}
                else:
                    read = draft(self.job.cues)
                    said, _ = fuse(read, self.job.survey.trees)
                    self._walk = read, dict(said)
            return self._walk

    def glimpse(self) -> Findings:
        """Give findings without price and phases, of what is known now; never waits."""
        return _findings(self.job, self.known_impacts())

    def rules(self) -> RuleFindings:
        """Hold the trees against the local rules, by what is known of the works now."""
        return rules_of(self.job, self.known_impacts(), self.heard()[0])

    # Everything, to the end

    def begin(self, *, patience_s: float = _PATIENCE_S, price: bool = True) -> bool:
        """Have everything worked out in spare time, until `stop`.

        Parameters
        ----------
        patience_s : float
            Seconds this call waits for it.
        price : bool
            Price and planting too, not the verdicts alone.

        Returns
        -------
        bool
            Whether it is there: `findings`, or every tree tried, then comes at once. Also true
            where it failed, so that asking for it says how. Of a state that was stopped before
            it was there, it never is: whoever asks again is given the later state.
        """
        if self._there(price=price):
            return True
        if self._stopped.is_set():
            return False
        with self._lock:
            work = self._work
            if work is None or work.over:
                work = self._work = SPARE.ask(self._pieces(price))
        SPARE.wait_for(work, patience_s)
        return self._failed or self._there(price=price)

    def _there(self, *, price: bool) -> bool:
        return self._findings is not None if price else not self.pending

    def stop(self) -> None:
        """Leave what is not worked out yet: a later state has taken this one's place."""
        self._stopped.set()

    def _pieces(self, price: bool) -> Iterator[None]:
        try:
            for tree_id in self.pending:
                if self._stopped.is_set():
                    return
                self.impact(tree_id)
                yield
            if price and not self._stopped.is_set():
                self.findings(between=SPARE.let_through)
        except Exception:
            # It fails again, and is told, where the page asks for it.
            self._failed = True

    def findings(self, *, between: Callable[[], None] = lambda: None) -> Findings:
        """Give everything, worked out to the end; kept. `between` is called between its steps."""
        with SPARE.waiting():
            self._whole.acquire()
        try:
            if self._findings is None:
                self.settle()
                self._findings = assess(
                    self.job, impacts=self.known_impacts(), progress=lambda _: between()
                )
            return self._findings
        finally:
            self._whole.release()


def _key(work: Work) -> str:
    # Works hold dictionaries, which cannot stand in a set; their text can.
    return repr(work)


def _as_recorded(subject: Subject, quick: Quick | None) -> TreeImpact:
    if quick is None:
        return TreeImpact(subject.tree.id, subject.zone, None, None, None, None)
    losses, verdict = quick
    return TreeImpact(subject.tree.id, subject.zone, losses, None, None, verdict)


def _findings(
    job: Job,
    impacts: Sequence[TreeImpact],
) -> Findings:
    trees = tuple(
        TreeFinding(
            tree,
            combined_diameters([s.value for s in tree.stems_cm]) if tree.stems_cm else None,
            impact,
        )
        for tree, impact in zip(job.survey.trees, impacts, strict=True)
    )
    defaults: tuple[Statement, ...] = tuple(dict.fromkeys(d for i in impacts for d in i.defaults))
    return Findings(job.survey, trees, None, None, job.problems, defaults)
