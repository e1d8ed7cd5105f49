"""What the desk has made of surveys beside the store, taken away: it can all be made again."""

import json
import shutil
from collections.abc import Collection
from pathlib import Path

__all__ = ["clear_made"]

_BY_SURVEY = ("papers", "stills", "speech")
_NOTES = ("tasks", "incoming")


def clear_made(folder: Path, survey_ids: Collection[int]) -> int:
    """Take away papers, pictures, words taken down, tasks and half-brought files of surveys.

    Parameters
    ----------
    folder : Path
        The desk's own folder beside the store; it need not be there.
    survey_ids : collection of int

    Returns
    -------
    int
        Files taken away.
    """
    gone = 0
    for kind in _BY_SURVEY:
        for survey_id in sorted(survey_ids):
            made = folder / kind / str(survey_id)
            gone += sum(p.is_file() for p in made.rglob("*"))
            shutil.rmtree(made, ignore_errors=True)
    for kind in _NOTES:
        for path in sorted((folder / kind).glob("*.json")):
            try:
                told = json.loads(path.read_text(encoding="utf-8"))
            except (OSError, ValueError):
                continue
            if isinstance(told, dict) and told.get("survey") in survey_ids:
                path.with_suffix(".part").unlink(missing_ok=True)
                path.unlink(missing_ok=True)
                gone += 1
    return gone
