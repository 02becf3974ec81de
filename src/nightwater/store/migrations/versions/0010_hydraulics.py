"""Levels, pump curves and speeds, so that the network can be solved for pressure."""

from __future__ import annotations

from typing import Final

from alembic import op

revision = "0010"
down_revision = "0009"

_COLUMNS: Final = (
    ("pipes", "start_elevation_m DOUBLE"),
    ("pipes", "end_elevation_m DOUBLE"),
    ("pumps", "curve TEXT"),
    ("pumps", "efficiency_curve TEXT"),
    ("pumps", "variable_speed BOOLEAN"),
    ("pumps", "max_starts_h INTEGER"),
    ("pumps", "elevation_m DOUBLE"),
    ("pumps", "source TEXT"),
    ("sources", "level_m DOUBLE"),
    ("sources", "pressure_kpa DOUBLE"),
)


def upgrade() -> None:
    """Add the columns; rows on disk have none of them."""
    for table, column in _COLUMNS:
        op.execute(f"ALTER TABLE {table} ADD COLUMN {column}")
