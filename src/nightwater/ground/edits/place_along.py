"""Place new heads along a drawn line."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Any, Final

import numpy as np
import shapely

from nightwater.findings import UserError
from nightwater.ground.changes import GEOMETRY
from nightwater.ground.edits.add import DRAWN
from nightwater.ground.edits.geometry import drawn_line
from nightwater.ground.edits.rows import free_ids, rows_of, with_rows
from nightwater.ground.record import Ground

MOST_HEADS: Final = 500
_OF_ITS_OWN: Final = ("label", "station", "area", "measured_flow_l_s", "elevation_m", "condition")
_ROUNDING: Final = 1e-9  # share of a spacing by which a length may miss a whole number of them


def places_along(line: shapely.LineString, spacing_m: float) -> list[shapely.Point]:
    """Points on a line every so many metres of its length, the first at its start.

    Args:
        line: in metres.
        spacing_m: distance from one to the next, measured along the line [m]; above 0.

    Raises:
        UserError: no such spacing, or more than 500 points.
    """
    if not spacing_m > 0:
        raise UserError(f"A spacing of {spacing_m:g} m places nothing. Give more than 0.")
    steps = line.length / spacing_m + _ROUNDING
    if steps >= MOST_HEADS:
        raise UserError(
            f"A line of {line.length:.0f} m would take {steps + 1:.0f} heads at {spacing_m:g} m; "
            f"at most {MOST_HEADS} can be placed at once."
        )
    return list(shapely.line_interpolate_point(line, np.arange(int(steps) + 1) * spacing_m))


def place_along(
    ground: Ground,
    line: Sequence[tuple[float, float]],
    spacing_m: float,
    like: str,
    retired: Collection[str] = (),
) -> Ground:
    """The ground with new heads along a line, each like one that is there.

    They take its nozzle, arc, bearing, pressure and row distance, and the spacing at which
    they are placed; what is its own (label, station, area, measured flow, elevation,
    condition) they do not take. Their evidence is "drawing".

    Args:
        ground: the record.
        line: x and y of its points [m].
        spacing_m: distance along the line from one head to the next [m].
        like: the head they are like.
        retired: ids of heads that the record had once.

    Raises:
        UserError: no such head, no such line, or a spacing that places nothing or too many.
    """
    model: dict[str, Any] = rows_of(ground, "heads", [like])[like]
    own = dict.fromkeys(_OF_ITS_OWN) | {"spacing_m": float(spacing_m), "evidence": DRAWN}
    points = places_along(drawn_line(line), spacing_m)
    names = free_ids(ground, "heads", retired)
    rows = {next(names): {**model, **own, GEOMETRY: point} for point in points}
    return with_rows(ground, "heads", rows)
