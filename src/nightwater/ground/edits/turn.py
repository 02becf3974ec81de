"""Turn heads: the middle of their sector."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from nightwater.findings import UserError
from nightwater.ground.changes import Values
from nightwater.ground.edits.rows import listed, rows_of, with_values
from nightwater.ground.record import Ground

FULL_TURN_DEG: Final = 360.0


def _turned_by(rows: Mapping[str, Values], by_deg: float) -> dict[str, float]:
    lost = [head for head, row in rows.items() if row["bearing_deg"] is None]
    if lost:
        raise UserError(f"{listed(lost)} have no bearing to turn from. Give 'bearing_deg'.")
    return {head: row["bearing_deg"] + by_deg for head, row in rows.items()}


def turn(
    ground: Ground,
    ids: Sequence[str],
    bearing_deg: float | None = None,
    by_deg: float | None = None,
) -> Ground:
    """The ground with heads turned to a bearing, or by an angle, clockwise.

    Args:
        ground: the record.
        ids: which heads.
        bearing_deg: middle of the sector, clockwise from north; any turn of it.
        by_deg: how far to turn instead, clockwise; one of the two.

    Raises:
        UserError: unknown heads, both angles or none, or a head without a bearing to turn from.
    """
    rows = rows_of(ground, "heads", ids)
    if by_deg is None and bearing_deg is not None:
        bearings = dict.fromkeys(rows, bearing_deg)
    elif by_deg is not None and bearing_deg is None:
        bearings = _turned_by(rows, by_deg)
    else:
        raise UserError("Turning needs either 'bearing_deg' or 'by_deg'.")
    turned = {head: {"bearing_deg": bearing % FULL_TURN_DEG} for head, bearing in bearings.items()}
    return with_values(ground, "heads", turned)
