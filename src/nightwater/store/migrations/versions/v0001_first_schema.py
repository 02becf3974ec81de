"""The first schema, as it was when course files began; it never changes again."""

from __future__ import annotations

from pathlib import Path

from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make every table and trigger."""
    script = Path(__file__).with_name("0001_first_schema.sql").read_text()
    for statement in script.split("\n--\n"):
        op.execute(statement)
