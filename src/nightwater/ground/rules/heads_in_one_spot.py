"""Two heads that stand in one spot and throw alike: one survey too many."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked, points_of

CODE: Final = "heads-in-one-spot"
SEVERITY: Final = Severity.WARNING
SAME_SPOT_M: Final = 0.5
SAME_AIM_DEG: Final = 60.0  # heads back to back are two


def _aimed_alike(one: pd.DataFrame, other: pd.DataFrame) -> NDArray[np.bool_]:
    bearing, arc = (
        [pair[column].to_numpy(dtype=float) for pair in (one, other)]
        for column in ("bearing_deg", "arc_deg")
    )
    turn = (bearing[0] - bearing[1] + 180.0) % 360.0 - 180.0
    full = (arc[0] >= 360.0) & (arc[1] >= 360.0)
    return np.asarray(full | (np.abs(turn) <= SAME_AIM_DEG), dtype=bool)


def find(linked: Linked) -> Iterator[Finding]:
    """Each such pair once, at its second head."""
    heads = linked.heads[linked.heads["x"].notna()]
    points = points_of(heads)
    one, other = shapely.STRtree(points).query(points, "dwithin", distance=SAME_SPOT_M)
    one, other = one[one < other], other[one < other]
    alike = _aimed_alike(heads.iloc[one], heads.iloc[other])
    one, other = one[alike], other[alike]
    distances = shapely.distance(points[one], points[other])
    for first, second, distance in zip(one, other, distances, strict=True):
        identity = heads.index[int(second)]
        yield Finding(
            SEVERITY,
            CODE,
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} stands {distance:.2f} m from head "
            f"{linked.name('heads', heads.index[int(first)])} and throws the same way.",
            "If it is one head surveyed twice, remove one row.",
        )
