"""The first tables, as `first_tables.sql` froze them."""

from __future__ import annotations

from pathlib import Path

from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make every table of the first version."""
    for statement in Path(__file__).with_name("first_tables.sql").read_text().split(";;\n"):
        if statement.strip():
            op.get_bind().exec_driver_sql(statement)
