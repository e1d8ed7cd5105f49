"""The walk's recording as a file: what a player needs, beside what was said in it."""

from pathlib import Path, PurePosixPath

from bolewalk.intake.toml_file import TomlError, read_toml

__all__ = ["PLAYABLE", "recording_of"]

PLAYABLE: dict[str, str] = {
    ".mp4": "video/mp4", ".m4v": "video/mp4", ".webm": "video/webm", ".mov": "video/mp4",
    ".m4a": "audio/mp4", ".mp3": "audio/mpeg", ".ogg": "audio/ogg", ".oga": "audio/ogg",
    ".opus": "audio/ogg", ".wav": "audio/wav", ".flac": "audio/flac", ".aac": "audio/aac",
}  # fmt: skip
"""Endings a browser may play -> how it is told; one it cannot play it says so itself."""


def recording_of(folder: Path) -> Path | None:
    """Find the recording of a survey's walk.

    Parameters
    ----------
    folder : Path
        A survey folder.

    Returns
    -------
    Path or None
        The one recording named under `files.walk`, or one of the same name beside its
        transcript, inside the folder. None where there is none or several parts were recorded:
        their moments count on from part to part, and one player would jump to the wrong one.
    """
    try:
        files = read_toml(folder / "survey.toml").get("files", {})
    except TomlError:
        return None
    walk = files.get("walk") if isinstance(files, dict) else None
    names = [walk] if isinstance(walk, str) else walk
    if not isinstance(names, list) or len(names) != 1 or not isinstance(names[0], str):
        return None
    named = PurePosixPath(names[0].replace("\\", "/"))
    inside = folder.resolve()
    for suffix in (named.suffix, *PLAYABLE):
        if suffix.lower() not in PLAYABLE:
            continue
        found = (folder / named.with_suffix(suffix)).resolve()
        if found.is_file() and found.is_relative_to(inside):
            return found
    return None
