"""Measured distances between heads against the spacing that the record declares."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from nightwater.findings import Finding, warning
from nightwater.ground.linked import Linked, rows_where
from nightwater.ground.shapes import Geometries

LOW_SHARE: Final = 0.65  # curved rows bring neighbours closer than the design's 1.0
HIGH_SHARE: Final = 1.5
LEAST_THROW_SHARE: Final = 0.5  # spacing over throw; head to head is 1.0
MOST_THROW_SHARE: Final = 1.7
LEAST_ROW_SHARE: Final = 0.5
MOST_ROW_SHARE: Final = 1.3
SAME_SPOT_M: Final = 0.5
_SAME_AIM_DEG: Final = 60.0


def points_of(heads: pd.DataFrame) -> Geometries:
    """Heads with columns x and y as shapely points."""
    return np.asarray(shapely.points(heads[["x", "y"]].to_numpy(dtype=float)), dtype=object)


def neighbour_distance_m(heads: pd.DataFrame) -> pd.Series[float]:
    """Distance from each head to the nearest one of its area and nozzle [m].

    Heads of one nozzle in one area form the pattern whose spacing the record declares;
    the out-throw head that stands back to back with a green's head belongs to another.

    Args:
        heads: columns area, nozzle, x, y [m] as `Linked.heads` has them.

    Returns:
        Distance [m]; NaN for a head without place, area or a neighbour of its own kind.
    """
    found = pd.Series(np.nan, index=heads.index, name="neighbour_m")
    sound = heads[heads["area"].notna() & heads["nozzle"].notna() & heads["x"].notna()]
    for _, pattern in sound.groupby(["area", "nozzle"], sort=False):
        if len(pattern) < 2:
            continue
        points = points_of(pattern)
        (one, _other), distance = shapely.STRtree(points).query_nearest(
            points, exclusive=True, return_distance=True, all_matches=False
        )
        found.loc[pattern.index[one]] = distance
    return found


def spacing_differs(linked: Linked) -> Iterator[Finding]:
    """Heads whose measured neighbour is nowhere near the declared spacing."""
    heads = linked.heads.assign(neighbour_m=neighbour_distance_m(linked.heads))
    share = heads["neighbour_m"] / heads["spacing_m"]
    for identity, row in rows_where(heads, (share < LOW_SHARE) | (share > HIGH_SHARE)):
        yield warning(
            "spacing-differs",
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} declares {row['spacing_m']:.1f} m to the next "
            f"head; the nearest of its kind stands {row['neighbour_m']:.1f} m away.",
            "Measure it, then correct the spacing or the head's place: the rate hangs on it.",
        )


def spacing_implausible(linked: Linked) -> Iterator[Finding]:
    """Declared spacing and rows that do not fit the throw or each other."""
    heads = linked.heads
    share = heads["spacing_m"] / heads["throw_m"]
    for identity, row in rows_where(
        heads, (share < LEAST_THROW_SHARE) | (share > MOST_THROW_SHARE)
    ):
        yield warning(
            "spacing-against-throw",
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} throws {row['throw_m']:.1f} m and declares "
            f"{row['spacing_m']:.1f} m to the next head.",
            "Check nozzle and spacing; heads usually reach the next head or a little less.",
        )
    share = heads["row_m"] / heads["spacing_m"]
    for identity, row in rows_where(heads, (share < LEAST_ROW_SHARE) | (share > MOST_ROW_SHARE)):
        yield warning(
            "row-against-spacing",
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} declares rows {row['row_m']:.1f} m apart at "
            f"{row['spacing_m']:.1f} m spacing.",
            "A square has rows as far apart as heads, a triangle 0.87 times; correct one of them.",
        )


def _aimed_alike(one: pd.DataFrame, other: pd.DataFrame) -> NDArray[np.bool_]:
    bearing, arc = (
        [pair[column].to_numpy(dtype=float) for pair in (one, other)]
        for column in ("bearing_deg", "arc_deg")
    )
    turn = (bearing[0] - bearing[1] + 180.0) % 360.0 - 180.0
    full = (arc[0] >= 360.0) & (arc[1] >= 360.0)
    return np.asarray(full | (np.abs(turn) <= _SAME_AIM_DEG), dtype=bool)


def heads_in_one_spot(linked: Linked) -> Iterator[Finding]:
    """Two heads that stand in one spot and throw alike: one survey too many."""
    heads = linked.heads[linked.heads["x"].notna()]
    points = points_of(heads)
    one, other = shapely.STRtree(points).query(points, "dwithin", distance=SAME_SPOT_M)
    one, other = one[one < other], other[one < other]
    alike = _aimed_alike(heads.iloc[one], heads.iloc[other])
    one, other = one[alike], other[alike]
    distances = shapely.distance(points[one], points[other])
    for first, second, distance in zip(one, other, distances, strict=True):
        identity = heads.index[int(second)]
        yield warning(
            "heads-in-one-spot",
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} stands {distance:.2f} m from head "
            f"{linked.name('heads', heads.index[int(first)])} and throws the same way.",
            "If it is one head surveyed twice, remove one row.",
        )
