"""Earlier papers and records of choices read back, whatever is wrong with them."""

import hashlib
import json
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bolewalk.demo.make_skeleton import new_folder
from bolewalk.intake.folder import read_folder
from bolewalk.papers.language import load_catalogue
from bolewalk.papers.write import reading_of, write_papers
from bolewalk.survey import assess
from bolewalk.visits.choices_toml import CHOICE_KEYS, read_choices
from bolewalk.visits.earlier_json import read_earlier, read_seal

JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=6),
    lambda inner: st.lists(inner, max_size=4)
    | st.dictionaries(
        st.sampled_from(["survey", "trees", "tree", "date", "units", "crown", "radii", "position",
                         "diameter", "stems", "species", "verdict", "works", "defaults", "code"]),
        inner, max_size=5,
    ),
    max_leaves=20,
)  # fmt: skip
HEAD = {"date": "2023-05-01", "units": "metric", "crs": None, "name": "Court"}


def read(data, **more):
    options = {"file": "f.json", "crs": None, "m_per_grid_unit": 1.0, **more}
    return read_earlier(json.dumps(data).encode(), **options)


@given(JSON)
def test_no_content_of_a_file_is_an_error(data):
    visit, problems = read(data)
    assert visit is not None or problems


@given(st.dictionaries(st.sampled_from(["trees", "works", "price", "defaults"]), JSON))
def test_a_sound_head_always_gives_a_visit(rest):
    visit, _ = read({**rest, "survey": HEAD})
    assert visit is not None
    assert visit.date == date(2023, 5, 1)


@pytest.mark.parametrize("content", [b"", b"[", b"[" * 100_000, b"\xff\xfe", b"null"])
def test_what_is_no_findings_file_is_told(content):
    visit, problems = read_earlier(content, file="f.json", crs=None, m_per_grid_unit=1.0)
    assert visit is None
    assert [(p.file, p.level) for p in problems] == [("f.json", "fault")]


def test_sizes_come_back_in_metres_and_centimetres():
    # 1 ft = 0.3048 m, 1 in = 2.54 cm, exactly (international foot and inch).
    raw = {
        "tree": "T1", "position": [100.0, 50.0], "diameter": {"stems": [10.0, 4.0]},
        "height": 40.0, "crown": {"radii": [10.0, 12.0, 14.0, 16.0]},
    }  # fmt: skip
    visit, problems = read({"survey": {**HEAD, "units": "imperial"}, "trees": [raw, raw]})
    assert visit is not None
    (then,) = visit.trees
    t = then.tree
    assert (t.x_m, t.y_m) == pytest.approx((30.48, 15.24))
    assert [s.value for s in t.stems_cm] == pytest.approx([25.4, 10.16])
    assert t.height_m is not None
    assert t.height_m.value == pytest.approx(12.192)
    assert t.crown is not None
    assert t.crown.radii_m == pytest.approx((3.048, 3.6576, 4.2672, 4.8768))
    assert [(p.row, p.field) for p in problems] == [(2, "trees.tree")]


def test_positions_on_another_grid_are_not_used_and_that_is_told():
    data = {"survey": {**HEAD, "crs": "EPSG:2229"}, "trees": [{"tree": "T1", "position": [1, 2]}]}
    visit, problems = read(data)
    assert visit is not None
    assert visit.trees[0].tree.x_m is None
    assert [(p.field, p.level) for p in problems] == [("survey.crs", "notice")]


def test_a_seal_is_read_with_its_own_hash():
    content = b'{"number":"3","title":"For the council","at":"2026-01-02T03:04:05","who":"Ada"}'
    seal = read_seal(content)
    assert seal is not None
    assert (seal.number, seal.title, seal.who) == ("3", "For the council", "Ada")
    assert seal.sha256 == hashlib.sha256(content).hexdigest()
    assert read_seal(b"[]") is None
    assert read_seal(b"{") is None


# --- choices.toml ---------------------------------------------------------------------------


