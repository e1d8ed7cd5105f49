"""Photographs in the report: small, upright, without what the camera wrote into the file.

A picture is made anew from its points, so that neither the place it was taken at nor anything
else hidden in the file goes out with the papers; the time it was taken is printed beside it.
"""

import io
import tomllib
import warnings
from functools import lru_cache
from importlib import resources
from pathlib import Path, PurePosixPath
from typing import Any

from PIL import Image, ImageOps

from bolewalk.papers.reading import Reading

__all__ = ["photo_of", "photos_data"]

_TAKEN, _EXIF_PART = 0x9003, 0x8769
"""Tags of Exif 2.32: DateTimeOriginal, and the part of the file that holds it."""

_APART = ("-", "_", " ", ".")


@lru_cache(maxsize=1)
def _settings() -> dict[str, int]:
    text = (resources.files("bolewalk.papers") / "data" / "photos.toml").read_text("utf-8")
    return {k: int(v) for k, v in tomllib.loads(text).items()}


def photos_data(reading: Reading) -> tuple[list[dict[str, Any]], dict[str, bytes], list[str]]:
    """Choose and shrink the photographs of a survey's trees.

    A tree's own photograph comes first, then those whose file begins with its number ("T7-2.jpg").

    Returns
    -------
    photos : list of dict
        What the template reads: name of the picture, tree, caption, text for those who hear it.
    pictures : dict
        Name of the picture -> JPEG. The same photographs give the same bytes.
    left : list of str
        Sentences on photographs that are not printed, and why.
    """
    files = reading.files
    photos: list[dict[str, Any]] = []
    pictures: dict[str, bytes] = {}
    left: list[str] = []
    broken: list[str] = []
    used: set[str] = set()
    over = 0
    for t in reading.findings.trees:
        shown = 0
        for name in _of_tree(reading, t.tree.id, t.tree.photo):
            if name in used:
                continue
            used.add(name)
            if shown >= _settings()["per_tree"] or len(photos) >= _settings()["in_all"]:
                over += 1
                continue
            path = None if files is None else files(name)
            made = None if path is None else photo_of(path)
            if made is None:
                broken.append(PurePosixPath(name).name)
                continue
            picture, taken = made
            key = f"photo-{len(photos) + 1}.jpg"
            pictures[key] = picture
            shown += 1
            kind = reading.species(t.tree)["name"]
            code = "caption" if taken else "caption_untimed"
            photos.append({
                "picture": key,
                "id": t.tree.id,
                "caption": reading.say(
                    f"photo_says.{code}", tree=t.tree.id, species=kind, taken=taken,
                    file=PurePosixPath(name).name,
                ),
                "alt": reading.say("photo_says.alt", tree=t.tree.id, species=kind),
            })  # fmt: skip
    if broken:
        left.append(reading.say("photo_says.unread", files=", ".join(broken)))
    if over:
        left.append(reading.say("photo_says.more", photos_count=over))
    loose = [n for n in reading.findings.photos if n not in used]
    if loose:
        named = ", ".join(PurePosixPath(n).name for n in loose[: _settings()["in_all"]])
        left.append(reading.say("photo_says.loose", photos_count=len(loose), files=named))
    return photos, pictures, left


def _of_tree(reading: Reading, tree: str, own: str) -> list[str]:
    begins = tree.casefold()
    stems = [(PurePosixPath(n).stem.casefold(), n) for n in reading.findings.photos]
    plain = [n for stem, n in stems if stem == begins]
    more = [n for stem, n in stems if stem.startswith(tuple(begins + a for a in _APART))]
    return list(dict.fromkeys([*([own] if own else []), *plain, *more]))


def photo_of(path: Path) -> tuple[bytes, str] | None:
    """Shrink one photograph.

    Returns
    -------
    (bytes, str) or None
        JPEG, upright, without any data of the camera's; and when it was taken, "2026-05-12 10:14",
        "" where the file does not say. None where it is no picture that can be read, or so large
        that reading it could take all memory.
    """
    s = _settings()
    side = s["longest_px"]
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            with Image.open(path) as opened:
                taken = _taken(opened)
                opened.draft("RGB", (side, side))
                image = ImageOps.exif_transpose(opened).convert("RGB")
                image.thumbnail((side, side))
    except (OSError, ValueError, SyntaxError, Warning, Image.DecompressionBombError):
        return None
    out = io.BytesIO()
    image.save(out, "JPEG", quality=s["quality"], exif=b"", icc_profile=None)
    return out.getvalue(), taken


def _taken(image: Image.Image) -> str:
    raw = image.getexif().get_ifd(_EXIF_PART).get(_TAKEN, "")
    text = raw if isinstance(raw, str) else ""
    day, _, time = text.strip("\x00 ").partition(" ")
    parts = day.split(":")
    plain = all(p.isdigit() for p in (*parts, *time.split(":"))) and len(parts) == 3
    return f"{'-'.join(parts)} {time[:5]}" if plain and time else ""
