"""Works whose records cannot be used: the trees beside them are not judged as if they were not
there. Expected verdicts by the rule: never a clean keep (docs/verdicts.md)."""

from pathlib import Path
from typing import Any

import pytest

from bolewalk.impact.assess import assess_all, site_of, subject_of, verdicts_only
from bolewalk.impact.results import TreeImpact
from bolewalk.intake.folder import read_folder
from bolewalk.intake.job import Job
from bolewalk.papers.amounts import Amounts
from bolewalk.papers.language import Speaker, load_catalogue
from tests.folders import feature, write_survey

# 40 cm: a zone of 4.8 m (12 x, AS 4970).
TREES = "tree,species,x,y,diameter\nNear,ash,0,0,40\nFar,ash,60,0,40\nCut,ash,30,0,40\n"
TRENCH = [[31, -20], [31, 20]]  # 1 m from Cut: inside its structural radius


def survey(folder: Path, properties: dict[str, Any], geometry: dict[str, Any]) -> Job:
    """A trench beside Cut, and a feature that may not be usable."""
    trench = feature("trench", "LineString", TRENCH)
    other = {"type": "Feature", "properties": properties, "geometry": geometry}
    return read_folder(write_survey(folder, trees=TREES, works=[trench, other]))


def told(impact: TreeImpact) -> str:
    assert impact.verdict is not None
    speaker = Speaker(load_catalogue(), Amounts("metric"))
    return " ".join(speaker.texts(impact.verdict.because + impact.verdict.conditions))


NAN = float("nan")


@pytest.mark.parametrize(
    ("properties", "coordinates"),
    [
        ({"id": "W2", "kind": "trnch"}, [[3, -9], [3, 9]]),
        ({"id": "W2"}, [[3, -9], [3, 9]]),
        ({"id": "W2", "kind": "trench"}, [[3, -9], [3, NAN], [3, 9]]),
    ],
)
def test_a_tree_beside_a_work_left_out_is_undecided_and_names_it(
    tmp_path: Path, properties: dict[str, Any], coordinates: list[list[float]]
) -> None:
    job = survey(tmp_path, properties, {"type": "LineString", "coordinates": coordinates})
    assert [(w.name, w.extent_m) for w in job.survey.left_out] == [("W2", (3, -9, 3, 9))]
    near, far, cut = assess_all(job.survey)
    assert near.verdict is not None
    assert far.verdict is not None
    assert cut.verdict is not None
    assert near.verdict.now == near.verdict.with_later == "undecided"
    assert "W2" in told(near)
    # Out of reach of the work, and beyond help whatever it is.
    assert far.verdict.now == "keep"
    assert "W2" not in told(far)
    assert cut.verdict.now == "redesign"


def test_a_work_whose_place_cannot_be_read_leaves_no_clean_keep(tmp_path: Path) -> None:
    job = survey(tmp_path, {"id": "W2", "kind": "trench"}, {"type": "Blob"})
    assert [(w.name, w.extent_m) for w in job.survey.left_out] == [("W2", None)]
    impacts = assess_all(job.survey)
    assert [i.verdict.now for i in impacts if i.verdict] == ["keep_if", "keep_if", "redesign"]
    assert all("W2" in told(i) for i in impacts[:2])


def test_a_file_that_cannot_be_read_is_named(tmp_path: Path) -> None:
    survey(tmp_path, {"id": "W2", "kind": "trench"}, {"type": "Point", "coordinates": [0, 0]})
    (tmp_path / "works.geojson").write_text('{"type": "FeatureColl', encoding="utf-8")
    job = read_folder(tmp_path)
    near = assess_all(job.survey)[0]
    assert near.verdict is not None
    assert near.verdict.now == "keep_if"
    assert "works.geojson" in told(near)


def test_while_a_plan_is_dragged_the_work_left_out_counts_too(tmp_path: Path) -> None:
    line = {"type": "LineString", "coordinates": [[3, -9], [3, 9]]}
    s = survey(tmp_path, {"id": "W2", "kind": "trnch"}, line).survey
    quick = verdicts_only([subject_of(t, s.method) for t in s.trees], site_of(s))
    assert [q[1].now for q in quick if q] == ["undecided", "keep", "redesign"]


def test_a_property_left_out_leaves_the_work_in(tmp_path: Path) -> None:
    line = {"type": "LineString", "coordinates": [[20, -9], [20, 9]]}
    job = survey(tmp_path, {"id": "W2", "kind": "trench", "depth": -3}, line)
    assert job.survey.left_out == ()
    assert [p.field for p in job.problems if p.level == "fault"] == ["depth"]
