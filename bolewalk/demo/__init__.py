"""The demonstration survey, and the empty survey a new folder starts from.

`teasel-court` is an invented co-housing court beside a creek: 24 trees, a drawing at revision
B, what the drawing leaves out, a six-minute walk, prices, one local rule table and planting.
Its figures are set so that every verdict occurs:

| tree | what it shows |
|---|---|
| T1 | hand-dug piles on one side are nothing; a trench nobody drew would change everything |
| T2 | how the pile holes are made decides |
| T3 | cannot be kept as drawn: a trench among the stability roots |
| T4, T21 | much the same share lost, from one side (T4) and from two (T21): two verdicts |
| T5, T6 | a possible later building changes both, by different steps |
| T7, T8, T9 | one unknown pipe: it decides for T7, adds a condition to T8, is nothing to T9 |
| T18 | covered by fill, not cut |
| T24 | not located: everything but plan questions still works |

`skeleton` is the commented folder that `make_skeleton.new_folder` copies. `build` draws the DXF.
"""

from importlib.resources import files
from pathlib import Path

__all__ = ["survey_folder"]


def survey_folder() -> Path:
    """Give the folder of the demonstration survey, for reading only.

    Returns
    -------
    Path
        Folder holding survey.toml.

    Raises
    ------
    FileNotFoundError
        The package's data files were not installed as plain files.
    """
    folder = Path(str(files(__package__))) / "teasel-court"
    if not (folder / "survey.toml").is_file():
        raise FileNotFoundError(f"{folder} holds no survey.toml: install bolewalk unzipped")
    return folder
