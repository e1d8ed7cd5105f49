"""Links for clients: what they open, and that nothing else opens through them."""

import re
from datetime import timedelta
from urllib.parse import quote

import pytest

from bolewalk.store.issues import seal, withdraw
from bolewalk.store.links import list_links, list_openings

from .conftest import NAME, Office


def made_link(office: Office, who: str = "Tobin", **told: object) -> str:
    form = {"issue": str(office.issue.id), "days": "30", "paper": ["report.pdf"], **told}
    page = office.enter(who).post("/surveys/1/links", data=form).text
    found = re.search(r'value="http://localhost(/client/[^"]+)"', page)
    assert found, page
    return found[1]


def test_a_link_opens_what_was_chosen_without_signing_in(office: Office) -> None:
    link = made_link(office, paper=["report.pdf", "client/index.html"])
    client = office.visitor()
    page = client.get(link)
    assert page.status_code == 200
    assert NAME in page.text
    assert "For the permit" in page.text
    assert "opened until 2026-07-12;" in page.text
    places = re.findall(rf'href="({re.escape(link)}/[^"]+)"', page.text)
    assert [p.removeprefix(link) for p in places] == ["/client/index.html", "/report.pdf"]
    assert client.get(f"{link}/report.pdf").content == b"%PDF-1.7 report"
    assert client.get(f"{link}/client/index.html").headers["content-type"].startswith("text/html")
    # The clip sealed beside the page, or a stretch of it as a player asks.
    part = client.get(f"{link}/client/walk.wav", headers={"range": "bytes=0-3"})
    assert (part.status_code, part.content) == (206, b"RIFF")
    assert part.headers["content-type"].startswith("audio/")
    assert client.cookies.get("session") is None


def test_the_address_is_kept_to_whoever_has_it(office: Office) -> None:
    link = made_link(office)
    for place in (link, f"{link}/report.pdf"):
        headers = office.visitor().get(place).headers
        assert headers["referrer-policy"] == "no-referrer"
        assert headers["x-robots-tag"] == "noindex, nofollow"
        assert headers["cache-control"] == "no-store"
    # It is shown once; the list of links does not hold it.
    assert link not in office.enter("Tobin").get("/surveys/1/links").text


TRICKS = [
    "findings.json",
    "crew.pdf",
    "../findings.json",
    "client/../findings.json",
    "client/../crew.pdf",
    "..%2ffindings.json",
    "%2e%2e/%2e%2e/store.db",
    "..\\store.db",
    "..%5cstore.db",
    "/etc/passwd",
    "%2fetc%2fpasswd",
    "client/index.html/../../crew.pdf",
    "report.pdf%00",
    "report.pdf/",
    "%2e/report.pdf",
    "REPORT.PDF",
    "client/",
    "client",
    "inputs/survey.toml",
    "inputs/trees.csv",
    "sealed.json",
    "../1/report.pdf",
    "....//findings.json",
    "%252e%252e%252fstore.db",
    "report.pdf;a",
    "\u202efdp.troper",
]


@pytest.mark.parametrize("trick", TRICKS)
def test_nothing_else_of_the_issue_or_the_store_opens(reading_office: Office, trick: str) -> None:
    place = f"/client/{reading_office.token}/{quote(trick, safe='/%;.')}"
    answer = reading_office.visitor().get(place)
    assert answer.status_code == 404
    # The page that says so holds the address it was asked for, and nothing of any file.
    said = re.sub(r'name="back" value="[^"]*"', "", answer.text)
    for words in ("secret", "crew", "PDF", "root:", "SQLite"):
        assert words not in said


def test_kept_files_do_not_open_by_their_hash(reading_office: Office) -> None:
    browser = reading_office.visitor()
    for medium in [*reading_office.issue.papers.values(), *reading_office.issue.inputs.values()]:
        for place in (medium.sha256, f"{medium.sha256[:2]}/{medium.sha256}"):
            answer = browser.get(f"/client/{reading_office.token}/{place}")
            assert answer.status_code == 404


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH"])
def test_a_link_changes_nothing(reading_office: Office, method: str) -> None:
    for place in ("", "/report.pdf"):
        answer = reading_office.visitor().request(method, f"/client/{reading_office.token}{place}")
        assert answer.status_code in (403, 405)


