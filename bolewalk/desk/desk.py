"""What the routes of one running desk share."""

from dataclasses import dataclass

from bolewalk.desk.drawer import Drawer, Sheet
from bolewalk.desk.tasks import Tasks
from bolewalk.papers.reading import Reading
from bolewalk.papers.write import reading_of

__all__ = ["Desk", "glimpse"]


@dataclass(frozen=True, slots=True)
class Desk:
    """One running desk."""

    drawer: Drawer
    tasks: Tasks


def glimpse(sheet: Sheet) -> Reading:
    """Give a sheet's findings as they are known now, with someone to say them."""
    return reading_of(sheet.reckoning.glimpse())
