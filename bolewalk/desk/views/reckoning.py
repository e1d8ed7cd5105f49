"""A page whose figures are still being worked out: shown at once, it fills itself in."""

from collections.abc import Sequence
from dataclasses import dataclass

from bolewalk.desk.desk import glimpse
from bolewalk.desk.drawer import Sheet
from bolewalk.desk.views.head import SurveyHead, survey_head

__all__ = ["ReckoningView", "reckoning_view"]


@dataclass(frozen=True, slots=True)
class ReckoningView:
    """How far the figures of a page are. `done` of `trees` are worked out."""

    head: SurveyHead
    what: str
    done: int
    trees: int


def reckoning_view(sheets: Sequence[Sheet], here: str, what: str) -> ReckoningView:
    """Give the page of a sheet that is not there yet.

    Parameters
    ----------
    sheets : sequence of Sheet
        All plans it needs; the first gives the head.
    here : str
        Address of the sheet, as in `survey_head`.
    what : str
        What is being worked out: "The price".
    """
    trees = sum(len(s.job.survey.trees) for s in sheets)
    left = sum(len(s.reckoning.pending) for s in sheets)
    return ReckoningView(
        survey_head(sheets[0], glimpse(sheets[0]), here), what, trees - left, trees
    )
