"""Data and a template in, a PDF out: tagged, the same bytes every time, nothing fetched.

Data reach the template as JSON values, which it sets as text: a name that holds typesetting
commands prints them, and runs none.
"""

import json
import re
import tempfile
from collections.abc import Mapping
from importlib import resources
from pathlib import Path
from typing import Any

import typst

from bolewalk.papers.draw.type_metrics import printable

__all__ = ["typeset"]

_BESIDE = {"report": ("more",), "proposal": ("more",)}
"""Template -> further files it takes parts from."""


def typeset(
    template: str, data: dict[str, Any], *, pictures: Mapping[str, bytes] | None = None
) -> bytes:
    """Set one paper.

    Parameters
    ----------
    template : str
        Name of a template that ships with the papers, without its ending.
    data : dict
        Values the template reads: JSON types only. Every text is made printable first.
    pictures : mapping, optional
        Names that stand in the data -> JPEG or PNG.

    Returns
    -------
    bytes
        PDF 1.7 after PDF/UA-1.

    Raises
    ------
    typst.TypstError
        The template does not fit the data: a fault of ours, never of the survey's.
    """
    room = resources.files(__package__)
    sources = {
        f"{name}.typ": (room / "templates" / f"{name}.typ").read_bytes()
        for name in (template, "lib", *_BESIDE.get(template, ()))
    }
    files = {
        **sources,
        "main.typ": sources[f"{template}.typ"],
        "data.json": json.dumps(_printable(data), ensure_ascii=False).encode(),
    }
    with resources.as_file(room / "fonts") as fonts, tempfile.TemporaryDirectory() as folder:
        given: Any = files
        if pictures:
            # Files handed over in memory may hold text only.
            for name, content in (*files.items(), *pictures.items()):
                Path(folder, name).write_bytes(content)
            given = str(Path(folder, "main.typ"))
        pdf = typst.compile(
            given,
            root=folder if pictures else None,
            font_paths=[str(fonts)],
            ignore_system_fonts=True,
            format="pdf",
            pdf_standards=["ua-1"],
            timestamp=0,  # a paper never holds the time it was made
        )
    if not isinstance(pdf, bytes):
        raise TypeError(f"one PDF was expected, not {type(pdf).__name__}")
    return pdf


_LONG_WORD, _PIECE, _ADDRESS = 20, 8, 40
"""Characters: a word longer than the first may be broken after its hyphens and slashes, and a part
of it as long at every so many, to stay in a column; a mail address only beyond the third, so that
it can be copied."""


_JOINT = re.compile(r"(?<=[-_/])(?=[^-_/])")
_AMOUNT = re.compile(r"(?<=\d) (?=(?:ft|in|m|cm|m²|m³|lb|kg|gal|l|%|sq ft|cu yd)(?![\w²³]))")


def _kept(text: str) -> str:
    # A number and its unit stay on one line.
    return _AMOUNT.sub("\u00a0", text)


def _pieces(part: str) -> list[str]:
    if len(part) <= _LONG_WORD:
        return [part]
    return [part[i : i + _PIECE] for i in range(0, len(part), _PIECE)]


def _breakable(text: str) -> str:
    if len(text) <= _LONG_WORD:
        return text
    words = re.split(r"( +)", text)
    return "".join(
        w
        if len(w) <= _LONG_WORD or ("@" in w and len(w) <= _ADDRESS)
        else "\u200b".join(p for part in _JOINT.split(w) for p in _pieces(part))
        for w in words
    )


def _printable(value: Any) -> Any:
    if isinstance(value, str):
        # A drawing is markup of our own making, without any text from outside in it.
        return value if value.startswith("<svg ") else _breakable(_kept(printable(value)))
    if isinstance(value, dict):
        return {k: _printable(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_printable(v) for v in value]
    return value
