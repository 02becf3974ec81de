"""Levels, pump curves and speeds, so that the network can be solved for pressure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from alembic import op
from sqlalchemy import text

revision = "0010"
down_revision = "0009"

_COLUMNS: Final[Mapping[str, tuple[str, ...]]] = {
    "heads": ('regulated BOOLEAN CHECK ("regulated" IN (0, 1))',),
    "pipes": ("start_elevation_m DOUBLE", "end_elevation_m DOUBLE"),
    "pumps": (
        "curve TEXT",
        "efficiency_curve TEXT",
        'variable_speed BOOLEAN CHECK ("variable_speed" IN (0, 1))',
        "max_starts_h INTEGER",
        "elevation_m DOUBLE",
        "source TEXT",
    ),
    "sources": ("level_m DOUBLE", "pressure_kpa DOUBLE"),
}
_BEFORE: Final = "evidence TEXT"


def _widen(table: str, columns: tuple[str, ...]) -> None:
    """New columns stand before the evidence, as in a new file: the table is written anew."""
    connection = op.get_bind()
    found = connection.execute(
        text("SELECT sql FROM sqlite_master WHERE type = 'table' AND name = :name"), {"name": table}
    )
    made = str(found.scalar_one()).replace(_BEFORE, f"{', '.join(columns)}, {_BEFORE}", 1)
    old = ", ".join(
        f'"{row[1]}"' for row in connection.execute(text(f"PRAGMA table_info({table})"))
    )
    op.execute(f"ALTER TABLE {table} RENAME TO {table}_before")
    connection.exec_driver_sql(made)
    op.execute(f"INSERT INTO {table} ({old}) SELECT {old} FROM {table}_before")
    op.execute(f"DROP TABLE {table}_before")


def upgrade() -> None:
    """Add the columns; rows on disk have nothing in them."""
    for table, columns in _COLUMNS.items():
        _widen(table, columns)
