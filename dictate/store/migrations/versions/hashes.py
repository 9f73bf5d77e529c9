"""Version 3: the hash of each event, the delivery that it came with, and its station."""

import sqlalchemy as sa
from alembic import op

revision = "3"
down_revision = "2"


def upgrade() -> None:
    """Add the columns; events from before have none of it."""
    for name, length in (("hash", 64), ("delivery", 32), ("station", 32)):
        op.add_column("events", sa.Column(name, sa.String(length), nullable=True))
    op.create_index("ix_events_delivery", "events", ["delivery"])
