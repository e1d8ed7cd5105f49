"""Limits set over the packaged ones in a survey folder, and what age does to them."""

from pathlib import Path

from bolewalk.impact.assess import assess_all
from bolewalk.impact.limits_told import limits_told
from bolewalk.impact.thresholds import thresholds
from bolewalk.intake.folder import read_folder
from bolewalk.papers.amounts import Amounts
from bolewalk.papers.language import Speaker, load_catalogue
from bolewalk.survey import assess
from tests.folders import feature, write_survey

LIMITS = """
version = "3"
source = "Town of Larkfold, guideline"
[[threshold]]
key = "severed.keep"
value = 25
unit = "pct"
source = "page 4"
provenance = "read"
[[threshold]]
key = "severed.keep_if.poor"
value = 25
unit = "pct"
source = "page 4"
provenance = "read"
"""
TREES = """\
tree,species,x,y,diameter,age,tolerance
M,ash,0,0,40,mature,good
O,ash,0,30,40,over-mature,good
"""


def folder(at: Path, *, limits: str = LIMITS, trench_x: float) -> Path:
    line = [[trench_x, -40], [trench_x, 80]]
    return write_survey(
        at, trees=TREES, works=[feature("trench", "LineString", line, depth=1)],
        files='thresholds = "limits.toml"', extra={"limits.toml": limits},
    )  # fmt: skip


def told(findings: object) -> str:
    limits = findings.limits or thresholds()  # type: ignore[attr-defined]
    return " ".join(Speaker(load_catalogue(), Amounts("metric")).texts(limits_told(limits)))


def test_a_file_of_the_folder_moves_the_verdict_and_is_named(tmp_path: Path) -> None:
    # At half the radius 19.55 % (circle segment): over the packaged 10 %, within the file's 25 %.
    job = read_folder(folder(tmp_path, trench_x=2.4))
    assert job.problems == ()
    found = assess(job)
    assert next(t.impact.verdict.now for t in found.trees if t.impact.verdict) == "keep"
    assert next(i.verdict.now for i in assess_all(job.survey) if i.verdict) == "keep_if"
    text = told(found)
    assert "limits.toml, version 3, sets 2 of its own. Town of Larkfold, guideline" in text
    assert "severed.keep: 25 pct instead of 10 pct (read: page 4)." in text


def test_a_faulty_file_is_told_and_its_sound_rows_count(tmp_path: Path) -> None:
    bad = LIMITS.replace("value = 25", 'value = "lots"', 1)
    job = read_folder(folder(tmp_path, limits=bad, trench_x=2.4))
    assert [(p.file, p.row, p.field, p.level) for p in job.problems] == [
        ("limits.toml", 1, "value", "fault")
    ]
    assert job.limits is not None
    assert job.limits.severed_keep_pct == 10
    job = read_folder(folder(tmp_path, limits="[[threshold]", trench_x=2.4))
    assert [p.file for p in job.problems] == ["limits.toml"]
    assert job.limits is None


def test_an_over_mature_tree_is_given_what_the_next_poorer_class_is(tmp_path: Path) -> None:
    # 27 % lies between the 30 % of a mature tree of good tolerance and the 25 % of moderate ones:
    # a cut at 0.3709 R (inverse of the circle segment, by halving).
    at = folder(tmp_path, limits="", trench_x=0.3709 * 4.8)
    found = assess(read_folder(at))
    mature, over = (t.impact for t in found.trees)
    assert mature.roots is not None
    assert 26.5 < mature.roots.proposed.severed_pct < 27.5
    t = thresholds()
    assert t.for_tree(age="over-mature").severed_keep_if_pct == {
        "poor": 15, "moderate": 20, None: 20, "good": 25,
    }  # fmt: skip
    assert t.for_tree(age="young").severed_keep_if_pct == t.severed_keep_if_pct
    assert mature.verdict is not None
    assert over.verdict is not None
    codes = [s.code for s in over.verdict.because]
    assert "verdict.limit_for_age" in codes
    assert "verdict.severed_over_keep_if" in codes
    assert "verdict.severed_over_keep_if" not in [s.code for s in mature.verdict.because]
