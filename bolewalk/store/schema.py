"""The tables of the store, the same on SQLite and PostgreSQL.

What a person entered is kept as text: bodies are JSON in ASCII, so that every character a file
may hold (a null, half a surrogate pair) passes through both databases; times are ISO 8601 in UTC.
"""

from sqlalchemy import (
    BigInteger,
    Column,
    Float,
    ForeignKey,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

__all__ = [
    "HEAD", "METADATA", "changes", "groups", "issue_marks", "issues", "items", "media", "surveys",
]  # fmt: skip

HEAD = "0001"
"""The newest migration."""

METADATA = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)

surveys = Table(
    "surveys",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("firm", Text, nullable=False),
    # Name and date stand in the head; here they are for the list of surveys only.
    Column("name", Text, nullable=False),
    Column("visited", Text, nullable=False),
    Column("created_at", Text, nullable=False),
    Column("created_by", Text, nullable=False),
    # The newest group of changes, 0 before the first.
    Column("revision", Integer, nullable=False),
    sqlite_autoincrement=True,
)

items = Table(
    "items",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("survey_id", Integer, ForeignKey("surveys.id"), nullable=False),
    Column("kind", Text, nullable=False),
    Column("key", Text, nullable=False),
    Column("place", Float(53), nullable=False),
    Column("version", Integer, nullable=False),
    # NULL = removed; the row stays, so that a late edit of it meets a conflict.
    Column("body", Text),
    UniqueConstraint("survey_id", "kind", "key"),
    sqlite_autoincrement=True,
)

groups = Table(
    "groups",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("survey_id", Integer, ForeignKey("surveys.id"), nullable=False, index=True),
    Column("at", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("action", Text, nullable=False),
    # The group an undo or redo is about.
    Column("of_group", Integer, ForeignKey("groups.id")),
    Column("note", Text, nullable=False),
    sqlite_autoincrement=True,
)

changes = Table(
    "changes",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("group_id", Integer, ForeignKey("groups.id"), nullable=False, index=True),
    Column("item_id", Integer, ForeignKey("items.id"), nullable=False, index=True),
    Column("version", Integer, nullable=False),
    Column("before", Text),
    Column("after", Text),
    Column("place_before", Float(53)),
    Column("place_after", Float(53), nullable=False),
    UniqueConstraint("item_id", "version"),
    sqlite_autoincrement=True,
)

media = Table(
    "media",
    METADATA,
    Column("sha256", String(64), primary_key=True),
    Column("size", BigInteger, nullable=False),
    Column("added_at", Text, nullable=False),
)

issues = Table(
    "issues",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("survey_id", Integer, ForeignKey("surveys.id"), nullable=False),
    Column("number", Text, nullable=False),
    Column("title", Text, nullable=False),
    Column("at", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("revision", Integer, nullable=False),
    Column("sha256", String(64), nullable=False),
    Column("manifest", Text, nullable=False),
    UniqueConstraint("survey_id", "number"),
    sqlite_autoincrement=True,
)

issue_marks = Table(
    "issue_marks",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("issue_id", Integer, ForeignKey("issues.id"), nullable=False, index=True),
    Column("at", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("mark", Text, nullable=False),
    Column("by_issue", Integer, ForeignKey("issues.id")),
    Column("reason", Text, nullable=False),
    sqlite_autoincrement=True,
)
