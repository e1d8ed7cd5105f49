"""A sealed issue becomes an earlier visit: read from the store, or laid beside a later survey."""

import hashlib

import pytest

from bolewalk.demo.make_skeleton import new_folder
from bolewalk.intake.folder import read_folder
from bolewalk.papers.write import write_papers
from bolewalk.store.earlier import earlier_files, earlier_visit
from bolewalk.store.errors import StoreError
from bolewalk.store.issues import seal
from bolewalk.store.kept import kept_files
from bolewalk.survey import assess
from bolewalk.visits.compare import compare_visits


@pytest.fixture
def issued(store, tmp_path, clock):
    folder = tmp_path / "then"
    new_folder(folder)
    number = store.import_folder(folder, who="Ada", when=clock()).survey_id
    write_papers(assess(read_folder(folder)), tmp_path / "papers")
    return seal(
        store, number, tmp_path / "papers", revision=store.load(number).revision,
        title="For the council", who="Ada", when=clock(), number="A/7",
    )  # fmt: skip


def later(tmp_path, more=""):
    folder = tmp_path / "now"
    new_folder(folder)
    head = (folder / "survey.toml").read_text("utf-8").replace("2026-01-31", "2027-06-01")
    (folder / "survey.toml").write_text(head + more, "utf-8")
    return folder


def test_an_issue_is_read_as_an_earlier_visit(store, issued, tmp_path):
    survey = read_folder(later(tmp_path)).survey
    visit, problems = earlier_visit(store, issued, survey)
    assert problems == ()
    assert visit is not None
    assert visit.issue is not None
    assert (visit.issue.number, visit.issue.sha256) == ("A/7", issued.sha256)
    back = compare_visits([visit], survey)
    assert back is not None
    assert [(t.tree, t.was, t.state) for t in back.trees] == [("T1", "T1", "same")]


def test_its_files_make_it_an_earlier_visit_of_any_survey(store, issued, tmp_path):
    files = earlier_files(store, issued)
    assert sorted(files) == [
        "earlier/issue-A-7/papers/findings.json", "earlier/issue-A-7/sealed.json",
    ]  # fmt: skip
    folder = later(tmp_path, '\n[[earlier]]\npapers = "earlier/issue-A-7"\n')
    for name, content in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content)
    job = read_folder(folder)
    (visit,) = job.earlier
    assert visit.issue is not None
    # The seal's hash is worked out anew from the sealed list, and is the one that was sealed.
    assert visit.issue.sha256 == issued.sha256
    assert hashlib.sha256(files["earlier/issue-A-7/sealed.json"]).hexdigest() == issued.sha256
    assert assess(job).returned is not None


def test_papers_without_findings_are_no_visit(store, issued, tmp_path, clock):
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "report.pdf").write_bytes(b"%PDF")
    bare = seal(
        store, issued.survey_id, tmp_path / "other", revision=issued.revision, title="R",
        who="Ada", when=clock(),
    )  # fmt: skip
    with pytest.raises(StoreError, match=r"findings\.json"):
        earlier_files(store, bare)


def test_kept_files_are_found_by_their_names(store, tmp_path, clock):
    folder = later(tmp_path)
    (folder / "photos").mkdir()
    (folder / "photos" / "T1.jpg").write_bytes(b"a picture")
    survey = store.import_folder(folder, who="Ada", when=clock()).survey_id
    find = kept_files(store, survey)
    path = find("photos/T1.jpg")
    assert path is not None
    assert path.read_bytes() == b"a picture"
    assert find("photos/T2.jpg") is None
