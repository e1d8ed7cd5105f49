"""Files that were taken out for good, so that a seal which lists one is not called broken."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "removed_media",
        sa.Column("sha256", sa.String(64)),
        sa.Column("size", sa.BigInteger, nullable=False),
        sa.Column("removed_at", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("sha256", name="pk_removed_media"),
    )