def test_what_an_issue_does_not_have_cannot_be_linked(office: Office) -> None:
    tobin = office.enter("Tobin")
    usual = {"issue": str(office.issue.id), "days": "30", "paper": ["report.pdf"]}
    for told, says in (
        ({"paper": ["findings.json"]}, "has no findings.json for reading"),
        ({"paper": ["../crew.pdf"]}, "has no ../crew.pdf for reading"),
        ({"paper": []}, "no papers chosen"),
        ({"issue": "99"}, "no such issue"),
        ({"days": "0"}, "1 to 365 days"),
        ({"days": "366"}, "1 to 365 days"),
        ({"days": "-1"}, "whole number"),
        ({"days": "٣"}, "1 to 365 days"),
    ):
        answer = tobin.post("/surveys/1/links", data={**usual, **told})
        if told == {"days": "٣"}:
            # A whole number in any script is one: three days.
            assert answer.status_code == 200
            continue
        assert answer.status_code == 422
        assert says in answer.text
    # Another firm's issue is none of this survey's.
    other = office.enter("Odile").post("/surveys/2/links", data=usual)
    assert "no such issue" in other.text


def test_a_link_is_withdrawn_at_the_desk(office: Office) -> None:
    link = made_link(office)
    number = list_links(office.store, 1)[0].id
    other = office.enter("Odile")
    assert other.post(f"/surveys/1/links/{number}/withdraw").status_code == 404
    assert other.post(f"/surveys/2/links/{number}/withdraw").status_code == 404
    assert office.visitor().get(link).status_code == 200
    assert office.enter("Tobin").post(f"/surveys/1/links/{number}/withdraw").status_code == 303
    for place in (link, f"{link}/report.pdf"):
        answer = office.visitor().get(place)
        assert answer.status_code == 410
        assert "withdrawn" in answer.text
        assert 'href="/"' not in answer.text
    assert list_links(office.store, 1)[0].withdrawn_by == "Tobin"


def test_a_link_ends_by_itself_and_with_its_issue(office: Office) -> None:
    link, other = made_link(office), made_link(office)
    office.clock.now += timedelta(days=29)
    assert office.visitor().get(link).status_code == 200
    withdraw(office.store, office.issue.id, who="Tobin", when=office.clock(), reason="wrong")
    assert office.visitor().get(other).status_code == 410
    office.clock.now += timedelta(days=1)
    assert office.visitor().get(link).status_code == 410


def test_openings_are_written_down_without_who(office: Office) -> None:
    link = made_link(office, paper=["report.pdf", "client/index.html"])
    client = office.visitor(address="203.0.113.5")
    for place in (link, f"{link}/report.pdf", f"{link}/client/walk.wav", f"{link}/nothing.pdf"):
        client.get(place)
    client.head(link)
    made = list_links(office.store, 1)[0]
    opened = list_openings(office.store, made.id)
    assert [o.paper for o in opened] == ["", "report.pdf"]
    assert {o.at[:10] for o in opened} == {"2026-06-12"}
    page = office.enter("Tobin").get("/surveys/1/links").text
    assert re.search(r'<td>open</td><td class="num">2</td>', page)


def test_a_later_issue_is_told(office: Office, tmp_path) -> None:  # type: ignore[no-untyped-def]
    from bolewalk.store.issues import supersede

    link = made_link(office)
    (tmp_path / "new").mkdir()
    (tmp_path / "new" / "report.pdf").write_bytes(b"%PDF new")
    later = seal(
        office.store, 1, tmp_path / "new", revision=2, title="Later", who="Tobin",
        when=office.clock(),
    )  # fmt: skip
    supersede(office.store, office.issue.id, later.id, who="Tobin", when=office.clock())
    page = office.visitor().get(link)
    assert "A later issue has taken the place" in page.text
