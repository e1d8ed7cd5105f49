"""What stands on a page of a PDF, read by PDFium and not by what set it."""

import ctypes
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium
import shapely
from numpy.typing import NDArray

__all__ = ["Page", "Sign", "pages_of", "paths_of"]

_UNSEEN = frozenset({0x200B, 0xA0, 0xFFFE})
PT_PER_MM = 72 / 25.4


@dataclass(frozen=True, slots=True)
class Sign:
    """One character: its place in the text, its ink's box [pt from the lower left], its type."""

    at: int
    char: str
    box: tuple[float, float, float, float]
    size_pt: float
    font: str


@dataclass(frozen=True, slots=True)
class Page:
    """A page with its signs."""

    number: int
    width: float
    height: float
    signs: tuple[Sign, ...]
    words: int

    @property
    def said(self) -> str:
        """All signs in the order of the text, without the spaces between words."""
        return "".join(s.char for s in self.signs)

    def overlapping(self) -> list[tuple[str, str]]:
        """Give signs whose ink lies over another's; neighbours in a word may touch."""
        boxes = np.array([s.box for s in self.signs]).reshape(-1, 4)
        at = np.array([s.at for s in self.signs])
        slack = 0.25  # points: less is not seen
        shapes = shapely.box(
            boxes[:, 0] + slack,
            boxes[:, 1] + slack,
            np.maximum(boxes[:, 2] - slack, boxes[:, 0] + slack + 0.01),
            np.maximum(boxes[:, 3] - slack, boxes[:, 1] + slack + 0.01),
        )
        a, b = shapely.STRtree(shapes).query(shapes, predicate="intersects")
        # The parts of a ligature carry one box.
        apart = (a < b) & (np.abs(at[a] - at[b]) > 2)
        apart &= np.abs(boxes[a] - boxes[b]).max(axis=1) > 0.05
        return [(self._around(i), self._around(j)) for i, j in zip(a[apart], b[apart], strict=True)]

    def outside(self, margin_pt: float) -> str:
        """Give the signs nearer to the page's edge than a margin."""
        return "".join(
            s.char for s in self.signs
            if s.box[0] < margin_pt or s.box[1] < margin_pt
            or s.box[2] > self.width - margin_pt or s.box[3] > self.height - margin_pt
        )  # fmt: skip

    def last_lines(self, columns: int, foot_pt: float) -> Iterator[list[Sign]]:
        """Give the lowest line of each column above the foot."""
        wide = self.width / columns
        for i in range(columns):
            body = [s for s in self.signs
                    if s.box[1] > foot_pt and i * wide <= s.box[0] < (i + 1) * wide]  # fmt: skip
            if body:
                low = min(s.box[1] for s in body)
                yield [s for s in body if s.box[1] < low + 4]

    def _around(self, i: int) -> str:
        return "".join(s.char for s in self.signs[max(i - 6, 0) : i + 7])


def pages_of(path: Path) -> Iterator[Page]:
    """Read the pages of a PDF."""
    with pypdfium2.PdfDocument(path) as pdf:
        for k in range(len(pdf)):
            page = pdf[k]
            text = page.get_textpage()
            signs = tuple(_signs(text))
            width, height = page.get_size()
            words = len(text.get_text_bounded().split())
            yield Page(k + 1, width, height, signs, words)


def _signs(text: pypdfium2.PdfTextPage) -> Iterator[Sign]:
    left, right, bottom, top = (ctypes.c_double() for _ in range(4))
    font, flags = ctypes.create_string_buffer(128), ctypes.c_int()
    for i in range(text.count_chars()):
        code = pdfium.FPDFText_GetUnicode(text, i)
        if code <= 32 or code in _UNSEEN:
            continue
        pdfium.FPDFText_GetCharBox(text, i, left, right, bottom, top)
        pdfium.FPDFText_GetFontInfo(text, i, font, 128, flags)
        box = (left.value, bottom.value, right.value, top.value)
        size = pdfium.FPDFText_GetFontSize(text, i)
        yield Sign(i, chr(code), box, size, font.value.decode())


def paths_of(path: Path, *, page: int) -> list[NDArray[np.float64]]:
    """Give the corners of every line drawn on a page [mm from the upper left], one array a
    subpath, forms within forms taken apart."""
    found: list[NDArray[np.float64]] = []
    with pypdfium2.PdfDocument(path) as pdf:
        sheet = pdf[page - 1]
        height = sheet.get_height()
        for i in range(pdfium.FPDFPage_CountObjects(sheet)):
            _collect(pdfium.FPDFPage_GetObject(sheet, i), np.eye(3), found)
        return [np.column_stack([p[:, 0], height - p[:, 1]]) / PT_PER_MM for p in found]


def _collect(obj: object, outer: NDArray[np.float64], found: list[NDArray[np.float64]]) -> None:
    matrix = pdfium.FS_MATRIX()
    pdfium.FPDFPageObj_GetMatrix(obj, matrix)
    m = np.array([[matrix.a, matrix.b, 0], [matrix.c, matrix.d, 0], [matrix.e, matrix.f, 1]])
    m = m @ outer
    kind = pdfium.FPDFPageObj_GetType(obj)
    if kind == pdfium.FPDF_PAGEOBJ_FORM:
        for i in range(pdfium.FPDFFormObj_CountObjects(obj)):
            _collect(pdfium.FPDFFormObj_GetObject(obj, i), m, found)
    elif kind == pdfium.FPDF_PAGEOBJ_PATH:
        x, y = ctypes.c_float(), ctypes.c_float()
        run: list[tuple[float, float, float]] = []
        for i in range(pdfium.FPDFPath_CountSegments(obj)):
            segment = pdfium.FPDFPath_GetPathSegment(obj, i)
            if pdfium.FPDFPathSegment_GetType(segment) == pdfium.FPDF_SEGMENT_MOVETO and run:
                found.append((np.array(run) @ m)[:, :2])
                run = []
            pdfium.FPDFPathSegment_GetPoint(segment, x, y)
            run.append((x.value, y.value, 1.0))
        if run:
            found.append((np.array(run) @ m)[:, :2])
