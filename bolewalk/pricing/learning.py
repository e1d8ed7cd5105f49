"""What a firm's past jobs say about its hours: corrections shrunk until chance moves nothing."""

import csv
import io
import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bolewalk.model.extras import extra
from bolewalk.model.problems import Problem
from bolewalk.pricing.tasks import ACCESS_CLASSES, hours_table

__all__ = ["JOB_COLUMNS", "Correction", "Learned", "PastJob", "learn", "read_jobs"]

JOB_COLUMNS = (
    "job", "date", "task", "access", "estimator", "estimated_hours", "actual_hours", "loads",
    "notes",
)  # fmt: skip
_NEEDED = ("task", "access", "estimated_hours", "actual_hours")


@cache
def _settings() -> Mapping[str, Any]:
    text = files("bolewalk.pricing").joinpath("data/learning.toml").read_text("utf-8")
    return tomllib.loads(text)


@dataclass(frozen=True, slots=True)
class PastJob:
    """One task of a past job: crew hours estimated and taken, both > 0."""

    task: str
    access: str
    estimated_hours: float
    actual_hours: float
    job: str = ""
    estimator: str = ""


@dataclass(frozen=True, slots=True)
class Correction:
    """What multiplies the hours of a task in an access class; 1 = left alone.

    `low`, `high` band the factor; `jobs` of this very task and class it rests on, `task_jobs` of
    the task in any class.
    """

    task: str
    access: str
    factor: float
    low: float
    high: float
    jobs: int
    task_jobs: int


@dataclass(frozen=True, slots=True)
class Learned:
    """Corrections by task and access class, and what they are worth.

    `error_before`, `error_after`: mean size of the log ratio of actual to estimated hours, in
    cross-validation: each part of the jobs is judged by corrections learned from the others.
    None with too few jobs to tell.
    """

    corrections: tuple[Correction, ...]
    jobs: int
    overall: float
    error_before: float | None
    error_after: float | None

    def factors(self) -> dict[str, dict[str, float]]:
        """Give task -> access class -> factor, as `Rates.learned` takes it."""
        found: dict[str, dict[str, float]] = {}
        for c in self.corrections:
            found.setdefault(c.task, {})[c.access] = c.factor
        return found


def read_jobs(text: str, *, file: str) -> tuple[tuple[PastJob, ...], tuple[Problem, ...]]:
    """Read past jobs from the text of a CSV file with a header row.

    Columns: `JOB_COLUMNS`; task, access, estimated_hours and actual_hours are needed in every
    row, other columns are named in a notice.

    Returns
    -------
    jobs : tuple of PastJob
        The sound rows. A ratio beyond all likelihood is set aside with a notice.
    problems : tuple of Problem
        All at once, with the row (header = 1).
    """
    reader = csv.DictReader(io.StringIO(text.lstrip("\ufeff")))
    columns = reader.fieldnames or ()
    problems = [
        Problem(file, 1, c, None, "this column: it is needed") for c in _NEEDED if c not in columns
    ]
    problems += [
        Problem(file, 1, c, c, "a known column: " + ", ".join(JOB_COLUMNS), "notice")
        for c in columns
        if c not in JOB_COLUMNS
    ]
    if any(c not in columns for c in _NEEDED):
        return (), tuple(problems)
    jobs: list[PastJob] = []
    for row, raw in enumerate(reader, start=2):
        job, found = _read_job(raw, row, file)
        problems += found
        if job is not None:
            jobs.append(job)
    return tuple(jobs), tuple(problems)


def _read_job(
    raw: Mapping[str | None, Any], row: int, file: str
) -> tuple[PastJob | None, list[Problem]]:
    problems: list[Problem] = []

    def cell(name: str) -> str:
        return str(raw.get(name) or "").strip()

    if cell("task") not in hours_table()["task"]:
        expected = "one of " + ", ".join(hours_table()["task"])
        problems.append(Problem(file, row, "task", cell("task"), expected))
    if cell("access") not in ACCESS_CLASSES:
        expected = "one of " + ", ".join(ACCESS_CLASSES)
        problems.append(Problem(file, row, "access", cell("access"), expected))
    hours = []
    for name in ("estimated_hours", "actual_hours"):
        try:
            value = float(cell(name))
        except ValueError:
            value = math.nan
        if not (math.isfinite(value) and value > 0):
            problems.append(Problem(file, row, name, cell(name), "crew hours above 0"))
        hours.append(value)
    if None in raw:
        problems.append(Problem(file, row, None, str(raw[None]), "no more cells than columns"))
    if problems:
        return None, problems
    ratio = hours[1] / hours[0]
    if abs(math.log(ratio)) > math.log(_settings()["absurd_ratio"]):
        limit = _settings()["absurd_ratio"]
        expected = f"at most {limit:g} times the estimate, or that part of it; set aside"
        return None, [Problem(file, row, "actual_hours", cell("actual_hours"), expected, "notice")]
    job = PastJob(cell("task"), cell("access"), hours[0], hours[1], cell("job"), cell("estimator"))
    return job, []


@dataclass(frozen=True, slots=True)
class _Fit:
    """Log corrections: overall, by task, by access class; standard errors of the same."""

    overall: float
    tasks: Mapping[str, float]
    access: Mapping[str, float]
    sd: float

    def log_factor(self, task: str, access: str) -> float:
        return self.overall + self.tasks.get(task, 0.0) + self.access.get(access, 0.0)


_NOTHING = _Fit(0.0, {}, {}, 0.0)


