"""The tree table as CSV and XLSX: the columns of the survey's table, then what was computed."""

import csv
import io
import re
import zipfile
from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING

from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.properties import PageSetupProperties

from bolewalk.model.figures import Figure
from bolewalk.model.units import to_survey_length, to_survey_trunk
from bolewalk.papers.plain_text import cell_text

if TYPE_CHECKING:
    from bolewalk.survey import Findings, TreeFinding

__all__ = ["COLUMNS", "table_rows", "tree_table_csv", "tree_table_xlsx"]

Cell = str | float | None

COLUMNS = (
    "tree", "species", "x", "y", "diameter", "height", "crown_base", "crown", "flare", "age",
    "health", "structure", "owner", "decision", "form", "tag", "photo", "measured_at",
    "tolerance", "access", "failure", "impact", "consequence", "notes",
    "zone_radius", "severed_pct", "overlap_pct", "verdict",
)  # fmt: skip

_EPOCH = datetime(1980, 1, 1)  # the earliest a zip entry can hold
_TEXTS = ("form", "tag", "photo", "tolerance", "access", "failure", "impact", "consequence")


def table_rows(findings: "Findings") -> list[list[Cell]]:
    """Give the rows of the table, one a tree in file order, in the survey's units.

    A number estimated by eye is text with "~" before it, several stems are "9+8+6.5", four crown
    radii "24/22/20/26": what the survey's own table would hold. Other numbers are numbers.
    """
    return [_row(findings, t) for t in findings.trees]


def _row(findings: "Findings", t: "TreeFinding") -> list[Cell]:
    s, tree = findings.survey, t.tree

    def length(value_m: float) -> float:
        return to_survey_length(value_m, s.units)

    def trunk(value_cm: float) -> float:
        return to_survey_trunk(value_cm, s.units)

    proposed = t.impact.roots.proposed if t.impact.roots else None
    crown: Cell = None
    if tree.crown is not None:
        radii = [_number(length(r)) for r in tree.crown.radii_m]
        eye = "~" if tree.crown.basis.basis == "estimated" else ""
        same = len(set(radii)) == 1
        crown = length(tree.crown.north_m) if same and not eye else eye + (
            radii[0] if same else "/".join(radii)
        )  # fmt: skip
    return [
        tree.id,
        tree.species.as_heard,
        None if tree.x_m is None else tree.x_m / s.m_per_grid_unit,
        None if tree.y_m is None else tree.y_m / s.m_per_grid_unit,
        _figures(tree.stems_cm, trunk),
        _figures((tree.height_m,), length),
        _figures((tree.crown_base_m,), length),
        crown,
        _figures((tree.flare_cm,), trunk),
        tree.age,
        tree.health,
        tree.structure,
        tree.owner,
        tree.decision,
        *(getattr(tree, name) or None for name in _TEXTS[:3]),
        None if tree.measured_at_m is None else length(tree.measured_at_m),
        *(getattr(tree, name) or None for name in _TEXTS[3:]),
        tree.notes or None,
        None if t.impact.zone is None else length(t.impact.zone.radius_m),
        None if proposed is None else proposed.severed_pct,
        None if proposed is None else proposed.overlap_pct,
        None if t.impact.verdict is None else t.impact.verdict.now,
    ]


def _number(value: float) -> str:
    return f"{value:.10g}"


def _figures(figures: tuple[Figure | None, ...], unit: Callable[[float], float]) -> Cell:
    known = [f for f in figures if f is not None]
    if not known:
        return None
    eye = "~" if any(f.basis == "estimated" for f in known) else ""
    if len(known) == 1 and not eye:
        return unit(known[0].value)
    return eye + "+".join(_number(unit(f.value)) for f in known)


def tree_table_csv(findings: "Findings") -> bytes:
    """Write the table as CSV: UTF-8, header row, CRLF, texts that could be formulas marked."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for row in table_rows(findings):
        writer.writerow(
            ["" if c is None else _number(c) if isinstance(c, float) else cell_text(c) for c in row]
        )
    return out.getvalue().encode("utf-8")


def tree_table_xlsx(findings: "Findings") -> bytes:
    """Write the table as a workbook of one sheet; the same table gives the same bytes."""
    book = Workbook()
    sheet = book.active
    if sheet is None:
        raise RuntimeError("a new workbook has a sheet")
    sheet.title = "Trees"
    rule = Border(bottom=Side(style="thin"))
    widths = [len(c) for c in COLUMNS]
    for j, name in enumerate(COLUMNS, 1):
        head = sheet.cell(1, j, name)
        head.font, head.border = Font(bold=True), rule
        head.alignment = Alignment(vertical="top")
    for i, row in enumerate(table_rows(findings), 2):
        for j, value in enumerate(row, 1):
            if value is None:
                continue
            cell = sheet.cell(i, j)
            if isinstance(value, float):
                cell.value = float(_number(value))
                if COLUMNS[j - 1] not in ("x", "y"):
                    cell.number_format = "0.0##"
            else:
                text = cell_text(value)[:32767]  # what a cell holds
                cell.value, cell.data_type = text, "s"
                widths[j - 1] = max(widths[j - 1], min(len(text), 40))
    for j, width in enumerate(widths, 1):
        sheet.column_dimensions[get_column_letter(j)].width = width + 2
    sheet.freeze_panes = "B2"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.print_title_rows = "1:1"
    book.properties.creator = "bolewalk"
    book.properties.created = book.properties.modified = _EPOCH
    raw = io.BytesIO()
    book.save(raw)
    return _without_times(raw.getvalue())


def _without_times(raw: bytes) -> bytes:
    """Set every time in a workbook to one day: saving writes the hour into it twice."""
    out = io.BytesIO()
    stamp = _EPOCH.strftime("%Y-%m-%dT%H:%M:%SZ").encode()
    with (
        zipfile.ZipFile(io.BytesIO(raw)) as source,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as target,
    ):
        for name in sorted(source.namelist()):
            body = source.read(name)
            if name == "docProps/core.xml":
                body = re.sub(rb"(<dcterms:modified[^>]*>)[^<]*", rb"\g<1>" + stamp, body)
            entry = zipfile.ZipInfo(name, _EPOCH.timetuple()[:6])
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o600 << 16
            target.writestr(entry, body)
    return out.getvalue()
