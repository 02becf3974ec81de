"""Levels, pump curves and speeds, so that the network can be solved for pressure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from nightwater.store.widening import widen

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


def upgrade() -> None:
    """Add the columns; rows on disk have nothing in them."""
    for table, columns in _COLUMNS.items():
        widen(table, columns)
