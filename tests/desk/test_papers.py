"""Papers at the desk: made in the background, issued, downloaded, compared, taken up again."""

import hashlib
import io
import json
import zipfile
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from bolewalk.demo import survey_folder
from bolewalk.desk.tasks import Tasks, papers_folder
from bolewalk.intake.folder import read_folder
from bolewalk.papers.write import write_papers
from bolewalk.store.edits import set_cells
from bolewalk.store.issues import list_issues
from bolewalk.store.store import Store
from bolewalk.survey import assess

from .conftest import WHEN
from .waiting import filled, until


def over(desk: TestClient) -> bool:
    tasks = desk.app.state.desk.tasks.of(1)  # type: ignore[attr-defined]
    return bool(tasks) and not any(t.open for t in tasks)


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """What the command line writes of the same survey: name -> SHA-256."""
    out = tmp_path_factory.mktemp("papers")
    write_papers(assess(read_folder(survey_folder())), out)
    return {
        p.relative_to(out).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in out.rglob("*")
        if p.is_file()
    }


def test_papers_are_made_shown_and_downloaded(desk: TestClient, written: dict[str, str]) -> None:
    assert "No papers yet." in desk.get("/surveys/1/papers").text
    assert desk.post("/surveys/1/papers/make").status_code == 303
    page = desk.get("/surveys/1/papers").text
    assert "Making the papers" in page
    assert 'hx-trigger="every 1s"' in page
    task = desk.app.state.desk.tasks.of(1)[0]  # type: ignore[attr-defined]
    until(lambda: over(desk))
    state = desk.get(f"/api/surveys/1/tasks/{task.id}").json()
    assert state["state"] == "done", state
    # The part of the page that watched now asks for the whole page.
    assert desk.get(f"/surveys/1/tasks/{task.id}").headers["hx-refresh"] == "true"
    page = desk.get("/surveys/1/papers")
    assert "Of state 1, the newest." in page.text
    assert "frame-src 'self'" in page.headers["content-security-policy"]
    # The same survey, the same bytes, whichever door it came through.
    for name, sha256 in written.items():
        answer = desk.get(f"/surveys/1/papers/as-drawn/1/{name}?save=1")
        assert answer.status_code == 200, name
        assert hashlib.sha256(answer.content).hexdigest() == sha256, name
        assert answer.headers["content-disposition"].startswith("attachment"), name
    shown = desk.get("/surveys/1/papers/as-drawn/1/client/index.html")
    assert shown.headers["content-security-policy"].startswith("sandbox")
    assert shown.headers["content-disposition"].startswith("inline")
    for name in ("nothing.pdf", "..%2f..%2f..%2f..%2f..%2fstore.db", "%2e%2e%2f2/report.pdf"):
        assert desk.get(f"/surveys/1/papers/as-drawn/1/{name}").status_code == 404


def test_issue_is_sealed_downloaded_and_compared(
    store: Store, desk: TestClient, written: dict[str, str]
) -> None:
    assert desk.post("/surveys/1/issues", data={"title": " "}).status_code == 422
    desk.post("/surveys/1/issues", data={"title": "For the permit"})
    until(lambda: over(desk))
    issue = list_issues(store, 1)[0]
    assert (issue.number, issue.title, issue.who) == ("1", "For the permit", "Tobin")
    page = desk.get("/surveys/1/papers").text
    assert "Issue 1: For the permit" in page
    assert issue.sha256[:16] in page
    report = desk.get(f"/surveys/1/issues/{issue.id}/report.pdf?save=1")
    assert report.content.startswith(b"%PDF-")
    # What is downloaded is what was sealed: the papers of the command line, the issue printed on
    # those that name it.
    sealed = {n: m.sha256 for n, m in issue.papers.items()}
    assert hashlib.sha256(report.content).hexdigest() == sealed["report.pdf"]
    packed = zipfile.ZipFile(io.BytesIO(desk.get(f"/surveys/1/issues/{issue.id}.zip").content))
    assert {n: hashlib.sha256(packed.read(n)).hexdigest() for n in packed.namelist()} == sealed
    assert set(sealed) == set(written)
    assert sealed["tree-table.csv"] == written["tree-table.csv"]
    assert sealed["report.pdf"] != written["report.pdf"]
    same = filled(desk, f"/surveys/1/issues/{issue.id}/compare")
    assert "The survey has not changed since." in same
    assert "No verdict, size, decision or total differs." in same

    item = store.load(1).tree("T4")
    assert item is not None
    store.change(1, [set_cells(item, {"diameter": "40"})], who="Tobin", when=WHEN)
    after = filled(desk, f"/surveys/1/issues/{issue.id}/compare")
    row = after[after.index("T4</th><td>Diameter") :]
    assert row.index("22.0") < row.index("40.0")
    # The issue itself is what it was.
    again = desk.get(f"/surveys/1/issues/{issue.id}/report.pdf")
    assert again.content == report.content

    gone = desk.post(f"/surveys/1/issues/{issue.id}/withdraw", data={"reason": "Typing error"})
    assert gone.status_code == 303
    assert list_issues(store, 1)[0].state == "withdrawn"
    assert desk.get(f"/surveys/1/issues/{issue.id}/nothing.pdf").status_code == 404
    assert desk.get("/surveys/1/issues/99/report.pdf").status_code == 404


