"""A feature that stands for a work of a drawing: moved piles, and holes that will not be dug."""

import pytest

from tests.intake.surveys import WORKS, feature, read

PLAN = [f"S-PILE-{n}" for n in (1, 2, 3)]


def ids(job):
    return sorted(w.id for w in job.survey.works)


def moved(**properties):
    return [*WORKS, feature("M1", "pile", "Point", [12, 24], diameter=1, **properties)]


def test_the_drawn_work_is_left_out(tmp_path):
    before, after = read(tmp_path / "a"), read(tmp_path / "b", works=moved(replaces="S-PILE-2"))
    assert after.problems == before.problems
    assert ids(after) == sorted([*(i for i in ids(before) if i != "S-PILE-2"), "M1"])


def test_its_id_can_be_taken_over(tmp_path):
    works = [*WORKS, feature("S-PILE-2", "pile", "Point", [12, 24], replaces="plan.dxf/S-PILE-2")]
    job = read(tmp_path, works=works)
    (pile,) = (w for w in job.survey.works if w.id == "S-PILE-2")
    assert pile.file == "works.geojson"
    assert pile.parts[0].ring[0] == pytest.approx((12 * 0.3048, 24 * 0.3048))


def test_an_unknown_name_is_told_and_nothing_left_out(tmp_path):
    job = read(tmp_path, works=moved(replaces="S-PILE-9"))
    assert set(PLAN) <= set(ids(job))
    (problem,) = (p for p in job.problems if p.field == "replaces")
    assert (problem.file, problem.row, problem.value) == ("works.geojson", "M1", "S-PILE-9")
    assert problem.level == "fault"
    assert "nothing drawn is left out" in problem.expected
