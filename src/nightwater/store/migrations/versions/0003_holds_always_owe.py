"""A hold forgives nothing: what it keeps back is lacking in the soil, so the account has it."""

from __future__ import annotations

from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Drop the column that said otherwise and that nothing ever read."""
    op.execute("ALTER TABLE holds DROP COLUMN keeps_debt")
