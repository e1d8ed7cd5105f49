"""An issue as an earlier visit: held against today's survey, or laid beside it as files."""

import re
from collections.abc import Mapping

from sqlalchemy import select

from bolewalk.model.problems import Problem
from bolewalk.model.survey import Survey
from bolewalk.store.database import reading
from bolewalk.store.issues import Issue, open_paper
from bolewalk.store.schema import issues
from bolewalk.store.store import Store
from bolewalk.visits.earlier_json import read_earlier
from bolewalk.visits.record import EarlierVisit, IssueOf

__all__ = ["earlier_files", "earlier_visit"]

_FINDINGS = "findings.json"


def earlier_visit(
    store: Store, issue: Issue, survey: Survey
) -> tuple[EarlierVisit | None, tuple[Problem, ...]]:
    """Read an issue as an earlier visit, for `visits.compare.compare_visits`.

    Parameters
    ----------
    store : Store
    issue : Issue
    survey : Survey
        Today's: places of then are used where both stand on one grid.

    Returns
    -------
    visit, problems
        As `visits.earlier_json.read_earlier`.

    Raises
    ------
    StoreError
        The issue holds no findings, or they cannot be read.
    """
    with open_paper(store, issue, _FINDINGS) as stream:
        content = stream.read()
    seal = IssueOf(issue.number, issue.title, issue.at, issue.who, issue.sha256)
    return read_earlier(
        content,
        file=f"issue {issue.number}",
        crs=survey.crs,
        m_per_grid_unit=survey.m_per_grid_unit,
        issue=seal,
    )


def earlier_files(store: Store, issue: Issue) -> Mapping[str, bytes]:
    """Give the files of an issue that make it an earlier visit of another survey.

    Laid in the survey's folder under their names, with `[[earlier]]` and `papers =
    "earlier/issue-1"` in survey.toml, they are read as any earlier papers are, so that what is
    sealed next can be made again from its own inputs.

    Returns
    -------
    mapping
        "earlier/issue-1/papers/findings.json" and "earlier/issue-1/sealed.json".

    Raises
    ------
    StoreError
        The issue holds no findings, or they cannot be read.
    """
    with reading(store.engine) as c:
        query = select(issues.c.manifest).where(issues.c.id == issue.id)
        manifest: str = c.execute(query).scalar_one()
    with open_paper(store, issue, _FINDINGS) as stream:
        content = stream.read()
    # A number is the user's own text: only what is harmless in a name goes into one.
    plain = re.sub(r"[^A-Za-z0-9_-]", "-", issue.number)
    base = f"earlier/issue-{plain}"
    return {f"{base}/papers/{_FINDINGS}": content, f"{base}/sealed.json": manifest.encode()}
