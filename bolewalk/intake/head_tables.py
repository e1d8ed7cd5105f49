"""Tables of survey.toml that stand any number of times and name files."""

from collections.abc import Mapping

from bolewalk.drawing.details import Place
from bolewalk.intake.sections import Section

__all__ = ["earlier_named"]


def earlier_named(raw: object, known: Mapping[str, str], place: Place) -> tuple[str, ...]:
    """Give the earlier papers named under [[earlier]], in order; one table counts as a list."""
    entries = [raw] if isinstance(raw, Mapping) else raw
    if entries is None:
        return ()
    if not isinstance(entries, list):
        place.tell("earlier", str(raw), "[[earlier]] tables")
        return ()
    named = []
    for n, one in enumerate(entries, start=1):
        here = Place(place.file, f"earlier {n}", place.problems)
        table = Section(one, "earlier", known, here)
        papers = table.text("papers")
        if papers:
            named.append(papers)
        else:
            table.tell("papers", "the folder of earlier papers, or their findings.json")
    return tuple(named)
