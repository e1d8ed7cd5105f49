"""Past jobs against simulated firms whose bias is known."""

import math
from dataclasses import replace

import numpy as np
import pytest

from bolewalk.model.survey import Site
from bolewalk.pricing.learning import JOB_COLUMNS, PastJob, learn, read_jobs
from bolewalk.pricing.price import price_survey
from bolewalk.pricing.tasks import ACCESS_CLASSES
from tests.pricing.jobs import oak, survey_of
from tests.pricing.money_files import rates

TASKS = ("remove_climb", "remove_fell", "prune_clean", "prune_reduce", "grind")
SCATTER = 0.25  # standard deviation of one job's log ratio


class Firm:
    """A firm that is slower or faster than the table by known factors."""

    def __init__(self, seed: int, *, biased: bool = True) -> None:
        self.rng = np.random.default_rng(seed)
        sign = self.rng.choice([-1, 1])
        overall = sign * self.rng.uniform(math.log(1.15), math.log(1.5)) if biased else 0.0
        spread = (0.15, 0.08) if biased else (0.0, 0.0)
        task = dict(zip(TASKS, self.rng.normal(0, spread[0], len(TASKS)), strict=True))
        access = dict(zip(ACCESS_CLASSES, self.rng.normal(0, spread[1], 3), strict=True))
        self.truth = {(t, a): overall + task[t] + access[a] for t in TASKS for a in ACCESS_CLASSES}

    def jobs(self, n: int) -> list[PastJob]:
        found = []
        for _ in range(n):
            key = (str(self.rng.choice(TASKS)), str(self.rng.choice(ACCESS_CLASSES)))
            ratio = math.exp(self.truth[key] + self.rng.normal(0, SCATTER))
            found.append(PastJob(*key, 4.0, 4.0 * ratio))
        return found

    def error(self, jobs: list[PastJob]) -> tuple[float, float]:
        """Mean error of the log hours before and after learning, over every task and class."""
        factors = learn(jobs).factors()
        before = [abs(b) for b in self.truth.values()]
        after = [
            abs(b - math.log(factors.get(t, {}).get(a, 1.0))) for (t, a), b in self.truth.items()
        ]
        return float(np.mean(before)), float(np.mean(after))


def test_sixty_jobs_halve_the_median_error():
    ratios = []
    for seed in range(200):
        firm = Firm(seed)
        before, after = firm.error(firm.jobs(60))
        ratios.append(after / before)
    assert np.median(ratios) <= 0.5


def test_three_jobs_do_no_harm():
    worse = []
    for seed in range(200):
        firm = Firm(seed)
        before, after = firm.error(firm.jobs(3))
        worse.append(after / before)
    assert np.percentile(worse, 95) <= 1.05


@pytest.mark.parametrize("n", [20, 60])
def test_noise_corrects_nothing(n):
    for seed in range(200):
        for correction in learn(Firm(seed, biased=False).jobs(n)).corrections:
            assert abs(correction.factor - 1) <= 0.02


def largest(jobs):
    """The largest correction learned from these jobs."""
    return max(abs(c.factor - 1) for c in learn(jobs).corrections)


def test_absurd_jobs_do_no_harm():
    # Three jobs of one task typed in wrong: hours beyond belief, and merely five times too long.
    typed = {5000.0: [], 5.0: []}
    for seed in range(200):
        jobs = Firm(seed, biased=False).jobs(57)
        for hours, found in typed.items():
            found.append(largest([*jobs, *[PastJob("grind", "easy", 1.0, hours)] * 3]))
    assert max(typed[5000.0]) <= 0.02
    assert np.percentile(typed[5.0], 95) <= 0.02


def test_many_jobs_find_the_truth():
    firm = Firm(3)
    factors = learn(firm.jobs(4000)).factors()
    for (task, access), bias in firm.truth.items():
        assert math.log(factors[task][access]) == pytest.approx(bias, abs=0.05)


def test_what_is_shown():
    firm = Firm(5)
    found = learn(firm.jobs(60))
    assert found.jobs == 60
    assert sum(c.jobs for c in found.corrections) == 60
    assert all(c.low < c.factor < c.high for c in found.corrections)
    assert found.error_after < found.error_before
    assert learn([]).corrections == ()
    assert learn(firm.jobs(3)).error_before is None


def test_order_does_not_matter():
    jobs = Firm(8).jobs(60)
    a, b = learn(jobs), learn(jobs[::-1])
    for x, y in zip(a.corrections, b.corrections, strict=True):
        assert x.factor == pytest.approx(y.factor)


def test_corrections_reach_the_hours():
    site = Site(slope_pct=5.0, carry_m=30.0, gate_m=1.2)
    survey = survey_of(oak("T1", decision="prune", notes="crown clean"), site=site)
    plain = price_survey(survey, rates()).lines[0]
    learned = {"prune_clean": {"easy": 1.0, "moderate": 1.5, "hard": 1.0}}
    slow = price_survey(survey, replace(rates(), learned=learned)).lines[0]
    assert plain.hours.access == "moderate"
    assert slow.hours.hours == pytest.approx(1.5 * plain.hours.hours)
    assert slow.hours.steps[-1].driver == "correction"


def test_reading_a_file():
    text = (
        "job,task,access,estimated_hours,actual_hours,weather\n"
        "J1,grind,easy,1.0,1.2,dry\n"
        "J2,grind,easy,1.0,-2,dry\n"
        "J3,mow,easy,1.0,1.0,dry\n"
        "J4,grind,steep,0,,dry\n"
        "J5,grind,easy,1.0,900,dry\n"
        "J6,grind,easy,1.0,1.0,dry,extra\n"
    )
    jobs, problems = read_jobs("\ufeff" + text, file="jobs.csv")
    assert jobs == (PastJob("grind", "easy", 1.0, 1.2, "J1"),)
    assert {(p.row, p.field, p.level) for p in problems} == {
        (1, "weather", "notice"), (3, "actual_hours", "fault"), (4, "task", "fault"),
        (5, "access", "fault"), (5, "estimated_hours", "fault"), (5, "actual_hours", "fault"),
        (6, "actual_hours", "notice"), (7, None, "fault"),
    }  # fmt: skip


@pytest.mark.parametrize("text", ["", "task\n", "a,b\n1,2\n"])
def test_missing_columns(text):
    jobs, problems = read_jobs(text, file="jobs.csv")
    assert jobs == ()
    missing = {p.field for p in problems if p.level == "fault"}
    assert missing >= {"access", "estimated_hours", "actual_hours"}
    assert missing <= set(JOB_COLUMNS)
