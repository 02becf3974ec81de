"""Stations that stand so near to one another that they shall not run at once."""

from __future__ import annotations

import numpy as np
from scipy.spatial import cKDTree

from nightwater.ground.record import Ground


def neighbour_pairs(ground: Ground, apart_m: float) -> tuple[tuple[str, str], ...]:
    """Pairs of stations of which two heads stand nearer than a distance.

    Args:
        ground: the record, heads linked to stations.
        apart_m: distance; 0 gives no pairs.

    Returns:
        Pairs of station ids, each once, in order.
    """
    heads = ground.heads
    if apart_m <= 0 or heads.empty:
        return ()
    placed = heads[heads["station"].notna() & ~heads.geometry.is_empty & heads.geometry.notna()]
    points = np.column_stack([placed.geometry.x, placed.geometry.y])
    stations = placed["station"].astype(str).to_numpy()
    near = cKDTree(points).query_pairs(apart_m * (1 - 1e-9), output_type="ndarray")
    pairs = {(min(a, b), max(a, b)) for a, b in stations[near].tolist() if a != b}
    return tuple(sorted(pairs))
