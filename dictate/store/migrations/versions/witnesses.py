"""Version 4: the hash of each case, and the number of its last event."""

import sqlalchemy as sa
from alembic import op
from pydantic import ValidationError

from dictate.chart.case import Case
from dictate.integrity.chain import case_hash

revision = "4"
down_revision = "3"


def upgrade() -> None:
    """Add the columns, and fill them from what is there."""
    op.add_column("cases", sa.Column("hash", sa.String(64), nullable=True))
    op.add_column("cases", sa.Column("last_event", sa.Integer, nullable=False, server_default="0"))
    db = op.get_bind()
    db.exec_driver_sql(
        "UPDATE cases SET last_event = (SELECT coalesce(max(sequence), 0) FROM events"
        " WHERE events.case_id = cases.id)"
    )
    for case_id, document in db.exec_driver_sql("SELECT id, document FROM cases").all():
        try:
            digits = case_hash(Case.model_validate_json(document))
        except ValidationError:
            # One of a newer dictate, or one that is damaged, has no hash that is known here.
            continue
        db.execute(
            sa.text("UPDATE cases SET hash = :digits WHERE id = :id"),
            {"digits": digits, "id": case_id},
        )
