"""All papers of a survey into one folder."""

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bolewalk.papers.amounts import Amounts
from bolewalk.papers.bid import bid_data
from bolewalk.papers.board import board_data
from bolewalk.papers.change_order import change_order_data
from bolewalk.papers.client_page import Played, client_page
from bolewalk.papers.closeout import closeout_data
from bolewalk.papers.crew import crew_data
from bolewalk.papers.decisions import decisions_data
from bolewalk.papers.dxf import dxf_bytes
from bolewalk.papers.evidence import evidence_data
from bolewalk.papers.findings_json import findings_json
from bolewalk.papers.geopackage import write_geopackage
from bolewalk.papers.insurer import insurer_data
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
from bolewalk.papers.reading import Files, IssueStamp, Reading
from bolewalk.papers.report import report_data
from bolewalk.papers.return_visit import return_data
from bolewalk.papers.tree_table import tree_table_csv, tree_table_xlsx
from bolewalk.papers.typeset import typeset
from bolewalk.papers.utility import utility_data
from bolewalk.papers.walk_index import walk_index

if TYPE_CHECKING:
    from bolewalk.survey import Findings

__all__ = ["files_in", "reading_of", "write_papers"]


_PAPERS: dict[str, tuple[str, Callable[[Reading], dict[str, Any] | None]]] = {
    "report": ("report", report_data),
    "proposal": ("proposal", proposal_data),
    "protection": ("tree protection sheet", protection_data),
    "crew": ("crew sheet", crew_data),
    "questions": ("question sheet", question_sheet_data),
    "letter": ("client's letter", letter_data),
    "neighbour": ("letters to other owners", neighbour_data),
    "planting": ("planting card", planting_data),
    "monitoring": ("monitoring sheet", monitoring_data),
    "bid": ("bid-compare sheet", bid_data),
    "closeout": ("close-out form", closeout_data),
    "decisions": ("decision record", decisions_data),
    "return": ("return visit", return_data),
    "insurer": ("letter to an insurer", insurer_data),
    "utility": ("request to the owner of a wire", utility_data),
    "change": ("change order", change_order_data),
    "evidence": ("evidence sheets", evidence_data),
    "board": ("plan for the board", board_data),
}
"""Name of the file -> what it is called while it is written, and what it reads."""

_FORMS = dict.fromkeys(("insurer", "utility", "change", "evidence", "board"), "form")
"""Papers set by a template that is not their own."""


_WHERE_THEY_APPLY = ("survey.gpkg", "walk-index.vtt")


def _quiet(_: str) -> None:
    """Take a step's name and say nothing."""


def reading_of(
    findings: "Findings",
    *,
    catalogue: Catalogue | None = None,
    issue: IssueStamp | None = None,
    files: Files | None = None,
) -> Reading:
    """Give findings a speaker: the survey's units, the price's currency, English by default.

    `issue` and `files` as in `write_papers`.
    """
    price = findings.price
    units = findings.survey.units
    amounts = (
        Amounts(units) if price is None else Amounts(units, price.currency, price.minor_digits)
    )
    return Reading(findings, Speaker(catalogue or load_catalogue("en"), amounts), issue, files)


def write_papers(
    findings: "Findings",
    out_dir: Path,
    *,
    progress: Callable[[str], None] = _quiet,
    catalogue: Catalogue | None = None,
    files: Files | None = None,
    issue: IssueStamp | None = None,
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
    files : callable, optional
        Gives where a file of the survey lies, None where it is not at hand; `files_in` for a
        folder. The walk's recordings are then copied beside the client's page, which can play
        them, and photographs stand in the report.
    issue : IssueStamp, optional
        What the papers print of their issue; without it they are drafts and say so.

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
    reading = reading_of(findings, catalogue=catalogue, issue=issue, files=files)
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

    for name, (called, data) in _PAPERS.items():
        values = data(reading)
        if values is None:
            (out_dir / f"{name}.pdf").unlink(missing_ok=True)
        else:
            progress(f"writing the {called}")
            pictures = reading.pictures if name == "report" else None
            put(f"{name}.pdf", typeset(_FORMS.get(name, name), values, pictures=pictures))
    progress("writing the client's page")
    (out_dir / "client").mkdir(exist_ok=True)
    put("client/index.html", client_page(reading, recordings=_recordings(reading, out_dir)))
    return tuple(written)


def files_in(folder: Path) -> Files:
    """Give where the files of a survey folder lie."""

    def find(name: str) -> Path | None:
        path = folder / name
        return path if path.is_file() and path.resolve().is_relative_to(folder.resolve()) else None

    return find


def _recordings(reading: Reading, out_dir: Path) -> tuple[Played, ...]:
    """Copy the walk's recordings into the client's folder under plain names."""
    parts = [p for p in reading.findings.parts if p.recording]
    names = list(dict.fromkeys(p.recording for p in parts))
    copied: dict[str, str] = {}
    for n, name in enumerate(names, start=1):
        source = None if reading.files is None else reading.files(name)
        if source is None:
            continue
        copied[name] = f"walk{n if len(names) > 1 else ''}{Path(name).suffix.lower()}"
        target = out_dir / "client" / copied[name]
        if not (target.exists() and target.samefile(source)):
            shutil.copyfile(source, target)
    return tuple(
        Played(copied[p.recording], p.start_s, p.end_s) for p in parts if p.recording in copied
    )
