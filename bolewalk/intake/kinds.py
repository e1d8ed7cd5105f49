"""What a file is, told by what is in it; its name only where the content leaves it open."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from bolewalk.drawing.pictures import picture_of
from bolewalk.intake.first_bytes import HEAD_BYTES, kind_of
from bolewalk.intake.reading import suffix_of
from bolewalk.intake.recording import PLAYABLE
from bolewalk.intake.toml_file import TomlError, parse_toml
from bolewalk.intake.tree_table import COLUMNS, HEADINGS
from bolewalk.walk.cues import arrow_times, line_head

__all__ = ["ARRIVAL_KINDS", "ArrivalKind", "Told", "tell_kind"]

ArrivalKind = Literal[
    "drawing", "underlay", "photo", "works", "recording", "transcript", "trees", "table",
]  # fmt: skip

ARRIVAL_KINDS: dict[ArrivalKind, str] = {
    "drawing": "a drawing (DXF)",
    "underlay": "a picture of a plan",
    "photo": "a photograph",
    "works": "works (GeoJSON)",
    "recording": "a recording of the walk",
    "transcript": "a transcript of the walk",
    "trees": "a tree table (CSV)",
    "table": "a table of settings (TOML)",
}
"""What can be brought to a survey -> what it is called."""

_SHORT = 4096
_AUDIO_BRANDS = (b"M4A ", b"M4B ")
_PLAYABLE_SIGNS = (
    (b"OggS", ".ogg"), (b"fLaC", ".flac"), (b"\x1aE\xdf\xa3", ".webm"), (b"ID3", ".mp3"),
)  # fmt: skip
_OTHERS: tuple[tuple[bytes, str], ...] = (
    (b"%PDF", "a PDF: save the page of the plan as a PNG or JPEG picture, or the drawing as DXF"),
    (b"AC10", "a DWG drawing: save it as DXF"),
    (b"AC1.", "a DWG drawing: save it as DXF"),
    (b"SQLite format 3\x00", "a GeoPackage or another database: export its layer as GeoJSON"),
    (b"PK\x03\x04", "a zip: unpack it, or bring a whole survey in from the list of surveys"),
    (b"II*\x00", "a TIFF picture: save it as PNG or JPEG"),
    (b"MM\x00*", "a TIFF picture: save it as PNG or JPEG"),
    (b"BM", "a BMP picture: save it as PNG or JPEG"),
)


@dataclass(frozen=True, slots=True)
class Told:
    """What a file is.

    Attributes
    ----------
    kind : ArrivalKind or None
        None = nothing that can be brought to a survey; `why` says what to do instead.
    ending : str
        The ending its content calls for, with the dot; a file with another is kept under this.
    why : str
    """

    kind: ArrivalKind | None
    ending: str = ""
    why: str = ""


def tell_kind(path: Path, name: str) -> Told:
    """Tell what a file is.

    Parameters
    ----------
    path : Path
        Where its bytes lie.
    name : str
        As it came; it only decides between endings of the same content (.m4v or .mp4).

    Raises
    ------
    OSError
        It cannot be read.
    """
    with path.open("rb") as file:
        head = file.read(HEAD_BYTES)
    if not head.strip():
        return Told(None, why="an empty file")
    return _binary(head, suffix_of(name)) or _text(head, path, suffix_of(name))


def _binary(head: bytes, ending: str) -> Told | None:
    picture = picture_of(head)
    if picture is not None:
        proper = {"jpeg": ".jpg"}.get(picture.kind, f".{picture.kind}")
        same = ending == ".jpeg" and picture.kind == "jpeg"
        kind: ArrivalKind = "photo" if picture.by_camera or picture.kind == "jpeg" else "underlay"
        return Told(kind, ending if same else proper)
    inside = kind_of(head)
    if inside == "drawing":
        return Told("drawing", ".dxf")
    sound = _playable(head) if inside == "recording" else ""
    if sound:
        family = PLAYABLE[sound].split("/")[0]
        fits = PLAYABLE.get(ending, "").startswith(family) and _same_box(ending, sound)
        return Told("recording", ending if fits else sound)
    if inside == "picture" and head[4:8] == b"ftyp":
        return Told(None, why="a HEIC or AVIF picture: save it as JPEG")
    for magic, what in _OTHERS:
        if head.startswith(magic):
            return Told(None, why=what)
    return None


def _playable(head: bytes) -> str:
    """Give the ending of a recording by its first bytes, "" where no browser plays it."""
    if head[4:8] == b"ftyp":
        if head[8:12] in _AUDIO_BRANDS:
            return ".m4a"
        return ".mov" if head[8:12] == b"qt  " else ".mp4"
    if head[:4] == b"RIFF" and head[8:12] == b"WAVE":
        return ".wav"
    for magic, found in _PLAYABLE_SIGNS:
        if head.startswith(magic):
            return found
    # Frame headers of layer III, and of AAC in a stream (ISO 11172-3, 2.4.1.3).
    if len(head) > 3 and head[0] == 0xFF and head[1] & 0xE6 == 0xE2 and head[2] & 0xF0 != 0xF0:
        return ".mp3"
    if len(head) > 3 and head[0] == 0xFF and head[1] & 0xF6 == 0xF0:
        return ".aac"
    return ""


def _same_box(ending: str, found: str) -> bool:
    boxes = ({".mp4", ".m4v", ".mov", ".m4a"}, {".ogg", ".oga", ".opus"})
    return ending == found or any(ending in b and found in b for b in boxes)


def _text(head: bytes, path: Path, ending: str) -> Told:
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        text = head.decode("utf-16", errors="replace")
    elif b"\x00" in head[:_SHORT]:
        return Told(None, why="data of a kind that is not known here")
    else:
        text = head.decode("utf-8-sig", errors="replace")
    plain = text.lstrip("\ufeff \t\r\n")
    if plain.startswith("WEBVTT"):
        return Told("transcript", ".vtt")
    if plain.startswith("{"):
        return _json(path)
    if plain.startswith("<"):
        return Told(None, why="a page or an XML file: works come as GeoJSON, drawings as DXF")
    if any(arrow_times(line) for line in text.splitlines() if "-->" in line):
        return Told("transcript", ".srt")
    if any(line_head(line) for line in text[:_SHORT].splitlines()):
        return Told("transcript", ".txt")
    if _is_tree_table(plain):
        return Told("trees", ".csv")
    return _toml(text, ending)


def _json(path: Path) -> Told:
    try:
        raw = json.loads(path.read_bytes().decode("utf-8-sig"))
    except (ValueError, RecursionError):
        return Told(None, why="JSON that cannot be read; works come as GeoJSON")
    kind = raw.get("type") if isinstance(raw, dict) else None
    if kind in ("FeatureCollection", "Feature"):
        return Told("works", ".geojson")
    return Told(None, why="JSON that is no GeoJSON; works come as a FeatureCollection")


def _is_tree_table(text: str) -> bool:
    first = text.split("\n", 1)[0]
    delimiter = max(",;\t", key=first.count)
    names = {
        "_".join(c.strip().strip('"').lower().replace("-", " ").split())
        for c in first.split(delimiter)
    }
    names = {HEADINGS.get(n, n) for n in names}
    required = next(iter(COLUMNS))
    return required in names or len(names & set(COLUMNS)) >= 2


def _toml(text: str, ending: str) -> Told:
    if ending == ".toml":
        try:
            raw = parse_toml(text)
        except TomlError as e:
            return Told(None, why=f"TOML that cannot be read: {e}")
        if "survey" in raw and "files" in raw:
            return Told(
                None, why="a survey.toml: bring the whole folder in from the list of surveys"
            )
        return Told("table", ".toml")
    return Told(
        None,
        why="text that is neither a transcript with times nor a table with a column “tree”",
    )
