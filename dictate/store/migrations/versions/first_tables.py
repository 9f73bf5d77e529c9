"""Version 1: cases and their events."""

import sqlalchemy as sa
from alembic import op

from dictate.store.tables import SORTED_ID

revision = "1"
down_revision = None


def upgrade() -> None:
    """Make the tables."""
    op.create_table(
        "cases",
        sa.Column("id", SORTED_ID, primary_key=True),
        sa.Column("opened", sa.String(40), nullable=False),
        sa.Column("document", sa.Text, nullable=False),
    )
    op.create_index("ix_cases_opened", "cases", ["opened"])
    op.create_table(
        "events",
        sa.Column("case_id", SORTED_ID, sa.ForeignKey("cases.id"), primary_key=True),
        sa.Column("sequence", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("document", sa.Text, nullable=False),
    )
