"""Writes the pictures of docs/pictures from the demonstration survey, with the program's drawing.

    python scripts/pictures.py REPORT      REPORT: the report.pdf of the demonstration survey

The site plan at the desk, site.png, is taken by hand.
"""

import struct
import sys
import zlib
from functools import cache
from pathlib import Path

import pypdfium2

from bolewalk.intake.folder import read_folder
from bolewalk.papers.draw.frame import Frame, choose_scale
from bolewalk.papers.draw.labels import LabelBoard
from bolewalk.papers.draw.plan import draw_plan, plan_extent
from bolewalk.papers.draw.scene import Scene
from bolewalk.papers.draw.svg import svg
from bolewalk.papers.planting_paper import years_drawing
from bolewalk.papers.reading import Reading
from bolewalk.papers.section_drawings import section_drawings
from bolewalk.papers.tree_rose import tree_rose
from bolewalk.papers.write import reading_of
from bolewalk.papers.years import costs_drawing
from bolewalk.survey import assess

ROOT = Path(__file__).parents[1]
FOLDER = ROOT / "docs" / "pictures"
PAPER = '<rect width="100%" height="100%" fill="#ffffff"/>'
"""A page may be read on a dark ground."""
CUT_ON_ONE_SIDE = "T4"
"""The tree whose root loss is shown."""


@cache
def reading() -> Reading:
    return reading_of(assess(read_folder(ROOT / "bolewalk/demo/teasel-court")))


def rose() -> Scene | None:
    """What each side of a tree loses."""
    one = next(t for t in reading().findings.trees if t.tree.id == CUT_ON_ONE_SIDE)
    return tree_rose(reading(), one.impact, size_mm=64.0)


def cuts() -> Scene | None:
    """A tree with its root zone, the works about it and how near a cut may come."""
    trees = [t for t in reading().plan_trees if t.tree.id == CUT_ON_ONE_SIDE]
    survey = reading().findings.survey
    extent = plan_extent(trees, ())
    assert extent is not None
    west, south, east, north = extent
    width = 120.0
    height = width * (north - south) / (east - west)
    box = (2.0, 2.0, width - 2.0, height - 2.0)
    scale = choose_scale(east - west, north - south, box, units=survey.units)
    frame = Frame((0.0, 0.0, width, height), ((west + east) / 2, (south + north) / 2), scale)
    scene, board = Scene(width, height), LabelBoard(*box)
    draw_plan(scene, frame, trees, survey.works, names=reading().work_names(), board=board)
    return scene


def section() -> Scene | None:
    """A crown with the works that stand in it."""
    return next((scene for _, scene in section_drawings(reading(), width_mm=118.0)), None)


def years() -> Scene | None:
    """The place in later years."""
    planting = reading().findings.planting
    return None if planting is None else years_drawing(reading(), planting)


def costs() -> Scene | None:
    """Keeping against removing."""
    return next((costs_drawing(reading(), f) for f in reading().findings.futures), None)


def drawings() -> dict[str, str]:
    """Give the drawn pictures: file name, SVG."""
    out = {}
    for draw in (rose, cuts, section, years, costs):
        scene = draw()
        assert scene is not None, draw.__name__
        first, rest = svg(scene, words=True, title=draw.__doc__ or "").split("\n", 1)
        out[f"{draw.__name__}.svg"] = f"{first}\n{PAPER}\n{rest}"
    return out


def _chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def write_page(page: pypdfium2.PdfPage, target: Path, scale: float) -> None:
    """Write a page as grey PNG, 8 bits a sample, by the PNG specification."""
    grey = page.render(scale=scale, grayscale=True).to_numpy()
    height, width = grey.shape[:2]
    lines = b"".join(b"\0" + row.tobytes() for row in grey.reshape(height, width))
    target.write_bytes(
        b"\x89PNG\r\n\x1a\n"
        + _chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0))
        + _chunk(b"IDAT", zlib.compress(lines, 9))
        + _chunk(b"IEND", b"")
    )
    sys.stderr.write(f"{target}\n")


def main(report: str) -> None:
    """Write all of them."""
    pages = list(pypdfium2.PdfDocument(report))
    write_page(max(pages, key=lambda p: p.get_width()), FOLDER / "plan.png", 1.5)
    head = "Verdict tree by tree\r\nEach verdict"
    verdicts = next(p for p in pages if head in p.get_textpage().get_text_bounded())
    write_page(verdicts, FOLDER / "verdicts.png", 1.4)
    for name, text in drawings().items():
        (FOLDER / name).write_text(text, encoding="utf-8")
        sys.stderr.write(f"{FOLDER / name}\n")


if __name__ == "__main__":
    main(sys.argv[1])
