"""Words of a stretch of speech looked for in texts and files, however these print them."""

import html
import re
import unicodedata
import zipfile
from collections.abc import Callable, Iterable
from pathlib import Path

from bolewalk.intake.first_bytes import expected_kinds
from bolewalk.intake.reading import suffix_of
from bolewalk.intake.zip_faults import ZIP_FAULTS

__all__ = ["PdfText", "Runs", "file_holds", "runs_of", "text_holds"]

PdfText = Callable[[Path, str], str | None]
"""Gives the text of a PDF file, by path and name; None where it cannot be read."""

Runs = frozenset[str]

_RUN = 6
"""Words in a row that are taken for the same speech; ours, no source. Fewer stand anywhere."""
_LEAST = 12
"""Letters and digits of what is looked for; shorter sayings stand anywhere."""
_MOST_BYTES = 100_000_000
_TEXTS = frozenset({
    ".csv", ".dxf", ".geojson", ".htm", ".html", ".json", ".md", ".srt", ".svg", ".toml", ".tsv",
    ".txt", ".vtt",
    # Its texts stand in it as they are.
    ".gpkg",
})  # fmt: skip
_WORD = re.compile(r"[^\W_]+")
_MARKS = re.compile("[\u0300-\u036f\u00ad]")
_TAG = re.compile(r"<[^<>]*>")
_ESCAPE = re.compile(r"\\(?:u([0-9a-fA-F]{4})|([a-z]))")


def runs_of(sayings: Iterable[str]) -> Runs:
    """Give what to look for: every six words in a row, over the ends of sayings, and every saying
    of fewer that is not too short to tell."""
    words = [_words(s) for s in sayings]
    flat = [w for saying in words for w in saying]
    runs = {"".join(flat[i : i + _RUN]) for i in range(len(flat) - _RUN + 1)}
    runs |= {"".join(saying) for saying in words if len(saying) < _RUN}
    return frozenset(r for r in runs if len(r) >= _LEAST)


def text_holds(text: str, runs: Runs) -> bool:
    """Tell whether a text holds any of the runs.

    Letters and digits alone count: not capitals, accents, quotes, ligatures, nor where a line or a
    word was broken; escapes of JSON and HTML are what they stand for, marks between words are not.
    """
    if not runs:
        return False
    plain = html.unescape(_ESCAPE.sub(_unescaped, text))
    squeezed = "".join(_words(plain))
    if any(r in squeezed for r in runs):
        return True
    if "<" not in plain:
        return False
    squeezed = "".join(_words(_TAG.sub(" ", plain)))
    return any(r in squeezed for r in runs)


def file_holds(path: Path, name: str, runs: Runs, read_pdf: PdfText) -> bool | None:
    """Tell whether a file holds any of the runs; None where it cannot be searched.

    Parameters
    ----------
    path : Path
        Where its bytes are; they need not be there any more.
    name : str
        By its ending the file is read as what it is. Pictures and recordings hold no words.
    runs : set of str
    read_pdf : callable
        As `PdfText`.
    """
    suffix = suffix_of(name)
    if not runs or expected_kinds(name) & {"picture", "recording"} or not path.exists():
        return False
    if suffix == ".pdf":
        text = read_pdf(path, name)
        # A page that was scanned is a picture: it says nothing, whatever stands on it.
        return None if text is None or not _WORD.search(text) else text_holds(text, runs)
    if path.stat().st_size > _MOST_BYTES:
        return None
    raw = _sheets(path) if suffix == ".xlsx" else path.read_bytes() if suffix in _TEXTS else None
    if raw is None:
        return None
    coding = "utf-16" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8"
    return text_holds(raw.decode(coding, errors="replace"), runs) or (
        # Readers take what is not UTF-8 for this.
        coding == "utf-8" and text_holds(raw.decode("cp1252", errors="replace"), runs)
    )


def _sheets(path: Path) -> bytes | None:
    """Give the parts of a workbook that hold text, without a reader of its format."""
    read = bytearray()
    try:
        with zipfile.ZipFile(path) as packed:
            for name in packed.namelist():
                if name.endswith(".xml"):
                    with packed.open(name) as part:
                        # What the directory says of sizes is not believed.
                        read += part.read(_MOST_BYTES - len(read) + 1)
                    if len(read) > _MOST_BYTES:
                        return None
    except ZIP_FAULTS:
        return None
    return bytes(read)


def _words(text: str) -> list[str]:
    return _WORD.findall(_MARKS.sub("", unicodedata.normalize("NFKD", text)).casefold())


def _unescaped(found: re.Match[str]) -> str:
    return chr(int(found[1], 16)) if found[1] else " "
