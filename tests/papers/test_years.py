"""Phases and keep-or-remove on paper. Sums: worked by hand and by trying every schedule."""

from dataclasses import replace
from pathlib import Path

import pytest

from bolewalk.papers.draw.costs import draw_costs
from bolewalk.papers.language import Catalogue
from bolewalk.papers.proposal import proposal_data
from bolewalk.papers.typeset import typeset
from bolewalk.papers.write import reading_of
from bolewalk.papers.years import futures_data, phases_data
from bolewalk.pricing.futures import compare_paths
from bolewalk.pricing.phases import plan_phases
from tests.papers.conftest import pdf_text
from tests.papers.invented import findings
from tests.pricing.money_files import FAN_PALM, PELL, futures_of, phases_of


def test_schedules_stand_side_by_side_and_add_up(tmp_path: Path, catalogue: Catalogue) -> None:
    f = replace(findings(), phases=plan_phases(phases_of(PELL)))
    reading = reading_of(f, catalogue=catalogue)
    data = phases_data(reading)
    assert data is not None
    # By trying every schedule: 3,120 / 3,185 / 1,890, in all 8,195.
    assert [r[1] for r in data["sums"][:4]] == ["$3,120.00", "$3,185.00", "$1,890.00", "$8,195.00"]
    assert {len(r) for r in data["rows"] + data["sums"]} == {len(data["heads"]) + 1}
    path = tmp_path / "p.pdf"
    path.write_bytes(typeset("proposal", proposal_data(reading)))
    text = pdf_text(path)
    assert "Spread over years" in text
    assert "$8,195.00" in text


def test_budgets_that_carry_nothing_say_so(catalogue: Catalogue) -> None:
    plan = phases_of(PELL)
    poor = replace(plan, budgets_minor=tuple(100 for _ in plan.budgets_minor))
    reading = reading_of(replace(findings(), phases=plan_phases(poor)), catalogue=catalogue)
    data = phases_data(reading)
    assert data is not None
    assert data["rows"] == []
    assert "more would be needed" in data["impossible"]
    typeset("proposal", proposal_data(reading))


def test_keep_or_remove(tmp_path: Path, catalogue: Catalogue) -> None:
    f = replace(findings(), futures=tuple(compare_paths(c) for c in futures_of(FAN_PALM)))
    reading = reading_of(f, catalogue=catalogue)
    (case,) = futures_data(reading)
    # By hand: keep 4,790 (3 %: 3,152), remove 1,060 (3 %: 906).
    assert [r[1] for r in case["rows"]] == ["$4,790.00", "$1,060.00"]
    today = [float(r[3].replace("$", "").replace(",", "")) for r in case["rows"]]
    assert [round(t) for t in today] == [3152, 906]
    path = tmp_path / "p.pdf"
    path.write_bytes(typeset("proposal", proposal_data(reading)))
    assert "Keep it or remove it" in pdf_text(path)


def test_cost_lines_end_at_their_sums() -> None:
    scene = draw_costs(
        [("a", [100, 0, 100]), ("b", [50, 0, 0])], width_mm_=100, height_mm=50, currency="USD",
        year="year",
    )  # fmt: skip
    lines = [s.points for s in scene.strokes if s.pen in ("bold", "later")]
    zero = lines[0][0][1]
    ends = [zero - line[-1][1] for line in lines]
    assert ends[0] / ends[1] == pytest.approx(200 / 50)
    assert {n.text for n in scene.notes} >= {"a", "b", "0", "50", "100", "150", "200"}


def test_no_phases_and_no_futures(catalogue: Catalogue) -> None:
    reading = reading_of(findings(), catalogue=catalogue)
    assert phases_data(reading) is None
    assert futures_data(reading) == []
