"""Ids of the sendings that changes and new surveys came by: a repeat of one changes nothing."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Add the columns; what was kept before came by no sending anybody could repeat."""
    op.add_column("surveys", sa.Column("send", sa.Text))
    op.create_index("ix_surveys_send", "surveys", ["created_by", "send"], unique=True)
    op.add_column("groups", sa.Column("send", sa.Text))
    op.create_index("ix_groups_send", "groups", ["survey_id", "who", "send"], unique=True)
