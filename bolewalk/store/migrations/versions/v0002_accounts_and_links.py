"""Accounts with their sessions and tries to sign in; links for clients with their openings."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the tables; openings, like the history, are only ever added to."""
    _make_accounts()
    _make_links()
    if op.get_bind().dialect.name == "postgresql":
        then = "FOR EACH ROW EXECUTE FUNCTION only_added_to()"
    else:
        then = "BEGIN SELECT RAISE(ABORT, 'link_openings is only ever added to'); END"
    op.execute(f"CREATE TRIGGER link_openings_kept BEFORE UPDATE ON link_openings {then}")


def _make_accounts() -> None:
    op.create_table(
        "accounts",
        sa.Column("id", sa.Integer),
        sa.Column("firm", sa.Text, nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("key", sa.Text, nullable=False),
        sa.Column("role", sa.Text, nullable=False),
        sa.Column("password", sa.Text, nullable=False),
        sa.Column("created_at", sa.Text, nullable=False),
        sa.Column("created_by", sa.Text, nullable=False),
        sa.Column("disabled_at", sa.Text),
        sa.PrimaryKeyConstraint("id", name="pk_accounts"),
        sa.UniqueConstraint("key", name="uq_accounts_key"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "sessions",
        sa.Column("id", sa.Integer),
        sa.Column("token_sha256", sa.String(64), nullable=False),
        sa.Column("account_id", sa.Integer, nullable=False),
        sa.Column("begun_at", sa.Text, nullable=False),
        sa.Column("seen_at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_sessions"),
        sa.ForeignKeyConstraint(
            ["account_id"], ["accounts.id"], name="fk_sessions_account_id", ondelete="CASCADE"
        ),
        sa.UniqueConstraint("token_sha256", name="uq_sessions_token_sha256"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_sessions_account_id", "sessions", ["account_id"])
    op.create_table(
        "sign_in_tries",
        sa.Column("id", sa.Integer),
        sa.Column("subject", sa.String(64), nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_sign_in_tries"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_sign_in_tries_subject_at", "sign_in_tries", ["subject", "at"])


def _make_links() -> None:
    op.create_table(
        "signing_keys",
        sa.Column("id", sa.Integer),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("value", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_signing_keys"),
        sa.UniqueConstraint("name", name="uq_signing_keys_name"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "client_links",
        sa.Column("id", sa.Integer),
        sa.Column("issue_id", sa.Integer, nullable=False),
        sa.Column("papers", sa.Text, nullable=False),
        sa.Column("made_at", sa.Text, nullable=False),
        sa.Column("made_by", sa.Text, nullable=False),
        sa.Column("expires_at", sa.Text, nullable=False),
        sa.Column("withdrawn_at", sa.Text),
        sa.Column("withdrawn_by", sa.Text),
        sa.PrimaryKeyConstraint("id", name="pk_client_links"),
        sa.ForeignKeyConstraint(
            ["issue_id"], ["issues.id"], name="fk_client_links_issue_id", ondelete="CASCADE"
        ),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_client_links_issue_id", "client_links", ["issue_id"])
    op.create_table(
        "link_openings",
        sa.Column("id", sa.Integer),
        sa.Column("link_id", sa.Integer, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("paper", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_link_openings"),
        sa.ForeignKeyConstraint(
            ["link_id"], ["client_links.id"], name="fk_link_openings_link_id", ondelete="CASCADE"
        ),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_link_openings_link_id", "link_openings", ["link_id"])
