"""Give heads the arc and bearing of another."""

from __future__ import annotations

from collections.abc import Sequence

from nightwater.findings import UserError
from nightwater.ground.edits.rows import rows_of, with_values
from nightwater.ground.record import Ground


def copy_arc(ground: Ground, source: str, ids: Sequence[str]) -> Ground:
    """The ground with `arc_deg` and `bearing_deg` of one head given to others.

    Raises:
        UserError: unknown heads, or a source that has no arc.
    """
    arc, bearing = (
        rows_of(ground, "heads", [source])[source][c] for c in ("arc_deg", "bearing_deg")
    )
    if arc is None:
        raise UserError(f"{source} has no arc to copy. Enter its arc first.")
    rows = rows_of(ground, "heads", ids)
    return with_values(
        ground, "heads", {head: {"arc_deg": arc, "bearing_deg": bearing} for head in rows}
    )
