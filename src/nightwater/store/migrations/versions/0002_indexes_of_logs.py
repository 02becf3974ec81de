"""Indexes of what grows by the day, so that a morning does not read whole seasons."""

from __future__ import annotations

from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Index logs by night and weather by time."""
    op.create_index("commands_night", "commands", ["night"])
    op.create_index("samples_night", "samples", ["night"])
    op.create_index("weather_step_time", "weather", ["step", "time"])
