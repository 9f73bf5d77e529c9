"""Version 2: what cases are searched by, in columns of its own."""

import sqlalchemy as sa
from alembic import op

from dictate.store.search_columns import COLUMNS, fill_search_columns
from dictate.store.tables import SORTED_TEXT

revision = "2"
down_revision = "1"


def upgrade() -> None:
    """Add the columns that are lacking, and fill them."""
    there = {each["name"] for each in sa.inspect(op.get_bind()).get_columns("cases")}
    for name in COLUMNS:
        if name not in there:
            kind = SORTED_TEXT if name == "opened_utc" else sa.Text()
            op.add_column("cases", sa.Column(name, kind, nullable=False, server_default=""))
    for name in ("opened_utc", "animal"):
        op.create_index(f"ix_cases_{name}", "cases", [name], if_not_exists=True)
    fill_search_columns(op.get_bind())
