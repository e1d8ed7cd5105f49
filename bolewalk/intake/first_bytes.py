"""What a file is by its first bytes, whatever its name says."""

import re
from typing import Literal

from bolewalk.drawing.pictures import HEAD_BYTES, picture_of
from bolewalk.intake.reading import suffix_of

__all__ = ["HEAD_BYTES", "Kind", "expected_kinds", "kind_of"]

Kind = Literal[
    "picture", "recording", "pdf", "drawing", "data", "text", "archive", "program", "other"
]

_ENDINGS: dict[Kind, tuple[str, ...]] = {
    "picture": (".png", ".jpg", ".jpeg", ".webp", ".gif", ".heic", ".heif", ".tif", ".tiff"),
    "recording": (
        ".mp4", ".m4v", ".mov", ".webm", ".mkv", ".m4a", ".mp3", ".wav", ".ogg", ".oga", ".opus",
        ".flac", ".aac", ".avi", ".3gp",
    ),
    "pdf": (".pdf",),
    "drawing": (".dxf",),
    "data": (".csv", ".toml", ".geojson", ".json"),
    "text": (".vtt", ".srt", ".txt", ".md"),
}  # fmt: skip
_BY_ENDING = {ending: kind for kind, endings in _ENDINGS.items() for ending in endings}

# First bytes; each from the format's own description, as listed in the IANA media types or the
# format's standard, from memory.
_SIGNS: tuple[tuple[int, bytes, Kind], ...] = (
    (0, b"%PDF-", "pdf"),
    (0, b"AutoCAD Binary DXF\r\n\x1a\x00", "drawing"),
    (0, b"II*\x00", "picture"),
    (0, b"MM\x00*", "picture"),
    (0, b"\x1aE\xdf\xa3", "recording"),
    (0, b"OggS", "recording"),
    (0, b"fLaC", "recording"),
    (0, b"ID3", "recording"),
    (0, b"PK\x03\x04", "archive"),
    (0, b"PK\x05\x06", "archive"),
    (0, b"\x1f\x8b", "archive"),
    (0, b"BZh", "archive"),
    (0, b"\xfd7zXZ\x00", "archive"),
    (0, b"7z\xbc\xaf\x27\x1c", "archive"),
    (0, b"Rar!\x1a\x07", "archive"),
    (0, b"\x28\xb5\x2f\xfd", "archive"),
    (257, b"ustar", "archive"),
    (0, b"\x7fELF", "program"),
    (0, b"\xfe\xed\xfa", "program"),
    (0, b"\xcf\xfa\xed\xfe", "program"),
    (0, b"\xca\xfe\xba\xbe", "program"),
    (0, b"#!/", "program"),
)
_HEIF = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"mif1", b"msf1", b"avif")
_MARKS = (b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff")
# A plain DXF: group codes and values on lines of their own, comments (999) before the first
# section. Nothing in it can be matched in two ways, so that no file can make it slow.
_FIRST_SECTION = re.compile(
    rb"(?:\xef\xbb\xbf)?+[ \t]*+"
    rb"(?:999[ \t]*+(?>\r\n|[\r\n])[^\r\n]*+(?>\r\n|[\r\n])[ \t]*+)*+"
    rb"0[ \t]*+(?>\r\n|[\r\n])[ \t]*+SECTION[ \t]*+(?:[\r\n]|\Z)"
)


def expected_kinds(name: str) -> frozenset[Kind]:
    """Give what a file of this name may be inside; empty where its ending says nothing here."""
    kind = _BY_ENDING.get(suffix_of(name))
    # Names that begin with a dot are notes of the sender's system, whatever they end in.
    if kind is None or name.rpartition("/")[2].startswith("."):
        return frozenset()
    return frozenset({"data", "text"}) if kind in ("data", "text") else frozenset({kind})


def kind_of(head: bytes) -> Kind:
    """Tell a file by its first `HEAD_BYTES` bytes.

    "text" is anything that reads as text and is nothing else; "data" is never given, for CSV, TOML
    and GeoJSON are text.
    """
    if picture_of(head) is not None or head.startswith((b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff")):
        return "picture"
    for at, sign, kind in _SIGNS:
        if head.startswith(sign, at):
            return kind
    if head.startswith(b"MZ") and b"\x00" in head[:64]:
        return "program"
    if head[4:8] == b"ftyp":
        return "picture" if head[8:12] in _HEIF else "recording"
    if head[4:8] in (b"moov", b"mdat", b"wide", b"free", b"skip"):
        return "recording"
    if head[:4] in (b"RIFF", b"RF64") and head[8:12] in (b"WAVE", b"AVI "):
        return "recording"
    # An MPEG audio frame: eleven ones, a version and a layer that exist (ISO/IEC 11172-3 2.4.1.3).
    if len(head) > 2 and head[0] == 0xFF and head[1] & 0xE0 == 0xE0 and head[:2] not in _MARKS:
        return "recording"
    if not head.startswith(_MARKS) and b"\x00" in head:
        return "other"
    return "drawing" if _FIRST_SECTION.match(head) else "text"
