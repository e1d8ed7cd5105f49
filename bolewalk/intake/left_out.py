"""The works that stand in no figure because their records could not be used."""

from bolewalk.intake.reading import SurveyReading
from bolewalk.intake.survey_toml import HEAD_FILE
from bolewalk.model.works import LeftOut

__all__ = ["left_out"]


def left_out(reading: SurveyReading) -> tuple[LeftOut, ...]:
    """Name every work whose record was left out, with what could be read of its place.

    Parameters
    ----------
    reading : SurveyReading
        With the problems of works and drawings told.

    Returns
    -------
    tuple of LeftOut
        Each once, in the order of the problems; then drawings whose placement cannot be read.
        Drawings on which no layer is works leave nothing out.
    """
    found = []
    for p in reading.problems:
        if p.left_out_m is not None:
            name = p.value if p.file == HEAD_FILE and p.value else str(p.row or p.file)
            known = p.left_out_m
            extent = (known[0], known[1], known[2], known[3]) if known else None
            found.append(LeftOut(name, p.file, extent))
    found += [
        LeftOut(d.drawing.file, d.drawing.file)
        for d in reading.head.drawings
        if d.layers and not d.readable
    ]
    return tuple(dict.fromkeys(found))
