"""A survey begun in the store: empty or with what was taken in, once for each sending."""

from collections.abc import Sequence
from datetime import date, datetime

import tomlkit
from sqlalchemy import Connection, insert, select

from bolewalk.intake.survey_toml import HEAD_FILE
from bolewalk.intake.tree_table import COLUMNS
from bolewalk.model.units import UnitSystem
from bolewalk.store.changes import apply
from bolewalk.store.items import Edit, stamp
from bolewalk.store.rows import column_text, retitle
from bolewalk.store.schema import surveys

__all__ = ["begin", "begun", "empty_survey", "new_row"]


def empty_survey(name: str, *, visited: date, units: UnitSystem, purpose: str) -> tuple[Edit, ...]:
    """Give what a survey of nothing yet holds: its head, a tree table and a file of works."""
    head = tomlkit.dumps(
        {
            "survey": {"name": name, "date": visited, "units": units, "purpose": purpose},
            "files": {"trees": "trees.csv", "works": ["works.geojson"]},
        }
    )
    return (
        Edit("head", HEAD_FILE, {"text": head}),
        Edit("columns", "trees.csv", {"columns": list(COLUMNS)}),
        Edit("works", "works.geojson", {"top": {"type": "FeatureCollection"}}),
    )


def begun(c: Connection, *, who: str, send: str) -> int | None:
    """Give the survey a person's sending began, None where it is not known."""
    if not send:
        return None
    same = surveys.c.created_by == column_text(who), surveys.c.send == send
    return c.execute(select(surveys.c.id).where(*same)).scalar()


def begin(
    c: Connection, edits: Sequence[Edit], *, who: str, when: datetime, firm: str, send: str
) -> int:
    """Begin a survey with its first edits; give its number."""
    number = new_row(c, who=who, when=when, firm=firm, send=send)
    done = apply(c, number, edits, who=who, when=when, action="import")
    retitle(c, number, done)
    return number


def new_row(c: Connection, *, who: str, when: datetime, firm: str, send: str) -> int:
    """Give the number of a new survey with nothing in it, not even a head."""
    made = insert(surveys).values(
        firm=column_text(firm), name="", visited="", created_at=stamp(when),
        created_by=column_text(who), revision=0, send=send or None,
    )  # fmt: skip
    number: int = c.execute(made.returning(surveys.c.id)).scalar_one()
    return number
