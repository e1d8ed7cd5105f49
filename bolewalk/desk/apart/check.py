"""What was sent, checked before it is taken in: sizes, what is inside, and one reading apart."""

from collections.abc import Iterator
from pathlib import Path

from bolewalk.desk.apart.limits import limits
from bolewalk.desk.apart.worker import Answer, read_apart
from bolewalk.drawing.pictures import picture_of
from bolewalk.intake.first_bytes import HEAD_BYTES, Kind, expected_kinds, kind_of
from bolewalk.model.problems import Problem

__all__ = ["check_arrival", "check_file", "check_folder"]

_WORDS: dict[Kind, str] = {
    "picture": "a picture (PNG, JPEG, WebP, GIF, HEIC, TIFF)", "recording": "a recording",
    "pdf": "a PDF file", "drawing": "a DXF drawing", "data": "text", "text": "text",
    "archive": "packed files", "program": "a program", "other": "something unknown here",
}  # fmt: skip


def check_folder(folder: Path) -> tuple[Problem, ...]:
    """Check a folder that was sent, before anything of it is taken in.

    Parameters
    ----------
    folder : Path
        The one that holds survey.toml.

    Returns
    -------
    tuple of Problem
        Faults: files too large, that are something else inside than their names say, or whose
        reading fails, takes too long or too much memory. What a sound reader says of a sound
        file (an unknown column, a tree without position) is not among them: that is told once it
        is taken in. Empty where it may be.

    Notes
    -----
    What the core reads (tables, drawings, transcripts) is read here once, all of it, in a process
    of its own. The desk reads the same bytes by the same code later: what went through here
    within the limits does so again.
    """
    told: list[Problem] = []
    for path in sorted(p for p in folder.rglob("*") if p.is_file() and not p.is_symlink()):
        told += check_file(path, path.relative_to(folder).as_posix())
    if told:
        # What is known to be wrong is not tried.
        return tuple(told)
    answer = read_apart("survey", folder, folder.name)
    return () if answer.ended else answer.problems


def check_arrival(path: Path, name: str) -> tuple[Problem, ...]:
    """Check a single file that was brought to a survey, whatever its name says it is.

    As `check_folder` does: sizes, what is inside, and one reading of all of it in a process of
    its own.
    """
    told = check_file(path, name, by_name=False)
    if told or not path.stat().st_size:
        return told
    with path.open("rb") as file:
        kind = kind_of(file.read(HEAD_BYTES))
    if kind not in ("drawing", "text"):
        return ()
    answer = read_apart("file", path, name)
    return () if answer.ended else answer.problems


def check_file(path: Path, name: str, *, by_name: bool = True) -> tuple[Problem, ...]:
    """Check one file by its size and by what is inside; see `check_folder`.

    Parameters
    ----------
    path : Path
        Where its bytes are.
    name : str
        As it is to be called, for its ending and for problems.
    by_name : bool
        The content must be what the ending says.
    """
    with path.open("rb") as file:
        head = file.read(HEAD_BYTES)
    size = path.stat().st_size
    kind = kind_of(head)
    expected = expected_kinds(name) if by_name else frozenset()
    refused = _refused(name, kind, expected, empty=not size)
    if refused is not None:
        return (refused,)
    # Tables and transcripts are both text inside.
    table = kind == "text" and ("data" in expected or not by_name)
    most = limits().bytes_of["data" if table else kind]
    if size > most:
        found, wanted = f"{size:,} bytes", f"{_WORDS[kind]} of at most {most:,} bytes"
        return (Problem(name, None, None, found, wanted),)
    return tuple(_within(path, name, kind, head))


def _refused(name: str, kind: Kind, expected: frozenset[Kind], *, empty: bool) -> Problem | None:
    if empty:
        # The reader of it says what an empty file lacks.
        return None
    if kind == "program":
        return Problem(name, None, None, "a program", "no programs among a survey's files")
    if kind == "archive":
        return Problem(
            name, None, None, "packed files", "the files themselves: unpack it first, or send the "
            "whole folder as one zip",
        )  # fmt: skip
    if expected and kind not in expected:
        named = " or ".join(sorted({_WORDS[k] for k in expected}))
        return Problem(name, None, None, f"{_WORDS[kind]} inside", f"{named}, as its name says")
    return None


def _within(path: Path, name: str, kind: Kind, head: bytes) -> Iterator[Problem]:
    if kind == "picture":
        yield from _picture(name, head)
    elif kind == "recording":
        yield from _measured(name, read_apart("recording", path, name), _RECORDING)
    elif kind == "pdf":
        yield from _measured(name, read_apart("pdf", path, name), _PDF)


def _picture(name: str, head: bytes) -> Iterator[Problem]:
    picture = picture_of(head)
    if picture is None:
        # HEIC and TIFF: nothing here decodes them. Others must say their size to be let on a page.
        if head.startswith((b"\x89PNG", b"\xff\xd8\xff")):
            yield Problem(name, None, None, "a picture without a size", "a whole picture")
        return
    px, side = limits().picture_px, limits().side_px
    wide, high = picture.width_px, picture.height_px
    if wide * high > px or max(wide, high) > side:
        wanted = f"a picture of at most {px:,} pixels and {side:,} on a side"
        yield Problem(name, None, None, f"{wide:,} by {high:,} pixels", wanted)


_RECORDING = (
    ("duration_s", limits().hours * 3600, 1 / 3600, "hours long"),
    ("frame_px", limits().frame_px, 1.0, "pixels a picture"),
)
_PDF = (
    ("pages", limits().pages, 1.0, "pages"),
    ("page_pt", limits().page_pt, 1 / 72, "inches on a side"),
)


def _measured(
    name: str, answer: Answer, most: tuple[tuple[str, float, float, str], ...]
) -> Iterator[Problem]:
    yield from answer.problems
    for fact, limit, share, words in most:
        value = answer.facts.get(fact, 0)
        if value > limit:
            yield Problem(
                name, None, None, f"{value * share:,.0f} {words}",
                f"at most {limit * share:,.0f} {words}",
            )  # fmt: skip
