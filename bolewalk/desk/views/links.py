"""The page of links for clients, and what a client sees of one."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from bolewalk.desk.views.head import SurveyHead
from bolewalk.desk.views.papers import PAPER_TITLES
from bolewalk.desk.views.sizes import bytes_in_words
from bolewalk.papers.reading import plain_date
from bolewalk.store.issues import Issue
from bolewalk.store.limits import limits
from bolewalk.store.links import ClientLink

__all__ = ["FOR_CLIENTS", "ClientView", "LinksView", "client_view", "links_view", "offered"]

PAGE = "client/index.html"
FOR_CLIENTS = frozenset(
    {
        PAGE,
        *(
            f"{n}.pdf"
            for n in (
                "letter",
                "report",
                "proposal",
                "protection",
                "questions",
                "planting",
                "board",
            )
        ),
    }
)
"""Papers chosen at first; those for the crew, bidders and neighbours are offered beside them."""


@dataclass(frozen=True, slots=True)
class LinkRow:
    """One link in the list."""

    id: int
    issue: str
    made: str
    by: str
    ends: str
    state: str
    openings: int
    last: str


@dataclass(frozen=True, slots=True)
class Offered:
    """An issue a link can be made to: its papers with their titles, and whether each is chosen."""

    id: int
    name: str
    papers: tuple[tuple[str, str, bool], ...]


@dataclass(frozen=True, slots=True)
class LinksView:
    """The page. `made` is the address of a link made just now: it is shown this once."""

    head: SurveyHead
    links: tuple[LinkRow, ...]
    issues: tuple[Offered, ...]
    usual_days: int
    longest_days: int
    made: str = ""
    says: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ClientView:
    """What a client sees: the papers of one issue, and until when."""

    survey: str
    title: str
    issued: str
    ends: str
    superseded: bool
    papers: tuple[tuple[str, str, str], ...]


def offered(issue: Issue) -> dict[str, str]:
    """Give the papers of an issue that are for reading: name -> title."""
    shown = [n for n in issue.papers if n == PAGE or (n.endswith(".pdf") and "/" not in n)]
    return {n: PAPER_TITLES.get(n, n) for n in sorted(shown, key=lambda n: (n != PAGE, n))}


def links_view(
    head: SurveyHead,
    issues: Sequence[Issue],
    links: Sequence[ClientLink],
    *,
    now: datetime,
    made: str = "",
    says: Sequence[str] = (),
) -> LinksView:
    """Give the page of a survey's links."""
    known = {i.id: i for i in issues}
    rows = tuple(
        LinkRow(
            k.id, f"{known[k.issue_id].number}: {known[k.issue_id].title}", k.made_at[:10],
            k.made_by, k.expires_at[:10],
            "withdrawn" if known[k.issue_id].state == "withdrawn" else k.state(now), k.openings,
            (k.last_opened or "")[:16].replace("T", " "),
        )
        for k in links
    )  # fmt: skip
    choice = tuple(
        Offered(
            i.id, f"{i.number}: {i.title}",
            tuple((n, t, n in FOR_CLIENTS) for n, t in offered(i).items()),
        )
        for i in reversed(issues) if i.state != "withdrawn"
    )  # fmt: skip
    kept = limits()
    return LinksView(
        head, rows, choice, kept.usual_link.days, kept.longest_link.days, made, tuple(says)
    )


def client_view(survey: str, issue: Issue, link: ClientLink) -> ClientView:
    """Give what a client sees."""
    titles = offered(issue)
    papers = tuple(
        (n, t, bytes_in_words(issue.papers[n].size)) for n, t in titles.items() if n in link.papers
    )  # fmt: skip
    day = datetime.fromisoformat
    return ClientView(
        survey, issue.title, plain_date(day(issue.at).date()),
        plain_date(day(link.expires_at).date()), issue.state == "superseded", papers,
    )  # fmt: skip