def test_choices_are_read_and_every_fault_is_told():
    day = date(2026, 1, 2)
    choices, problems = read_choices(
        {
            "choice": [
                {"tree": "T1", "choice": "no", "by": "R. Toll", "date": day, "reason": "shade"},
                {"tree": "T2", "choice": "perhaps", "by": "R. Toll", "date": day},
                {"tree": "T3"},
            ],
            "done": [{"tree": "T1", "act": "prune", "date": day, "colour": "red"}],
            "assumption": [{"text": "no trench", "trees": "T1", "until": day}],
            "promise": [],
        },
        file="choices.toml",
    )
    assert [c.tree for c in choices.choices] == ["T1"]
    assert choices.done == ()
    assert choices.assumptions[0].trees == ("T1",)
    assert {(p.row, p.field) for p in problems} == {
        (None, "promise"), ("choice 2", "choice.choice"), ("choice 3", "choice.choice"),
        ("choice 3", "choice.by"), ("choice 3", "choice.date"), ("done 1", "done.colour"),
    }  # fmt: skip


@given(st.dictionaries(st.sampled_from([*CHOICE_KEYS, "other"]), JSON))
def test_no_table_is_an_error(table):
    choices, _ = read_choices(table, file="choices.toml")
    assert all(c.tree for c in choices.choices)


# --- a survey folder --------------------------------------------------------------------------


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A survey whose first visit's papers were made and sealed by hand beside it."""
    root = tmp_path / "survey"
    new_folder(root)
    write_papers(assess(read_folder(root)), root / "issue" / "papers")
    (root / "issue" / "sealed.json").write_text('{"number": "7", "at": "2026-02-01T09:00:00"}')
    head = (root / "survey.toml").read_text("utf-8")
    head = head.replace("2026-01-31", "2027-03-01")
    head = head.replace("[files]", '[files]\nchoices = "choices.toml"')
    (root / "survey.toml").write_text(head + '\n[[earlier]]\npapers = "issue"\n', "utf-8")
    (root / "choices.toml").write_text(
        '[[assumption]]\ntext = "No trench will come."\nuntil = 2026-12-31\n', "utf-8"
    )
    return root


def test_a_return_visit_is_read_judged_and_printed(folder: Path, tmp_path: Path):
    job = read_folder(folder)
    assert [p for p in job.problems if p.level == "fault"] == []
    (visit,) = job.earlier
    assert visit.issue is not None
    assert (visit.source, visit.issue.number) == ("issue/papers/findings.json", "7")
    found = assess(job)
    assert found.returned is not None
    assert [(t.tree, t.was, t.state) for t in found.returned.trees] == [("T1", "T1", "same")]
    # The skeleton's tree: 14 in = 35.56 cm.
    assert [r.trunk_cm for r in found.returned.trees[0].readings] == pytest.approx([35.56] * 2)
    states = {a.says.code: a.state for a in found.returned.assumptions}
    assert states["visit.assumption_expired"] == "expired"
    assert states["visit.report_expired"] == "expired"
    out = tmp_path / "out"
    names = {p.name for p in write_papers(found, out)}
    assert "return.pdf" in names
    data = json.loads((out / "findings.json").read_text("utf-8"))["earlier"]
    assert data["visits"][0]["issue"]["number"] == "7"
    assert data["trees"][0]["readings"][0]["trunk"] == pytest.approx(14)


def test_an_earlier_visit_must_be_earlier_and_there(folder: Path):
    head = (folder / "survey.toml").read_text("utf-8")
    (folder / "survey.toml").write_text(
        head.replace("2027-03-01", "2026-01-31") + '[[earlier]]\npapers = "gone"\n[[earlier]]\n',
        "utf-8",
    )
    job = read_folder(folder)
    assert job.earlier == ()
    told = {(p.file, p.row, p.field) for p in job.problems if p.level == "fault"}
    assert told >= {
        ("issue/papers/findings.json", None, "survey.date"),
        ("survey.toml", "earlier 2", "earlier.papers"),
        ("survey.toml", "earlier 3", "earlier.papers"),
    }


def test_without_earlier_papers_nothing_is_said(tmp_path: Path):
    new_folder(tmp_path / "s")
    found = assess(read_folder(tmp_path / "s"))
    assert found.returned is None
    assert reading_of(found, catalogue=load_catalogue("en")).issue_text() == "draft, not issued"


def test_every_key_is_told_of():
    page = (Path(__file__).parents[2] / "docs" / "visits.md").read_text("utf-8")
    for kind, keys in CHOICE_KEYS.items():
        for key in keys:
            assert f"`{kind}.{key.path}`" in page
