"""Sealed issues of papers: printed again byte for byte, withdrawn or superseded, never edited."""

import hashlib
import json
import shutil
import threading

import pypdfium2
import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from bolewalk.intake.folder import read_folder
from bolewalk.papers.reading import IssueStamp
from bolewalk.papers.write import files_in, write_papers
from bolewalk.store.edits import set_cells
from bolewalk.store.errors import NumberTakenError, StoreError
from bolewalk.store.issues import (
    check_issue,
    issue_papers,
    list_issues,
    open_paper,
    seal,
    supersede,
    withdraw,
    write_issue,
)
from bolewalk.survey import assess


@pytest.fixture
def survey(store, demo, clock):
    return store.import_folder(demo, who="Ada", when=clock()).survey_id


@pytest.fixture
def papers(tmp_path):
    """Papers of any kind: sealing does not look into them."""
    folder = tmp_path / "papers"
    (folder / "client").mkdir(parents=True)
    (folder / "report.pdf").write_bytes(b"%PDF-1.7 as issued")
    (folder / "client" / "index.html").write_bytes(b"<!doctype html>")
    return folder


@pytest.fixture
def issue(store, survey, papers, clock):
    revision = store.load(survey).revision
    return seal(
        store, survey, papers, revision=revision, title="Report", who="Ada", when=clock()
    )  # fmt: skip


def printed(store, issue, name):
    with open_paper(store, issue, name) as stream:
        return stream.read()


def change_it(store, survey, clock):
    tree = store.load(survey).tree("T7")
    store.change(survey, [set_cells(tree, {"height": "71"})], who="Ben", when=clock())


def test_papers_are_made_sealed_and_printed_again(store, survey, demo, tmp_path, clock):
    """The one that makes all papers, so it checks all that hangs on them."""
    issue = issue_papers(store, survey, title="For the council", who="Ada", when=clock())
    # The hash printed is that of the list of inputs with theirs, worked out here on its own.
    hashes = {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in demo.iterdir()}
    listing = json.dumps(dict(sorted(hashes.items())), separators=(",", ":")).encode()
    stamp = IssueStamp("1", "2026-05-12", hashlib.sha256(listing).hexdigest())
    write_papers(assess(read_folder(demo)), tmp_path / "made", files=files_in(demo), issue=stamp)
    expected = {
        p.relative_to(tmp_path / "made").as_posix(): p.read_bytes()
        for p in (tmp_path / "made").rglob("*")
        if p.is_file()
    }
    change_it(store, survey, clock)
    assert {n: printed(store, issue, n) for n in issue.papers} == expected
    # From what was sealed anyone can make the same findings again, whatever came since.
    write_issue(store, issue, tmp_path / "issue")
    assert read_folder(tmp_path / "issue" / "inputs") == read_folder(demo)
    assert (tmp_path / "issue" / "papers" / "findings.json").read_bytes() == expected[
        "findings.json"
    ]


def test_number_date_hash(store, survey, issue, papers, clock):
    assert (issue.number, issue.at, issue.who) == ("1", "2026-05-12T09:02:00.000000+00:00", "Ada")
    second = seal(
        store, survey, papers, revision=issue.revision, title="Again", who="Ada", when=clock()
    )
    assert second.number == "2"
    named = seal(
        store, survey, papers, revision=issue.revision, title="Own", who="Ada", when=clock(),
        number="2026-17",
    )  # fmt: skip
    assert [i.number for i in list_issues(store, survey)] == ["1", "2", "2026-17"]
    assert len({issue.sha256, second.sha256, named.sha256}) == 3


def test_the_hash_is_that_of_the_list_that_is_written_out(store, issue, tmp_path):
    write_issue(store, issue, tmp_path / "issue")
    sealed = (tmp_path / "issue" / "sealed.json").read_bytes()
    assert hashlib.sha256(sealed).hexdigest() == issue.sha256
    for kind in ("papers", "inputs"):
        for name, entry in json.loads(sealed)[kind].items():
            body = (tmp_path / "issue" / kind / name).read_bytes()
            assert hashlib.sha256(body).hexdigest() == entry["sha256"]
    assert check_issue(store, issue) == ()


def test_inputs_are_of_the_revision_the_papers_were_made_from(store, survey, papers, demo, clock):
    then = store.load(survey).revision
    change_it(store, survey, clock)
    late = seal(store, survey, papers, revision=then, title="R", who="Ada", when=clock())
    with store.open_media(late.inputs["trees.csv"].sha256) as stream:
        assert stream.read() == (demo / "trees.csv").read_bytes()


