"""The tables of the store, the same on SQLite and PostgreSQL.

What a person entered is kept as text: bodies are JSON in ASCII, so that every character a file
may hold (a null, half a surrogate pair) passes through both databases; times are ISO 8601 in UTC.
"""

from sqlalchemy import (
    BigInteger,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

__all__ = [
    "HEAD", "METADATA", "accounts", "changes", "client_links", "groups", "issue_marks", "issues",
    "items", "link_openings", "media",
    "removed_media", "sessions", "sign_in_tries", "signing_keys", "surveys",
]  # fmt: skip

HEAD = "0004"
"""The newest migration."""

METADATA = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _gone_with(name: str, of: str) -> "Column[int]":
    """Give a column that names the row of another table this one is taken away with."""
    return Column(name, Integer, ForeignKey(of, ondelete="CASCADE"), nullable=False, index=True)


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
    # Id of the sending that began it, NULL where it had none.
    Column("send", Text),
    Index("ix_surveys_send", "created_by", "send", unique=True),
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
    # Id of the sending it came by, NULL where it had none.
    Column("send", Text),
    Index("ix_groups_send", "survey_id", "who", "send", unique=True),
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

removed_media = Table(
    "removed_media",
    METADATA,
    # Of a file a stretch was cut out of: a seal may still list it. Nothing of it is kept.
    Column("sha256", String(64), primary_key=True),
    Column("size", BigInteger, nullable=False),
    Column("removed_at", Text, nullable=False),
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

accounts = Table(
    "accounts",
    METADATA,
    Column("id", Integer, primary_key=True),
    # Surveys and accounts of one firm belong together; "" is the firm of a store that has one.
    Column("firm", Text, nullable=False),
    Column("name", Text, nullable=False),
    # The name folded, so that no two can be taken for each other.
    Column("key", Text, nullable=False, unique=True),
    Column("role", Text, nullable=False),
    Column("password", Text, nullable=False),
    Column("created_at", Text, nullable=False),
    Column("created_by", Text, nullable=False),
    # NULL = may sign in.
    Column("disabled_at", Text),
    sqlite_autoincrement=True,
)

sessions = Table(
    "sessions",
    METADATA,
    Column("id", Integer, primary_key=True),
    # The token itself is in the browser only.
    Column("token_sha256", String(64), nullable=False, unique=True),
    _gone_with("account_id", "accounts.id"),
    Column("begun_at", Text, nullable=False),
    Column("seen_at", Text, nullable=False),
    sqlite_autoincrement=True,
)

sign_in_tries = Table(
    "sign_in_tries",
    METADATA,
    Column("id", Integer, primary_key=True),
    # SHA-256 of the account's key or of the address: to be counted, not to be read.
    Column("subject", String(64), nullable=False),
    Column("at", Text, nullable=False),
    Index("ix_sign_in_tries_subject_at", "subject", "at"),
    sqlite_autoincrement=True,
)

signing_keys = Table(
    "signing_keys",
    METADATA,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False, unique=True),
    Column("value", Text, nullable=False),
    sqlite_autoincrement=True,
)

client_links = Table(
    "client_links",
    METADATA,
    Column("id", Integer, primary_key=True),
    _gone_with("issue_id", "issues.id"),
    # Names of the issue's papers it opens, a JSON list.
    Column("papers", Text, nullable=False),
    Column("made_at", Text, nullable=False),
    Column("made_by", Text, nullable=False),
    Column("expires_at", Text, nullable=False),
    Column("withdrawn_at", Text),
    Column("withdrawn_by", Text),
    sqlite_autoincrement=True,
)

link_openings = Table(
    "link_openings",
    METADATA,
    Column("id", Integer, primary_key=True),
    _gone_with("link_id", "client_links.id"),
    Column("at", Text, nullable=False),
    # The paper that was opened, "" the list of them. Neither who nor from where.
    Column("paper", Text, nullable=False),
    sqlite_autoincrement=True,
)
