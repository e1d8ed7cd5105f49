"""Earlier visits and the record of choices, from the files survey.toml names."""

from pathlib import PurePosixPath

from bolewalk.drawing.details import Place
from bolewalk.drawing.grid import Grid, local_grid
from bolewalk.intake.reading import SurveyReading
from bolewalk.intake.survey_toml import HEAD_FILE
from bolewalk.visits.choices_toml import read_choices
from bolewalk.visits.earlier_json import read_earlier, read_seal
from bolewalk.visits.record import Choices, EarlierVisit

__all__ = ["read_choices_named", "read_visits"]

_FINDINGS, _SEAL, _PAPERS = "findings.json", "sealed.json", "papers"


def read_choices_named(reading: SurveyReading) -> Choices | None:
    """Read the file under `files.choices`; None where there is none."""
    table = reading.table(reading.head.files.choices, "files.choices")
    if table is None:
        return None
    choices, problems = read_choices(table.table, file=table.file)
    reading.problems += problems
    return choices


def read_visits(reading: SurveyReading, grid: Grid | None) -> tuple[EarlierVisit, ...]:
    """Read the papers under [[earlier]]; what is wrong is told in `reading`.

    Each names a findings.json, a folder with one, or an issue as it was sealed: papers/ and,
    beside them, sealed.json. A visit that is not before the survey's own day is left out.
    """
    visits = []
    for n, named in enumerate(reading.head.earlier, start=1):
        file = _findings_in(reading, named, n)
        if file is None:
            continue
        visit, problems = read_earlier(
            reading.source.path(file).read_bytes(),
            file=file,
            crs=reading.head.crs,
            m_per_grid_unit=(grid or local_grid(reading.head.units)).m_per_unit,
            issue=None if (seal := _seal_of(reading, file)) is None else read_seal(seal),
        )
        reading.problems += problems
        if visit is not None and visit.date >= reading.head.date:
            Place(file, None, reading.problems).tell(
                "survey.date", visit.date.isoformat(),
                f"a day before this survey's, {reading.head.date.isoformat()}; left out",
            )  # fmt: skip
        elif visit is not None:
            visits.append(visit)
    return tuple(visits)


def _findings_in(reading: SurveyReading, named: str, n: int) -> str | None:
    base = PurePosixPath(named.replace("\\", "/"))
    for inside in (base / _PAPERS / _FINDINGS, base / _FINDINGS):
        file = reading.source.find(inside.as_posix(), Place("", None), "")
        if file is not None:
            return file
    place = Place(HEAD_FILE, f"earlier {n}", reading.problems)
    return reading.source.find(named, place, "earlier.papers")


def _seal_of(reading: SurveyReading, file: str) -> bytes | None:
    folder = PurePosixPath(file).parent
    seal = ((folder.parent if folder.name == _PAPERS else folder) / _SEAL).as_posix()
    return reading.source.path(seal).read_bytes() if reading.source.has(seal) else None