@pytest.mark.parametrize("table", ["issues", "issue_marks", "changes", "groups"])
def test_the_database_itself_refuses_edits(store, issue, clock, table):
    withdraw(store, issue.id, who="Ada", when=clock(), reason="wrong tree")
    column = {"issues": "title", "issue_marks": "reason", "changes": "after", "groups": "who"}
    with (
        pytest.raises(DBAPIError, match="is only ever added to"),
        store.engine.begin() as c,
    ):
        c.execute(text(f"UPDATE {table} SET {column[table]} = 'other'"))


def test_withdrawn_and_superseded_once_and_still_printable(store, survey, issue, papers, clock):
    later = seal(
        store, survey, papers, revision=issue.revision, title="Again", who="Ada", when=clock()
    )
    with pytest.raises(StoreError, match="only be superseded by a later one"):
        supersede(store, later.id, issue.id, who="Ada", when=clock())
    gone = supersede(store, issue.id, later.id, who="Ben", when=clock(), reason="revision C")
    assert (gone.state, gone.marks[0].by_issue, gone.marks[0].who) == (
        "superseded",
        later.id,
        "Ben",
    )
    assert withdraw(store, later.id, who="Ada", when=clock(), reason="x").state == "withdrawn"
    for one in (issue, later):
        with pytest.raises(StoreError, match="already"):
            withdraw(store, one.id, who="Ada", when=clock(), reason="again")
    assert printed(store, gone, "report.pdf") == b"%PDF-1.7 as issued"
    assert gone.sha256 == issue.sha256


def test_what_is_refused(store, survey, issue, papers, tmp_path, clock):
    (tmp_path / "none").mkdir()
    for folder, number, says in (
        (papers, "1", "issue 1 of this survey is there already"),
        (tmp_path / "none", "", "no papers to issue"),
    ):
        with pytest.raises(StoreError, match=says):
            seal(
                store, survey, folder, revision=issue.revision, title="R", who="Ada",
                when=clock(), number=number,
            )  # fmt: skip
    with pytest.raises(StoreError, match=r"has no bill.pdf: client/index.html, report.pdf"):
        open_paper(store, issue, "bill.pdf")


def test_a_changed_paper_is_found(store, issue):
    path = store.files.path(issue.papers["report.pdf"].sha256)
    path.write_bytes(b"%PDF-1.7 as forged")
    assert check_issue(store, issue) == ("issue 1: report.pdf is missing or changed",)


@pytest.fixture
def two_trees(store, demo, tmp_path, clock):
    """Head and tree table with its first two trees: quick to set."""
    folder = tmp_path / "two"
    folder.mkdir()
    shutil.copy(demo / "trees.csv", folder)
    lines = (folder / "trees.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    (folder / "trees.csv").write_text("".join(lines[:3]), encoding="utf-8")
    (folder / "survey.toml").write_text(
        '[survey]\nname = "Two"\ndate = 2026-05-12\nunits = "imperial"\n'
        '[files]\ntrees = "trees.csv"\n[method]\nroot_zone = "inch-foot"\n',
        encoding="utf-8",
    )
    return store.import_folder(folder, who="Ada", when=clock()).survey_id


def test_two_who_issue_at_once_get_a_number_each(store, two_trees, clock):
    day, chosen, first_is_sealed = clock(), threading.Barrier(2, timeout=60), threading.Event()
    made, taken = {}, []

    def issue(who):
        waited = []

        def step(name):
            if not waited:
                # Both have chosen "1" now. Ada goes first: layers are written one at a time.
                waited.append(name)
                chosen.wait()
                if who == "Ben":
                    assert first_is_sealed.wait(60)
            if name == "sealing the papers":
                taken.append(who)

        try:
            made[who] = issue_papers(
                store, two_trees, title=f"Of {who}", who=who, when=day, progress=step
            )
        finally:
            first_is_sealed.set()

    threads = [threading.Thread(target=issue, args=(who,)) for who in ("Ada", "Ben")]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    assert {who: i.number for who, i in made.items()} == {"Ada": "1", "Ben": "2"}
    assert taken == ["Ada", "Ben", "Ben"]
    # What is printed is the number that was sealed.
    with pypdfium2.PdfDocument(printed(store, made["Ben"], "report.pdf")) as pdf:
        assert "issue 2 of 2026-05-12" in pdf[0].get_textpage().get_text_bounded()
    with pytest.raises(NumberTakenError, match="issue 2 of this survey is there already"):
        issue_papers(store, two_trees, title="Own", who="Ada", when=day, number="2")
