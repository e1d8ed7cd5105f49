"""Pictures by their heads: kind, size and when they were taken, without decoding a pixel.

Only the first bytes are read, so that a picture of any size, or one made to hurt a decoder, costs
nothing here.
"""

import re
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

__all__ = ["HEAD_BYTES", "PICTURE_ENDINGS", "Picture", "picture_of", "read_picture"]

PictureKind = Literal["png", "jpeg", "webp", "gif"]

PICTURE_ENDINGS: dict[str, PictureKind] = {
    ".png": "png", ".jpg": "jpeg", ".jpeg": "jpeg", ".webp": "webp", ".gif": "gif",
}  # fmt: skip
"""Ending of a file's name -> kind; the content decides."""

HEAD_BYTES = 1 << 20
"""What is looked at: a camera's notes and thumbnail may stand before a picture's size."""

_EXIF_WHEN = re.compile(r"(\d{4}):(\d\d):(\d\d) (\d\d):(\d\d):(\d\d)")
# Tags of Exif 2.32 (CIPA DC-008), tables 4 and 5.
_MAKE, _ORIENTATION, _EXIF, _TAKEN = 0x010F, 0x0112, 0x8769, 0x9003
_ASCII, _SHORT, _LONG = 2, 3, 4
_TURNED = (5, 6, 7, 8)


@dataclass(frozen=True, slots=True)
class Picture:
    """What the head of a picture says.

    Attributes
    ----------
    kind : str
    width_px, height_px : int
        As shown, with the turn a camera noted taken into account; at least 1.
    taken : str
        "2026-05-12 09:30:00" by the camera's own clock, which says no zone; "" where not noted.
    by_camera : bool
        A camera has signed it: a photograph rather than a plan.
    """

    kind: PictureKind
    width_px: int
    height_px: int
    taken: str = ""
    by_camera: bool = False


def read_picture(path: Path) -> Picture | None:
    """Read the head of a picture file.

    Returns
    -------
    Picture or None
        None where it is no PNG, JPEG, WebP or GIF, or its head is damaged.

    Raises
    ------
    OSError
        It cannot be opened.
    """
    with path.open("rb") as file:
        return picture_of(file.read(HEAD_BYTES))


def picture_of(head: bytes) -> Picture | None:
    """Tell a picture by its first bytes; see `read_picture`.

    References
    ----------
    W3C PNG (third edition) 11.2.1; ITU-T T.81 annex B; RFC 9649 (WebP); GIF89a, section 18.
    """
    try:
        if head.startswith(b"\x89PNG\r\n\x1a\n") and head[12:16] == b"IHDR":
            return _sized("png", *struct.unpack(">II", head[16:24]))
        if head.startswith(b"\xff\xd8\xff"):
            return _jpeg(head)
        if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
            return _webp(head)
        if head[:6] in (b"GIF87a", b"GIF89a"):
            return _sized("gif", *struct.unpack("<HH", head[6:10]))
    except (struct.error, IndexError):
        pass
    return None


def _sized(kind: PictureKind, width: int, height: int) -> Picture | None:
    return Picture(kind, width, height) if width > 0 and height > 0 else None


def _webp(head: bytes) -> Picture | None:
    form = head[12:16]
    if form == b"VP8X":
        wide, high = (int.from_bytes(head[i : i + 3], "little") + 1 for i in (24, 27))
        return _sized("webp", wide, high)
    if form == b"VP8L" and head[20] == 0x2F:
        bits = int.from_bytes(head[21:25], "little")
        return _sized("webp", (bits & 0x3FFF) + 1, ((bits >> 14) & 0x3FFF) + 1)
    if form == b"VP8 " and head[23:26] == b"\x9d\x01\x2a":
        wide, high = struct.unpack("<HH", head[26:30])
        return _sized("webp", wide & 0x3FFF, high & 0x3FFF)
    return None


def _jpeg(head: bytes) -> Picture | None:
    taken, turned, camera = "", False, False
    for marker, body in _segments(head):
        if marker == 0xE1 and body.startswith(b"Exif\x00\x00"):
            tags = _exif(body[6:])
            when = _EXIF_WHEN.match(str(tags.get(_TAKEN, "")))
            taken = "" if when is None else "{}-{}-{} {}:{}:{}".format(*when.groups())
            turned = tags.get(_ORIENTATION) in _TURNED
            camera = bool(taken or tags.get(_MAKE))
        # Frame headers: SOF0 to SOF15 without the tables DHT, JPG and DAC between them.
        elif 0xC0 <= marker <= 0xCF and marker not in (0xC4, 0xC8, 0xCC):
            high, wide = struct.unpack(">HH", body[1:5])
            if wide < 1 or high < 1:
                return None
            if turned:
                wide, high = high, wide
            return Picture("jpeg", wide, high, taken, camera)
    return None


def _segments(head: bytes) -> Iterator[tuple[int, bytes]]:
    at = 2
    while at + 4 <= len(head) and head[at] == 0xFF:
        marker = head[at + 1]
        if marker == 0xFF:
            at += 1
            continue
        (length,) = struct.unpack(">H", head[at + 2 : at + 4])
        if length < 2:
            return
        yield marker, head[at + 4 : at + 2 + length]
        at += 2 + length


def _exif(tiff: bytes) -> dict[int, int | str]:
    """Give the few tags that matter of the two first tables; damaged ones are passed over."""
    order = {b"II": "<", b"MM": ">"}.get(tiff[:2])
    if order is None:
        return {}
    tags: dict[int, int | str] = {}
    try:
        (first,) = struct.unpack(order + "I", tiff[4:8])
        _table(tiff, order, first, tags)
        inner = tags.get(_EXIF)
        if isinstance(inner, int):
            _table(tiff, order, inner, tags)
    except struct.error:
        pass
    return tags


def _table(tiff: bytes, order: str, at: int, tags: dict[int, int | str]) -> None:
    (count,) = struct.unpack(order + "H", tiff[at : at + 2])
    for n in range(count):
        entry = tiff[at + 2 + 12 * n : at + 14 + 12 * n]
        tag, kind, size = struct.unpack(order + "HHI", entry[:8])
        if kind == _SHORT:
            tags.setdefault(tag, struct.unpack(order + "H", entry[8:10])[0])
        elif kind == _LONG:
            tags.setdefault(tag, struct.unpack(order + "I", entry[8:12])[0])
        elif kind == _ASCII:
            (where,) = struct.unpack(order + "I", entry[8:12])
            raw = tiff[where : where + size] if size > 4 else entry[8 : 8 + size]
            tags.setdefault(tag, raw.split(b"\x00")[0].decode("ascii", errors="replace"))
