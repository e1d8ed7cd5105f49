"""First tables: surveys, items, changes in groups, media, sealed issues."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

_APPEND_ONLY = ("groups", "changes", "issues", "issue_marks")


def upgrade() -> None:
    """Make the first tables, and forbid edits of what is only ever added to."""
    op.create_table(
        "surveys",
        sa.Column("id", sa.Integer),
        sa.Column("firm", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("visited", sa.Text, nullable=False),
        sa.Column("created_at", sa.Text, nullable=False),
        sa.Column("created_by", sa.Text, nullable=False),
        sa.Column("revision", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_surveys"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "items",
        sa.Column("id", sa.Integer),
        sa.Column("survey_id", sa.Integer, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("key", sa.Text, nullable=False),
        sa.Column("place", sa.Float(53), nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("body", sa.Text),
        sa.PrimaryKeyConstraint("id", name="pk_items"),
        sa.ForeignKeyConstraint(["survey_id"], ["surveys.id"], name="fk_items_survey_id"),
        sa.UniqueConstraint("survey_id", "kind", "key", name="uq_items_survey_id_kind_key"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "groups",
        sa.Column("id", sa.Integer),
        sa.Column("survey_id", sa.Integer, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("action", sa.Text, nullable=False),
        sa.Column("of_group", sa.Integer),
        sa.Column("note", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_groups"),
        sa.ForeignKeyConstraint(["survey_id"], ["surveys.id"], name="fk_groups_survey_id"),
        sa.ForeignKeyConstraint(["of_group"], ["groups.id"], name="fk_groups_of_group"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_groups_survey_id", "groups", ["survey_id"])
    op.create_table(
        "changes",
        sa.Column("id", sa.Integer),
        sa.Column("group_id", sa.Integer, nullable=False),
        sa.Column("item_id", sa.Integer, nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("before", sa.Text),
        sa.Column("after", sa.Text),
        sa.Column("place_before", sa.Float(53)),
        sa.Column("place_after", sa.Float(53), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_changes"),
        sa.ForeignKeyConstraint(["group_id"], ["groups.id"], name="fk_changes_group_id"),
        sa.ForeignKeyConstraint(["item_id"], ["items.id"], name="fk_changes_item_id"),
        sa.UniqueConstraint("item_id", "version", name="uq_changes_item_id_version"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_changes_group_id", "changes", ["group_id"])
    op.create_index("ix_changes_item_id", "changes", ["item_id"])
    op.create_table(
        "media",
        sa.Column("sha256", sa.String(64)),
        sa.Column("size", sa.BigInteger, nullable=False),
        sa.Column("added_at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("sha256", name="pk_media"),
    )
    op.create_table(
        "issues",
        sa.Column("id", sa.Integer),
        sa.Column("survey_id", sa.Integer, nullable=False),
        sa.Column("number", sa.Text, nullable=False),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("revision", sa.Integer, nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("manifest", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_issues"),
        sa.ForeignKeyConstraint(["survey_id"], ["surveys.id"], name="fk_issues_survey_id"),
        sa.UniqueConstraint("survey_id", "number", name="uq_issues_survey_id_number"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "issue_marks",
        sa.Column("id", sa.Integer),
        sa.Column("issue_id", sa.Integer, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("mark", sa.Text, nullable=False),
        sa.Column("by_issue", sa.Integer),
        sa.Column("reason", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_issue_marks"),
        sa.ForeignKeyConstraint(["issue_id"], ["issues.id"], name="fk_issue_marks_issue_id"),
        sa.ForeignKeyConstraint(["by_issue"], ["issues.id"], name="fk_issue_marks_by_issue"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_issue_marks_issue_id", "issue_marks", ["issue_id"])
    _forbid_edits()


def _forbid_edits() -> None:
    postgres = op.get_bind().dialect.name == "postgresql"
    if postgres:
        op.execute(
            "CREATE FUNCTION only_added_to() RETURNS trigger LANGUAGE plpgsql AS "
            "$$ BEGIN RAISE EXCEPTION '% is only ever added to', TG_TABLE_NAME; END $$"
        )
    for table in _APPEND_ONLY:
        op.execute(
            f"CREATE TRIGGER {table}_kept BEFORE UPDATE ON {table} "
            + (
                "FOR EACH ROW EXECUTE FUNCTION only_added_to()"
                if postgres
                else f"BEGIN SELECT RAISE(ABORT, '{table} is only ever added to'); END"
            )
        )
