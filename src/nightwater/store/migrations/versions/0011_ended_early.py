"""Who ended a trim or hold early, when and why, and the end that it had."""

from __future__ import annotations

from typing import Final

from nightwater.store.widening import widen

revision = "0011"
down_revision = "0010"

_ENDED: Final = ("ended TEXT", "ended_by TEXT", "ended_why TEXT")


def upgrade() -> None:
    """Add the columns; what older files say of an early end stays in the reason's words."""
    widen("trims", ("meant_until DATE", *_ENDED), before="geom")
    widen("holds", ("meant_until TEXT", *_ENDED), before="UNIQUE (id)")