def _groups(
    r: NDArray[np.float64], names: Sequence[str]
) -> tuple[list[str], NDArray[np.intp], NDArray[np.float64], NDArray[np.float64]]:
    kinds = sorted(set(names))
    index = np.array([kinds.index(n) for n in names], dtype=np.intp)
    count = np.bincount(index, minlength=len(kinds)).astype(np.float64)
    return kinds, index, count, np.bincount(index, weights=r, minlength=len(kinds)) / count


def _between(
    r: NDArray[np.float64], names: Sequence[str], sd: float
) -> tuple[dict[str, float], NDArray[np.float64]]:
    """Deviations of groups from the common mean, nothing unless they differ more than chance.

    Where they do, each is shrunk by its own share of chance (random effects, DerSimonian and
    Laird 1986, doi:10.1016/0197-2456(86)90046-2).
    """
    kinds, index, count, mean = _groups(r - r.mean(), names)
    none = dict.fromkeys(kinds, 0.0)
    if len(kinds) < 2:
        return none, np.zeros_like(r)
    q = float((count * mean**2).sum()) / sd**2
    with extra("planning", what="Learning from past jobs"):
        from scipy.stats import chi2

    if chi2.sf(q, len(kinds) - 1) > _settings()["chance"]:
        return none, np.zeros_like(r)
    spread = count.sum() - (count**2).sum() / count.sum()
    tau2 = max(0.0, (q - (len(kinds) - 1)) * sd**2 / spread)
    shrunk = mean * tau2 / (tau2 + sd**2 / count)
    return dict(zip(kinds, shrunk.tolist(), strict=True)), shrunk[index]


def _fit(jobs: Sequence[PastJob]) -> _Fit:
    s = _settings()
    absurd = math.log(s["absurd_ratio"])
    jobs = [j for j in jobs if abs(math.log(j.actual_hours / j.estimated_hours)) <= absurd]
    if len(jobs) < s["least_jobs"]:
        return _NOTHING
    raw = np.array([math.log(j.actual_hours / j.estimated_hours) for j in jobs])
    # One odd day must not speak for a task: far from the firm's middle, a job counts less far.
    middle = float(np.median(raw))
    scale = max(1.4826 * float(np.median(np.abs(raw - middle))), s["least_sd"])
    far = s["far_sigmas"] * scale
    r = np.clip(raw, middle - far, middle + far)
    tasks, access = [j.task for j in jobs], [j.access for j in jobs]
    for task in sorted(set(tasks)):
        own = np.array([t == task for t in tasks])
        if own.sum() >= s["least_for_middle"]:
            at = float(np.median(r[own]))
            r[own] = np.clip(r[own], at - far, at + far)
    _, t_index, t_count, t_mean = _groups(r, tasks)
    within = r - t_mean[t_index]
    _, a_index, a_count, a_mean = _groups(within, access)
    within = within - a_mean[a_index]
    freedom = max(1, len(jobs) - len(t_count) - len(a_count) + 1)
    sd = max(math.sqrt(float((within**2).sum()) / freedom), s["least_sd"])
    by_task, task_part = _between(r, tasks, sd)
    by_access, access_part = _between(r - task_part, access, sd)
    rest = r - task_part - access_part
    sd_rest = max(float(rest.std(ddof=1)), s["least_sd"])
    se = sd_rest / math.sqrt(len(jobs))
    mean = float(r.mean())
    # Positive-part shrinkage: nothing below `strength` standard errors, little lost far above.
    overall = mean * max(0.0, 1 - (s["strength"] * se / mean) ** 2) if mean else 0.0
    return _Fit(overall, by_task, by_access, sd_rest)


def learn(jobs: Sequence[PastJob]) -> Learned:
    """Learn corrections of the hours from past jobs.

    ln(actual / estimated) = firm + task + access class + chance. Each part is taken only as far
    as it stands out of chance, so few jobs, odd jobs and mere noise leave the hours alone.

    Parameters
    ----------
    jobs : sequence of PastJob
        Any number, any order; those beyond all likelihood are set aside.

    Returns
    -------
    Learned
        One correction for every task and access class that occurs in the jobs.
    """
    s = _settings()
    fit = _fit(jobs)
    corrections = []
    for task in sorted({j.task for j in jobs}):
        n_task = sum(j.task == task for j in jobs)
        for access in ACCESS_CLASSES:
            n = sum(j.task == task and j.access == access for j in jobs)
            log_factor = fit.log_factor(task, access)
            half = s["band_sigmas"] * fit.sd / math.sqrt(max(n_task, 1))
            corrections.append(
                Correction(
                    task,
                    access,
                    math.exp(log_factor),
                    math.exp(log_factor - half),
                    math.exp(log_factor + half),
                    n,
                    n_task,
                )
            )
    before, after = _cross_validated(jobs)
    return Learned(tuple(corrections), len(jobs), math.exp(fit.overall), before, after)


def _cross_validated(jobs: Sequence[PastJob]) -> tuple[float | None, float | None]:
    s = _settings()
    if len(jobs) < 2 * s["least_jobs"]:
        return None, None
    before, after = [], []
    for k in range(s["folds"]):
        fit = _fit([j for n, j in enumerate(jobs) if n % s["folds"] != k])
        for j in jobs[k :: s["folds"]]:
            log_ratio = math.log(j.actual_hours / j.estimated_hours)
            before.append(abs(log_ratio))
            after.append(abs(log_ratio - fit.log_factor(j.task, j.access)))
    return float(np.mean(before)), float(np.mean(after))
