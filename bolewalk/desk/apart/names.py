"""Names of files from outside: any script, one spelling each, inside the folder."""

import unicodedata
from pathlib import PurePosixPath

from bolewalk.desk.apart.limits import limits

__all__ = ["FileNameError", "folded", "proper_parts"]

# Unicode TR9: marks that turn the direction of what follows, so that a name reads as another.
_TURNING = frozenset("\u200e\u200f\u061c\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
# Names that open devices on Windows, with any ending (Microsoft, Naming Files, from memory).
_DEVICES = frozenset(
    ["con", "prn", "aux", "nul", "conin$", "conout$"]
    + [f"{d}{n}" for d in ("com", "lpt") for n in "0123456789¹²³"]
)
_RESERVED = frozenset('<>:"|?*')


class FileNameError(ValueError):
    """A name that is none here; the text says why."""


def proper_parts(name: str) -> tuple[str, ...]:
    """Give the parts of a file's name within a folder, each in Unicode's composed form (NFC).

    Parameters
    ----------
    name : str
        As sent: slashes of either kind.

    Raises
    ------
    FileNameError
        It leads elsewhere, is a device's, cannot be a file on some system, is too long, or holds
        marks that make it read as another.
    """
    plain = unicodedata.normalize("NFC", name).replace("\\", "/")
    parts = tuple(p for p in PurePosixPath(plain).parts if p != ".")
    if not parts or plain.startswith("/") or ".." in parts:
        raise FileNameError(f"{shown(name)} is no name of a file in a folder")
    if len(parts) > limits().deep:
        raise FileNameError(f"{shown(name)} lies more than {limits().deep} folders deep")
    for part in parts:
        _check(part, name)
    if len("/".join(parts).encode("utf-8")) > limits().path_bytes:
        raise FileNameError(f"{shown(name)}: with its folders at most {limits().path_bytes} bytes")
    return parts


def _check(part: str, name: str) -> None:
    try:
        size = len(part.encode("utf-8"))
    except UnicodeEncodeError:
        raise FileNameError(f"{shown(name)} is not text") from None
    if size > limits().part_bytes:
        raise FileNameError(f"{shown(name)}: a name of at most {limits().part_bytes} bytes")
    if any(unicodedata.category(c) == "Cc" for c in part):
        raise FileNameError(f"{shown(name)} holds characters that cannot be printed")
    if _TURNING & set(part):
        raise FileNameError(f"{shown(name)} holds marks that turn the direction of reading")
    if _RESERVED & set(part):
        raise FileNameError(f"{shown(name)} holds one of {' '.join(sorted(_RESERVED))}")
    if part[-1] in ". " or part[0] == " ":
        raise FileNameError(f"{shown(name)} begins or ends in a space or ends in a dot")
    if part.split(".")[0].rstrip().lower() in _DEVICES:
        raise FileNameError(f"{shown(name)} is the name of a device on some computers")


def folded(parts: tuple[str, ...]) -> str:
    """Give the one spelling under which a folder that knows no capitals keeps a name."""
    return unicodedata.normalize("NFC", "/".join(parts).casefold())


def shown(name: str) -> str:
    """Give a name as it may be printed: quoted, short, nothing in it that acts."""
    text = "".join(c if c.isprintable() and c not in _TURNING else ascii(c)[1:-1] for c in name)
    return repr(text if len(text) <= 80 else f"{text[:60]}...{text[-15:]}").replace("\\\\", "\\")
