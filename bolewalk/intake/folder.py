"""The survey folder in: every file read once, every problem told, a job out."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from bolewalk.drawing.details import Place
from bolewalk.drawing.grid import Grid, GridError, local_grid, named_grid
from bolewalk.impact.thresholds import Thresholds, thresholds_over
from bolewalk.intake.checks_across import (
    check_degrees,
    check_grid_scale,
    check_places,
    extent_of,
    joined,
    name_apart,
    utm_hint,
    without_replaced,
)
from bolewalk.intake.discussion import discussion_of
from bolewalk.intake.examples import example_values
from bolewalk.intake.job import Job, RawTable
from bolewalk.intake.left_out import left_out
from bolewalk.intake.plans import Plan, read_plans, read_works
from bolewalk.intake.reading import SurveyReading, suffix_of
from bolewalk.intake.source import FolderSource, Source
from bolewalk.intake.species_names import name_species
from bolewalk.intake.survey_toml import HEAD_FILE, Head, HeadError, read_head
from bolewalk.intake.toml_file import TomlError
from bolewalk.intake.tree_table import read_tree_records
from bolewalk.intake.visited import read_choices_named, read_visits
from bolewalk.intake.walked import read_walked
from bolewalk.model.problems import Problem
from bolewalk.model.survey import Survey
from bolewalk.model.trees import Tree
from bolewalk.model.works import Work
from bolewalk.planting.plan import PlantingPlan
from bolewalk.planting.plan_toml import read_planting
from bolewalk.pricing.future_cases import FutureCase, read_futures
from bolewalk.pricing.phase_items import PhasePlan, read_phases
from bolewalk.pricing.rates import Rates, read_rates
from bolewalk.rules.named import check_names
from bolewalk.rules.reader import read_rules, unread_table
from bolewalk.rules.table import RuleTable

__all__ = ["SurveyUnreadableError", "read_folder", "read_survey"]

_A_LINK = "a link, which is not followed: put the file itself into the survey folder"
_NOT_THERE = (
    "it is not there; a survey is a folder with a survey.toml in it, as `bolewalk new` writes one"
)
_PHOTOS = frozenset({".jpg", ".jpeg", ".png", ".webp", ".heic", ".heif", ".tif", ".tiff"})


class SurveyUnreadableError(ValueError):
    """survey.toml cannot be read at all. `problems` names what it lacks."""

    def __init__(self, text: str, problems: tuple[Problem, ...]) -> None:
        super().__init__(text)
        self.problems = problems


def read_folder(path: Path) -> Job:
    """Read a survey folder.

    Parameters
    ----------
    path : Path
        The folder that holds survey.toml.

    Returns
    -------
    Job
        All that could be read, with every problem of every file.

    Raises
    ------
    SurveyUnreadableError
        No survey.toml, not TOML, or without date or units.
    """
    try:
        root = path.resolve()
        linked = (root / HEAD_FILE).is_symlink()
    except (OSError, RuntimeError, ValueError):
        # Too long a name, or a link that leads to itself.
        raise _unreadable(_NOT_THERE) from None
    if linked:
        raise _unreadable(_A_LINK)
    return read_survey(FolderSource(root))


def read_survey(source: Source) -> Job:
    """Read a survey wherever its files are; as `read_folder` for a folder."""
    reading = SurveyReading(source, _read_head(source))
    reading.problems += reading.head.problems
    trees, grid = _trees_and_grid(reading)
    works = read_works(reading, grid)
    plans, underlays = read_plans(reading, grid)
    cues, parts = read_walked(reading)
    rates_table = reading.table(reading.head.files.rates, "files.rates")
    rates = _rates(reading, rates_table)
    rules = _rules(reading)
    planting = _planting(reading, grid)
    phases = _phases(reading)
    futures = _futures(reading)
    limits = _limits(reading)
    photos = _photos(reading)
    earlier = read_visits(reading, grid)
    choices = read_choices_named(reading)
    discussion = discussion_of(reading, trees)
    own = None if rates_table is None else rates_table.table
    examples = example_values(reading, trees, own)
    trees, works = _across(reading, trees, works, plans, grid)
    reading.problems += check_names(rules, trees=trees, works=works)
    return Job(
        survey=_survey(reading, grid, trees, works, plans),
        rates=rates,
        rates_table=rates_table,
        rules=rules,
        planting=planting,
        phases=phases,
        futures=futures,
        limits=limits,
        cues=cues,
        parts=parts,
        underlays=underlays,
        photos=photos,
        earlier=earlier,
        choices=choices,
        discussion=discussion,
        examples=examples,
        problems=tuple(reading.problems),
    )


def _read_head(source: Source) -> Head:
    try:
        if not source.has(HEAD_FILE):
            raise TomlError(_NOT_THERE)
        return read_head(source.toml(HEAD_FILE))
    except TomlError as e:
        raise _unreadable(str(e)) from None
    except HeadError as e:
        raise SurveyUnreadableError(f"{HEAD_FILE} cannot be read:\n{e}", e.problems) from None


def _unreadable(why: str) -> SurveyUnreadableError:
    problem = Problem(HEAD_FILE, None, None, why, "a TOML file")
    return SurveyUnreadableError(f"{HEAD_FILE} cannot be read: {why}", (problem,))


def _trees_and_grid(reading: SurveyReading) -> tuple[tuple[Tree, ...], Grid | None]:
    head = reading.head
    wrong: str | None = None
    grid: Grid | None = None
    try:
        grid = local_grid(head.units) if head.crs is None else named_grid(head.crs)
    except GridError as e:
        wrong = str(e)
    trees, problems = _trees(reading, grid)
    if wrong is not None:
        xy = [(t.entered.get("x", ""), t.entered.get("y", "")) for t in trees]
        Place(HEAD_FILE, None, reading.problems).tell(
            "survey.crs", head.crs, f"{wrong}{utm_hint(xy)}; no position can be read until then"
        )
    reading.problems += problems
    return trees, grid


def _trees(
    reading: SurveyReading, grid: Grid | None
) -> tuple[tuple[Tree, ...], tuple[Problem, ...]]:
    name = reading.head.files.trees
    if not name:
        walked = bool(reading.head.files.walk)
        Place(HEAD_FILE, None, reading.problems).tell(
            "files.trees", None, "a tree table", level="notice" if walked else "fault"
        )
        return (), ()
    file = reading.named(name, "files.trees")
    if file is None:
        return (), ()
    whole = Place(file, None)
    records = reading.source.records(file, whole)
    trees, problems = read_tree_records(
        records, file=file, grid=grid, units=reading.head.units, name_species=name_species
    )
    told = [*whole.problems, *problems]
    trees = tuple(_with_photo(reading, t, Place(file, t.row, told)) for t in trees)
    if grid is not None:
        trees, degrees = check_degrees(trees, grid=grid, file=file)
        told += degrees
    return trees, tuple(told)


def _with_photo(reading: SurveyReading, tree: Tree, place: Place) -> Tree:
    """Give the tree with the path of its photograph, looked for in the photo folder first."""
    if not tree.photo:
        return tree
    folder = reading.head.files.photos
    for name in (f"{folder}/{tree.photo}", tree.photo) if folder else (tree.photo,):
        file = reading.source.find(name, Place("", None), "")
        if file is not None:
            return replace(tree, photo=file)
    reading.source.find(tree.photo, place, "photo")
    return replace(tree, photo="")


def _rates(reading: SurveyReading, table: RawTable | None) -> Rates | None:
    if table is None:
        return None
    rates, problems = read_rates(table.table, file=table.file)
    reading.problems += problems
    return rates


def _rules(reading: SurveyReading) -> tuple[RuleTable, ...]:
    """Read every rule table named; one that cannot be read stays, as it may protect any tree."""
    tables = []
    for name in reading.head.files.rules:
        raw = reading.table(name, "files.rules")
        if raw is None:
            tables.append(unread_table(Path(name).as_posix()))
            continue
        table, problems = read_rules(raw.table, file=raw.file)
        reading.problems += problems
        tables.append(table)
    return tuple(tables)


def _planting(reading: SurveyReading, grid: Grid | None) -> PlantingPlan | None:
    table = reading.table(reading.head.files.planting, "files.planting")
    if table is None:
        return None
    units = reading.head.units
    plan, problems = read_planting(
        table.table, file=table.file, units=units,
        m_per_grid_unit=(grid or local_grid(units)).m_per_unit,
    )  # fmt: skip
    reading.problems += problems
    return plan


def _phases(reading: SurveyReading) -> PhasePlan | None:
    table = reading.table(reading.head.files.phases, "files.phases")
    if table is None:
        return None
    plan, problems = read_phases(table.table, file=table.file)
    reading.problems += problems
    return plan


def _futures(reading: SurveyReading) -> tuple[FutureCase, ...]:
    table = reading.table(reading.head.files.futures, "files.futures")
    if table is None:
        return ()
    cases, problems = read_futures(table.table, file=table.file)
    reading.problems += problems
    return cases


def _limits(reading: SurveyReading) -> Thresholds | None:
    table = reading.table(reading.head.files.thresholds, "files.thresholds")
    if table is None:
        return None
    limits, problems = thresholds_over(table.table, file=table.file)
    reading.problems += problems
    return limits


def _photos(reading: SurveyReading) -> tuple[str, ...]:
    name = reading.head.files.photos
    folder = reading.named(name, "files.photos", folder=True) if name else None
    if folder is None:
        return ()
    found = []
    here = Place(HEAD_FILE, None, reading.problems)
    for file in reading.source.under(folder):
        if suffix_of(file) in _PHOTOS and reading.source.find(file, here, "files.photos"):
            found.append(file)
    return tuple(found)


def _across(
    reading: SurveyReading,
    trees: Sequence[Tree],
    works: Sequence[Work],
    plans: Sequence[Plan],
    grid: Grid | None,
) -> tuple[tuple[Tree, ...], tuple[Work, ...]]:
    drawn, told = without_replaced(works, [w for p in plans for w in p.read.works])
    reading.problems += told
    everything, told = name_apart([*works, *drawn])
    reading.problems += told
    if grid is not None:
        here = Place(HEAD_FILE, None, reading.problems)
        check_grid_scale(trees, everything, grid=grid, place=here)
    extents = [p.read.extent_m for p in plans]
    placed, told = check_places(
        trees,
        extent=joined([extent_of(everything), *extents]),
        drawn=any(e is not None for e in extents),
        units=reading.head.units,
        file=Path(reading.head.files.trees).as_posix(),
    )
    reading.problems += told
    return placed, everything


def _survey(
    reading: SurveyReading,
    grid: Grid | None,
    trees: tuple[Tree, ...],
    works: tuple[Work, ...],
    plans: Sequence[Plan],
) -> Survey:
    head = reading.head
    own = local_grid(head.units)
    return Survey(
        name=head.name,
        date=head.date,
        units=head.units,
        purpose=head.purpose,
        method=head.method,
        crs=head.crs if grid is not None else None,
        m_per_grid_unit=(grid or own).m_per_unit,
        people=head.people,
        site=head.site,
        trees=trees,
        works=works,
        drawings=tuple(p.drawing for p in plans if p.read.extent_m is not None),
        place=head.place,
        told=head.told,
        left_out=left_out(reading),
    )