def test_a_what_if_copy_is_made_but_not_issued(desk: TestClient) -> None:
    made = desk.post("/api/surveys/1/copies", json={"name": "Trial", "moved": {}}).json()
    refused = desk.post(f"/surveys/1/issues?plan={made['plan']}", data={"title": "x"})
    assert refused.status_code == 422
    assert "take it over as the works first" in refused.text


def test_work_is_cancelled(desk: TestClient, data: Path) -> None:
    desk.post("/surveys/1/papers/make")
    tasks = desk.app.state.desk.tasks  # type: ignore[attr-defined]
    task = tasks.of(1)[0]
    desk.post(f"/surveys/1/tasks/{task.id}/cancel")
    until(lambda: over(desk))
    assert tasks.get(task.id).state == "cancelled"
    until(lambda: tasks.idle)
    assert not papers_folder(data / "desk", 1, "", 1).exists()
    # The next piece of work is done all the same.
    desk.post("/surveys/1/papers/make")
    until(lambda: over(desk))
    assert tasks.of(1)[0].state == "done"
    assert (papers_folder(data / "desk", 1, "", 1) / "report.pdf").is_file()


def test_work_broken_off_is_taken_up_again(data: Path) -> None:
    first = Tasks(data, data / "desk")
    first._start = lambda _: None  # type: ignore[method-assign]  # the desk dies before it begins
    task = first.ask("papers", 1, "", 1, who="Tobin", when=WHEN)
    file = data / "desk" / "tasks" / f"{task.id}.json"
    broken = {**json.loads(file.read_text(encoding="utf-8")), "state": "running"}
    file.write_text(json.dumps(broken), encoding="utf-8")
    half = papers_folder(data / "desk", 1, "", 1).parent / "making-left"
    half.mkdir(parents=True)
    (file.parent / "spoiled.json").write_text("{", encoding="utf-8")
    again = Tasks(data, data / "desk")
    until(lambda: not again.get(task.id).open)  # type: ignore[union-attr]
    assert again.get(task.id).state == "done"  # type: ignore[union-attr]
    assert (papers_folder(data / "desk", 1, "", 1) / "report.pdf").is_file()


def test_failure_is_told(desk: TestClient, data: Path) -> None:
    tasks = desk.app.state.desk.tasks  # type: ignore[attr-defined]
    task = tasks.ask("papers", 77, "", 1, who="Tobin", when=WHEN)
    until(lambda: not tasks.get(task.id).open)
    assert tasks.get(task.id).state == "failed"
    assert "there is no survey 77" in tasks.get(task.id).says
    assert not list((data / "desk").rglob("making-*"))


def test_later_issue_takes_the_place_of_an_earlier_one(store: Store, desk: TestClient) -> None:
    for title in ("For the permit", "For the permit, corrected"):
        desk.post("/surveys/1/issues", data={"title": title})
        until(lambda: over(desk))
    first, second = list_issues(store, 1)
    told = {"reason": "T4 was measured again", "by": str(second.id)}
    assert desk.post(f"/surveys/1/issues/{first.id}/withdraw", data={"by": "2"}).status_code == 422
    assert desk.post(f"/surveys/1/issues/{first.id}/withdraw", data=told).status_code == 303
    assert [i.state for i in list_issues(store, 1)] == ["superseded", "issued"]
    page = desk.get("/surveys/1/papers").text
    assert "Issue 2 took its place" in page
    assert "T4 was measured again" in page
    again = {"reason": "twice"}
    assert desk.post(f"/surveys/1/issues/{first.id}/withdraw", data=again).status_code == 409
    # Nothing earlier can take the place of what is later.
    back = {"reason": "back", "by": str(first.id)}
    assert desk.post(f"/surveys/1/issues/{second.id}/withdraw", data=back).status_code == 409
