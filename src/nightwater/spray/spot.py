"""Which heads wet a spot, and how much each gives there."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.ground.record import Ground
from nightwater.spray.head_patterns import HeadPatterns, head_patterns
from nightwater.spray.point_rate import point_rate_mm_h
from nightwater.spray.rate import FULL_CIRCLE_DEG

COLUMNS: Final = ("id", "distance_m", "rate_mm_h")


def rates_at_mm_h(patterns: HeadPatterns, x_m: float, y_m: float) -> NDArray[np.float64]:
    """Rate of every head at a spot, in still air, by its own pattern.

    See `point_rate.point_rate_mm_h`.

    Args:
        patterns: the heads.
        x_m, y_m: the spot, in the record's system.

    Returns:
        Rate [mm/h], one a head; 0 out of reach, NaN for a spot that is NaN.
    """
    return np.asarray(point_rate_mm_h(patterns, [x_m], [y_m])[0])


def _aimed(ground: Ground) -> tuple[Ground, NDArray[np.bool_]]:
    """The ground with any bearing for part circles that have none, and which those are."""
    heads = ground.heads.copy()
    aimless = (heads["arc_deg"].fillna(FULL_CIRCLE_DEG) < FULL_CIRCLE_DEG) & heads[
        "bearing_deg"
    ].isna()
    whole = heads["arc_deg"].where(~aimless, FULL_CIRCLE_DEG)
    return ground.with_table("heads", heads.assign(arc_deg=whole)), aimless.to_numpy(dtype=bool)


def heads_at(ground: Ground, x: float, y: float) -> pd.DataFrame:
    """The heads whose water reaches a spot, and the rate that each gives there.

    By the heads' real patterns, as the wetting matrix has them (`head_patterns`), in still
    air. Every head counts as running.

    Args:
        ground: the record.
        x, y: the spot, in metres of the record's system.

    Returns:
        Columns id, distance_m and rate_mm_h, the nearest first. The rate is NaN
        where the bearing of a part circle is not known. A head whose pattern is not known is
        left out, as its reach is unknown; a spot that is NaN gives no rows.
    """
    aimed, aimless = _aimed(ground)
    patterns, _ = head_patterns(aimed)
    unaimed = np.isin(patterns.ids, ground.heads.index.to_numpy()[aimless])
    rate = rates_at_mm_h(patterns, x, y)
    distance = np.hypot(x - patterns.x_m, y - patterns.y_m)
    found = pd.DataFrame(
        {
            "id": patterns.ids,
            "distance_m": distance,
            "rate_mm_h": np.where(unaimed, np.nan, rate),
        },
        columns=list(COLUMNS),
    )
    reached = rate > 0
    order = np.argsort(distance[reached], kind="stable")
    near: pd.DataFrame = found.loc[reached].iloc[order].reset_index(drop=True)
    return near
