"""A DXF file opened: what is no drawing, empty, or cut short is told, never read as nothing."""

import logging
from pathlib import Path

from ezdxf import recover
from ezdxf.document import Drawing
from ezdxf.filemanagement import readfile
from ezdxf.lldxf.const import DXFError
from ezdxf.lldxf.validator import is_binary_dxf_file, is_dxf_file

from bolewalk.drawing.details import Place
from bolewalk.drawing.settings import reading_settings

__all__ = ["DAMAGE", "DxfError", "open_dxf", "short"]

# The reader's own talk would go to the terminal between our lines; what matters comes back as
# problems.
logging.getLogger("ezdxf").addHandler(logging.NullHandler())

DAMAGE: tuple[type[Exception], ...] = (
    DXFError, ArithmeticError, ValueError, LookupError, TypeError, AttributeError, RecursionError,
)  # fmt: skip
"""What the reader raises on entities whose numbers or references are damaged."""

# First bytes of files that come in the place of a DXF, and what to ask for.
_OTHERS = {
    b"AC10": "a DWG file: save it as DXF",
    b"AC1.": "a DWG file: save it as DXF",
    b"%PDF": "a PDF file: ask for the DXF",
    b"PK\x03\x04": "a ZIP file: unpack it",
}
_TAIL = 4096


class DxfError(ValueError):
    """A drawing that cannot be used at all. The text is what was expected; `value` was found."""

    def __init__(self, expected: str, value: str) -> None:
        super().__init__(expected)
        self.value = value


def open_dxf(path: Path, place: Place) -> Drawing:
    """Open a DXF file, text or binary.

    Parameters
    ----------
    path : Path
    place : Place
        Takes a notice where the file had to be repaired.

    Returns
    -------
    ezdxf document
        With at least one entity in model space.

    Raises
    ------
    DxfError
        Empty, too large, another kind of file, cut short, unreadable, or without entities.

    Notes
    -----
    A file cut short is left out whole: its last shape may have lost corners, and what is missing
    would make trees look better than they are. The plain reader and the repairing one each open
    files the other refuses, so both are tried.
    """
    _check_bytes(path)
    try:
        doc = readfile(path)
    # Damaged files make the reader fail in any of its layers; all mean the same to us.
    except Exception as first:
        try:
            doc, auditor = recover.readfile(path)
        except Exception:
            raise DxfError("a DXF file that can be read", short(first)) from None
        place.tell(
            None,
            short(first),
            f"a sound DXF file; repaired on reading ({len(auditor.errors)} errors): compare the "
            "plan with the drawing",
            level="notice",
        )
    if len(doc.modelspace()) == 0:
        sheets = sum(len(layout) for layout in doc.layouts if layout.name != "Model")
        where = f"; {sheets} stand on sheets, which are not read" if sheets else ""
        raise DxfError(f"drawn entities in model space{where}", "no entities")
    return doc


def _check_bytes(path: Path) -> None:
    limit = reading_settings().dxf_bytes
    try:
        size = path.stat().st_size
        with path.open("rb") as f:
            head = f.read(64)
            f.seek(max(0, size - _TAIL))
            tail = f.read()
    except OSError as e:
        raise DxfError("a file that can be read", e.strerror or "") from None
    if size > limit:
        raise DxfError(f"a drawing of at most {limit:,} bytes", f"{size:,} bytes")
    if not head.strip():
        raise DxfError("a DXF file", "an empty file")
    for magic, what in _OTHERS.items():
        if head.startswith(magic):
            raise DxfError("a DXF file", what)
    binary = is_binary_dxf_file(str(path))
    if not binary and not is_dxf_file(str(path)):
        raise DxfError("a DXF file, which begins with 0 SECTION", "another kind of file")
    end = tail.rstrip(b"\x00\r\n\t \x1a")
    if not end.endswith(b"EOF"):
        raise DxfError(
            "a whole DXF file, which ends with 0 EOF: copy it again; the drawing is left out",
            "a file that is cut short",
        )


def short(error: Exception) -> str:
    """Give an error's text on one short line."""
    text = " ".join(str(error).split()) or type(error).__name__
    return text[:120]
