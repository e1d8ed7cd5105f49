"""All papers of a survey into one folder."""

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bolewalk.papers.amounts import Amounts
from bolewalk.papers.bid import bid_data
from bolewalk.papers.client_page import client_page
from bolewalk.papers.closeout import closeout_data
from bolewalk.papers.crew import crew_data
from bolewalk.papers.decisions import decisions_data
from bolewalk.papers.dxf import dxf_bytes
from bolewalk.papers.findings_json import findings_json
from bolewalk.papers.geopackage import write_geopackage
from bolewalk.papers.language import Catalogue, Speaker, load_catalogue
from bolewalk.papers.layers import survey_layers
from bolewalk.papers.letter import letter_data
from bolewalk.papers.monitoring import monitoring_data
from bolewalk.papers.neighbour import neighbour_data
from bolewalk.papers.planting_paper import planting_data
from bolewalk.papers.proposal import proposal_data
from bolewalk.papers.protection import protection_data
from bolewalk.papers.protection_lines import fence_lines
from bolewalk.papers.question_sheet import question_sheet_data
from bolewalk.papers.reading import Reading
from bolewalk.papers.report import report_data
from bolewalk.papers.tree_table import tree_table_csv, tree_table_xlsx
from bolewalk.papers.typeset import typeset
from bolewalk.papers.walk_index import walk_index

if TYPE_CHECKING:
    from bolewalk.survey import Findings

__all__ = ["reading_of", "write_papers"]


_PAPERS: dict[str, Callable[[Reading], dict[str, Any] | None]] = {
    "report": report_data,
    "proposal": proposal_data,
    "protection": protection_data,
    "crew": crew_data,
    "questions": question_sheet_data,
    "letter": letter_data,
    "neighbour": neighbour_data,
    "planting": planting_data,
    "monitoring": monitoring_data,
    "bid": bid_data,
    "closeout": closeout_data,
    "decisions": decisions_data,
}


_WHERE_THEY_APPLY = ("survey.gpkg", "walk-index.vtt")


def _quiet(_: str) -> None:
    """Take a step's name and say nothing."""


def reading_of(findings: "Findings", *, catalogue: Catalogue | None = None) -> Reading:
    """Give findings a speaker: the survey's units, the price's currency, English by default."""
    price = findings.price
    units = findings.survey.units
    amounts = (
        Amounts(units) if price is None else Amounts(units, price.currency, price.minor_digits)
    )
    return Reading(findings, Speaker(catalogue or load_catalogue("en"), amounts))


def write_papers(
    findings: "Findings",
    out_dir: Path,
    *,
    progress: Callable[[str], None] = _quiet,
    catalogue: Catalogue | None = None,
    recording: Path | None = None,
) -> tuple[Path, ...]:
    """Write every paper and exchange file of a survey.

    Parameters
    ----------
    findings : Findings
    out_dir : Path
        Made if missing; files of the same names are replaced, others left alone.
    progress : callable
        Told each step's name as it begins.
    catalogue : Catalogue, optional
        The language of the papers; English where none is given. findings.json is in it too.
    recording : Path, optional
        The walk's recording; it is copied beside the client's page, which then can play it.

    Returns
    -------
    tuple of Path
        What was written, in order. The same findings give the same bytes.

    Raises
    ------
    OSError
        The folder cannot be written to.
    LanguageError
        A statement has no sentence in the catalogue.
    """
    out_dir.mkdir(parents=True, exist_ok=True)
    reading = reading_of(findings, catalogue=catalogue)
    written: list[Path] = []

    def put(name: str, body: bytes) -> None:
        path = out_dir / name
        path.write_bytes(body)
        written.append(path)

    progress("writing the findings and the tree table")
    put("findings.json", findings_json(findings, reading.speaker))
    put("tree-table.csv", tree_table_csv(findings))
    put("tree-table.xlsx", tree_table_xlsx(findings))

    progress("writing the plan files")
    fences = fence_lines(reading.plan_trees, findings.survey.works, units=findings.survey.units)
    layers = survey_layers(findings, fences=fences)
    for name in _WHERE_THEY_APPLY:
        # One left from an earlier survey would speak of another site.
        (out_dir / name).unlink(missing_ok=True)
    if layers:
        path = out_dir / "survey.gpkg"
        s = findings.survey
        write_geopackage(path, layers, crs=s.crs, dated=s.date)
        written.append(path)
    put("survey.dxf", dxf_bytes(layers, m_per_grid_unit=findings.survey.m_per_grid_unit))

    index = walk_index(findings)
    if index is not None:
        put("walk-index.vtt", index)

    for name, data in _PAPERS.items():
        progress(f"setting the {name}")
        values = data(reading)
        if values is None:
            (out_dir / f"{name}.pdf").unlink(missing_ok=True)
        else:
            put(f"{name}.pdf", typeset(name, values))
    progress("writing the client's page")
    (out_dir / "client").mkdir(exist_ok=True)
    name = _recording_beside(recording, out_dir / "client")
    put("client/index.html", client_page(reading, recording=name))
    return tuple(written)


def _recording_beside(recording: Path | None, folder: Path) -> str:
    """Copy the recording into the client's folder under a plain name and give that name."""
    if recording is None:
        return ""
    name = f"walk{recording.suffix.lower()}"
    target = folder / name
    if not (target.exists() and target.samefile(recording)):
        shutil.copyfile(recording, target)
    return name
