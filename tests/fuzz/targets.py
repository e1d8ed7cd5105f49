"""What is fuzzed: one reader of outside files each, and what it may do with bad bytes.

A reader may give problems, or raise the one error its docstring names. Anything else is a finding.
"""

import io
import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from bolewalk.desk.uploads import UploadError, lay_out
from bolewalk.drawing.details import Place
from bolewalk.drawing.dxf import read_dxf
from bolewalk.drawing.geojson import read_geojson
from bolewalk.drawing.grid import Grid, local_grid, named_grid
from bolewalk.intake.folder import SurveyUnreadableError, read_folder
from bolewalk.intake.species_names import name_species
from bolewalk.intake.survey_toml import HeadError, read_head
from bolewalk.intake.table_file import read_records
from bolewalk.intake.toml_file import TomlError, read_toml
from bolewalk.intake.tree_table import read_tree_records
from bolewalk.model.problems import Problem
from bolewalk.model.survey import Drawing
from bolewalk.planting.plan_toml import read_planting
from bolewalk.pricing.future_cases import read_futures
from bolewalk.pricing.phase_items import read_phases
from bolewalk.pricing.rates import read_rates
from bolewalk.rules.reader import read_rules
from bolewalk.store.errors import StoreError
from bolewalk.store.record import read_record
from bolewalk.store.tables import csv_bytes, read_columns_and_rows, read_features_file, records
from bolewalk.survey import assess
from bolewalk.walk.cues import read_cues
from bolewalk.walk.draft import draft
from bolewalk.walk.recordings import probe

__all__ = ["CORPUS", "TARGETS", "Target"]

CORPUS = Path(__file__).parents[1] / "data" / "fuzz"
LONGEST_LINE = 5_000
"""Characters of a problem as one line: what a file holds must not fill a screen."""
_UTM = named_grid("EPSG:32610")
_FEET = local_grid("imperial")
_DRAWING = Drawing(file="plan.dxf", title="Site plan")
_LAYERS = {
    "S-PILE": "pile",
    "S-TRENCH": {"kind": "trench", "depth": 3, "width": 1.5},
    "S-SLAB": "slab",
    "0": {"kind": "building", "high": 20},
}


@dataclass(frozen=True, slots=True)
class Target:
    """One reader: `read(file, scratch folder)` must raise nothing.

    `text` tells how its files are damaged; `weight` is its share of the time.
    """

    name: str
    read: Callable[[Path, Path], object]
    text: bool = True
    weight: int = 1

    def seeds(self) -> list[bytes]:
        """Give the sound files and old findings it starts from, in order of name."""
        return [p.read_bytes() for p in sorted((CORPUS / self.name).iterdir())]


def _words(error: Exception) -> None:
    if not str(error):
        raise AssertionError("an error without words")


def _sound(problems: Iterable[Problem]) -> None:
    """Hold problems to what every report needs: words, and JSON that can be written."""
    for p in problems:
        if not p.expected or len(p.line()) > LONGEST_LINE:
            raise AssertionError(f"{len(p.line())} characters: {p.line()[:300]}")
        json.dumps(p.as_dict(), ensure_ascii=False).encode("utf-8", errors="surrogatepass")


def _trees(path: Path, _: Path) -> None:
    for grid, units in ((_FEET, "imperial"), (_UTM, "metric")):
        whole = Place("trees.csv", None)
        read = read_records(path, whole)
        _, problems = read_tree_records(
            read, file="trees.csv", grid=grid, units=units, name_species=name_species
        )
        _sound([*whole.problems, *problems])


def _kept_table(path: Path, folder: Path) -> None:
    """What the store takes of a table, written out, must say the same again."""
    taken = read_columns_and_rows(path)
    if taken is None:
        return
    again = folder / "again.csv"
    again.write_bytes(csv_bytes(records(*taken)))
    assert read_columns_and_rows(again) == taken


def _head(path: Path, _: Path) -> None:
    try:
        _sound(read_head(read_toml(path)).problems)
    except HeadError as e:
        _sound(e.problems)
    except TomlError as e:
        _words(e)


def _table(read: Callable[[Mapping[str, object]], object]) -> Callable[[Path, Path], None]:
    def run(path: Path, _: Path) -> None:
        try:
            table = read_toml(path)
        except TomlError as e:
            _words(e)
            return
        _sound(read(table)[1])

    return run


def _walk(path: Path, _: Path) -> None:
    cues, problems = read_cues(path, file="walk.vtt")
    _sound(problems)
    assert all(0 <= c.start_s <= c.end_s and c.text for c in cues)
    draft(cues)


def _geojson(path: Path, _: Path) -> None:
    grids: tuple[tuple[Grid, str], ...] = ((_FEET, "imperial"), (_UTM, "metric"))
    for grid, units in grids:
        _sound(read_geojson(path, file="works.geojson", grid=grid, units=units)[1])
    read_features_file(path)


def _dxf(path: Path, _: Path) -> None:
    read = read_dxf(
        path, drawing=_DRAWING, layers=_LAYERS, grid=_FEET, units="imperial",
        listed=Place("survey.toml", None), unit="ft",
    )  # fmt: skip
    _sound(read.problems)


def _zip(path: Path, folder: Path) -> None:
    inside = folder / "in"
    inside.mkdir()
    try:
        lay_out([("a.zip", io.BytesIO(path.read_bytes()))], inside)
    except UploadError as e:
        _words(e)
    assert [p.name for p in folder.iterdir()] == ["in"]
    assert not any(p.is_symlink() for p in inside.rglob("*"))


def _record(path: Path, _: Path) -> None:
    try:
        read_record(path)
    except StoreError as e:
        _words(e)


def _recording(path: Path, _: Path) -> None:
    _sound(probe(path, file="walk.mp4")[1])


_PARTS = ("survey.toml", "trees.csv", "works.geojson", "rates.toml", "rules.toml", "walk.vtt")


def _survey(path: Path, folder: Path) -> None:
    """A whole small survey in one file, its parts after lines of dashes; judged and priced."""
    pieces = path.read_bytes().split(b"\n--------\n")
    for name, piece in zip(_PARTS, pieces, strict=False):
        (folder / name).write_bytes(piece)
    try:
        job = read_folder(folder)
    except SurveyUnreadableError as e:
        _sound(e.problems)
        return
    _sound(assess(job).problems)


_ALL = (
    Target("trees", _trees, weight=3),
    Target("kept_table", _kept_table),
    Target("head", _head, weight=2),
    Target("rates", _table(lambda t: read_rates(t, file="rates.toml"))),
    Target("rules", _table(lambda t: read_rules(t, file="rules.toml"))),
    Target("planting", _table(lambda t: read_planting(
        t, file="planting.toml", units="metric", m_per_grid_unit=1.0))),
    Target("phases", _table(lambda t: read_phases(t, file="phases.toml"))),
    Target("futures", _table(lambda t: read_futures(t, file="futures.toml"))),
    Target("walk", _walk, weight=3),
    Target("geojson", _geojson, weight=3),
    Target("dxf", _dxf, weight=4),
    Target("zip", _zip, text=False),
    Target("record", _record),
    Target("recording", _recording, text=False, weight=2),
    Target("survey", _survey, weight=4),
)  # fmt: skip
TARGETS = {t.name: t for t in _ALL}
"""By name."""
