"""What papers read out of findings before they set it: one reader, one language, one survey."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from bolewalk.impact.results import TreeImpact
from bolewalk.model.statements import Statement, say
from bolewalk.model.trees import Tree
from bolewalk.model.works import Work
from bolewalk.papers.draw.plan import PlanTree, met_by_works
from bolewalk.papers.draw.sheet import Sheet
from bolewalk.papers.language import Speaker
from bolewalk.rules.cautions import urgent_first

if TYPE_CHECKING:
    from bolewalk.survey import Findings, TreeFinding

__all__ = [
    "DASH", "Files", "IssueStamp", "Reading", "client_name", "plain_date", "stays", "trunk_text",
]  # fmt: skip

DASH = "–"

Files = Callable[[str], Path | None]
"""Gives where a file of the survey lies by its name in the folder; None where it is not there."""


@dataclass(frozen=True, slots=True)
class IssueStamp:
    """What an issued paper prints of its issue: number, day, and the hash of its inputs.

    `inputs_sha256` is that of the survey the papers were made from; the seal's own hash covers
    the papers and so cannot stand on them.
    """

    number: str
    day: str
    inputs_sha256: str


@dataclass(frozen=True, slots=True)
class Reading:
    """Findings and the one who says them; `issue` is None for a draft. `files` gives where
    the survey's files lie; None where they are not at hand."""

    findings: "Findings"
    speaker: Speaker
    issue: IssueStamp | None = None
    files: Files | None = None
    sheets: dict[str, Sheet | None] = field(default_factory=dict, repr=False, compare=False)
    """Drawings already made, by title: several papers carry the same one."""
    pictures: dict[str, bytes] = field(default_factory=dict, repr=False, compare=False)
    """Photographs of the report, by the name its data give them."""

    def say(self, code: str, **values: str | float | int) -> str:
        """Say a sentence of the catalogue."""
        return self.speaker.text(say(code, **values))

    def issue_text(self) -> str:
        """Say which issue a paper belongs to, or that it is a draft."""
        stamp = self.issue
        if stamp is None:
            return self.labels("issue")["draft"]
        return self.say(
            "issue_says.issued", number=stamp.number, day=stamp.day, sha256=stamp.inputs_sha256[:16]
        )

    def texts(self, statements: Iterable[Statement]) -> list[str]:
        """Say statements, each once, in their order."""
        return list(dict.fromkeys(self.speaker.text(s) for s in statements))

    def word(self, name: str, value: str | None) -> str:
        """Give the word for a value of a closed set, a dash for nothing."""
        return DASH if not value else self.speaker.catalogue.word(name, value)

    def labels(self, table: str) -> dict[str, str]:
        """Give a table of plain labels."""
        return self.speaker.catalogue.labels(table)

    @property
    def plan_trees(self) -> tuple[PlanTree, ...]:
        """The trees as the plan draws them."""
        return tuple(PlanTree(t.tree, t.impact) for t in self.findings.trees)

    @property
    def met(self) -> "tuple[TreeFinding, ...]":
        """Trees that are to stay and have something to say about works, in file order."""
        return tuple(t for t in self.findings.trees if stays(t.tree) and needs_block(t.impact))

    @property
    def unmet(self) -> "tuple[TreeFinding, ...]":
        """Trees that are to stay and that no works reach, in file order."""
        return tuple(t for t in self.findings.trees if stays(t.tree) and not needs_block(t.impact))

    @property
    def removed(self) -> "tuple[TreeFinding, ...]":
        """Trees to be removed, in file order."""
        return tuple(t for t in self.findings.trees if not stays(t.tree))

    def verdict_cell(self, t: "TreeFinding") -> dict[str, str]:
        """Give mark and short word of a verdict for a table; a tree to be removed has none."""
        if not stays(t.tree):
            return {"mark": "", "verdict": DASH}
        v = t.impact.verdict
        return {
            "mark": v.now if v else "none",
            "verdict": self.word("verdict_short", v.now if v else None),
        }

    def works_on_removed(self, t: "TreeFinding") -> str:
        """Tell whether the works, too, ask for a tree to go that is to be removed anyway."""
        v = t.impact.verdict
        code = "other" if v is None else _ON_REMOVED[v.now]
        return self.labels("removed_works")[code]

    def urgent(self) -> list[str]:
        """Say the dangers heard on the walk that somebody must be called about at once."""
        if self.findings.rules is not None:
            return self.texts(self.findings.rules.urgent)
        draft = self.findings.draft
        return [] if draft is None else self.texts(urgent_first(draft.hazards))

    def work_names(self) -> dict[str, str]:
        """Give the label each work carries on the plan, by its id; piles keep theirs short."""
        return {w.id: self._work_name(w) for w in self.findings.survey.works}

    def _work_name(self, work: Work) -> str:
        name = work.label or work.id
        if work.phase == "possible later":
            return self.say("plan_name.later", name=name)
        if work.present == "unknown":
            return self.say("plan_name.unknown", name=name)
        return self.say("plan_name.work", name=name)

    def species(self, tree: Tree) -> dict[str, str]:
        """Give the names of a tree: `name` first, `botanical` to stand beside it in italics."""
        s = tree.species
        if s.botanical is None and s.common is None:
            return {"name": f"“{s.as_heard}”", "botanical": ""}
        return {"name": s.common or s.botanical or "", "botanical": s.botanical or ""}

    def drawings_named(self) -> str:
        """Give the drawings reviewed, in one line; "" where there are none."""
        return "; ".join(d.label for d in self.findings.survey.drawings)


_ON_REMOVED = {
    "keep": "not_asked", "keep_if": "not_asked", "redesign": "asked", "undecided": "other",
}  # fmt: skip


def stays(tree: Tree) -> bool:
    """Tell whether a tree is to stay: a verdict on works is printed for such trees only."""
    return tree.decision != "remove"


def needs_block(impact: TreeImpact) -> bool:
    """Tell whether a tree's verdict needs its own entry."""
    v = impact.verdict
    plain = v is not None and v.now == "keep" and v.with_later == "keep"
    return met_by_works(impact) or bool(impact.questions) or bool(impact.missing) or not plain


def client_name(reading: Reading) -> str:
    """Give the client's name, with the body the client speaks for; "" where none is named."""
    client = reading.findings.survey.people.client
    if client is None:
        return ""
    body = "" if client.role in ("", "client") else client.role
    return ", ".join(x for x in (client.name, body) if x)


def plain_date(value: object) -> str:
    """Write a date as 2026-05-12, which no reader takes for another day; a dash for none."""
    return DASH if value is None else str(value)


def trunk_text(reading: Reading, tree: Tree) -> str:
    """Write the stems of a tree in the reader's unit, "9.0 + 8.0 + 6.5"."""
    if not tree.stems_cm:
        return DASH
    by_eye = "~" if any(s.basis == "estimated" for s in tree.stems_cm) else ""
    return by_eye + " + ".join(reading.speaker.amounts.trunk_number(s.value) for s in tree.stems_cm)
