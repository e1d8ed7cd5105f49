"""The printed plan measured: corners read out of the PDF by PDFium against the works as invented.

A building of 20 ft by 18 ft at 1 in = 20 ft is 25.4 mm by 22.86 mm on paper.
"""

import re
from pathlib import Path

import numpy as np
import pypdfium2
import pytest

from bolewalk.papers.plan_sheet import protection_sheet
from bolewalk.papers.protection import protection_data
from bolewalk.papers.typeset import typeset
from bolewalk.papers.write import reading_of
from tests.papers.conftest import invented_catalogue
from tests.papers.invented import FT, findings
from tests.papers.pages import paths_of

# Corners of the two houses [ft], from the invented works: west, south, east, north.
_HOUSE_A = (30, 44, 50, 62)
_HOUSE_C = (92, 44, 112, 64)


@pytest.fixture(scope="module", params=["imperial", "metric"])
def sheet(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("scale") / f"{request.param}.pdf"
    reading = reading_of(findings(units=request.param), catalogue=invented_catalogue())
    path.write_bytes(typeset("protection", protection_data(reading)))
    return path


def mm_per_ft(path: Path) -> float:
    """Read the scale as it is written on the sheet and turn it into millimetres by hand."""
    with pypdfium2.PdfDocument(path) as pdf:
        text = pdf[0].get_textpage().get_text_bounded()
    if found := re.search(r"1 in = (\d+) ft", text):
        return 25.4 / int(found[1])
    found = re.search(r"1:(\d+)\b", text)
    assert found
    return FT * 1000 / int(found[1])


def boxes_of(path: Path, width: float, height: float) -> list[tuple[float, float]]:
    """Give the upper left corners [mm] of what is drawn exactly this big."""
    found = []
    for p in paths_of(path, page=1):
        size = np.ptp(p, axis=0)
        if len(p) in (4, 5) and np.allclose(size, (width, height), atol=0.03):
            found.append((float(p[:, 0].min()), float(p[:, 1].min())))
    return found


def test_buildings_have_their_size_and_stand_their_distance_apart(sheet: Path) -> None:
    k = mm_per_ft(sheet)
    (a,) = boxes_of(sheet, 20 * k, 18 * k)
    (c,) = boxes_of(sheet, 20 * k, 20 * k)
    assert c[0] - a[0] == pytest.approx((_HOUSE_C[0] - _HOUSE_A[0]) * k, abs=0.03)
    # North is up: the north wall of house C stands 2 ft nearer to the top of the sheet.
    assert a[1] - c[1] == pytest.approx((_HOUSE_C[3] - _HOUSE_A[3]) * k, abs=0.03)


def test_scale_bar_is_as_long_as_it_says(sheet: Path) -> None:
    k = mm_per_ft(sheet)
    with pypdfium2.PdfDocument(sheet) as pdf:
        text = pdf[0].get_textpage().get_text_bounded()
        width, height = pdf[0].get_size()
    said = re.search(r"(\d+) (ft|m) True to scale", re.sub(r"[\r\n]+", " ", text))
    assert said
    total = int(said[1])
    unit = k if said[2] == "ft" else k / FT
    bars = [p for p in paths_of(sheet, page=1)
            if len(p) in (4, 5) and abs(np.ptp(p[:, 1]) - 1.5) < 0.02
            and np.isclose(np.ptp(p[:, 0]), total / 4 * unit, atol=0.03)]  # fmt: skip
    # Fills and outlines of the four pieces, end to end.
    left, right = min(p[:, 0].min() for p in bars), max(p[:, 0].max() for p in bars)
    assert right - left == pytest.approx(total * unit, abs=0.03)
    # Tabloid, 17 x 11 in, or ISO 216 A3, 420 x 297 mm, with no unit of its own.
    size = (17 * 72, 11 * 72) if width > 1220 else (420 / 25.4 * 72, 297 / 25.4 * 72)
    assert (width, height) == pytest.approx(size, abs=0.1)
    assert b"/UserUnit" not in sheet.read_bytes()


def test_nothing_is_drawn_beyond_the_sheet(sheet: Path) -> None:
    with pypdfium2.PdfDocument(sheet) as pdf:
        width, height = (x * 25.4 / 72 for x in pdf[0].get_size())
    for p in paths_of(sheet, page=1):
        assert p.min() >= 0
        assert p[:, 0].max() <= width
        assert p[:, 1].max() <= height


def test_the_sheet_carries_what_a_drawing_set_asks_for() -> None:
    reading = reading_of(findings(), catalogue=invented_catalogue())
    protection_data(reading)
    drawn = protection_sheet(reading, (), (), None)  # the one already made
    assert drawn is not None
    said = " ".join(n.text for n in drawn.scene.notes)
    for item in ("Scale", "N", "protection fence", "nearest allowed cut", "fenced ground: keep out",
                 "storage", "washing-out", "No rig path is drawn"):  # fmt: skip
        assert item in said, item
