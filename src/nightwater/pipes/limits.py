"""The flow that each pipe may carry."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np
import pandas as pd

from nightwater.ground.settings import NightRules
from nightwater.pipes.losses import flow_at_velocity_l_s


def pipe_limits_l_s(
    pipes: pd.DataFrame, looped: Collection[str], rules: NightRules
) -> dict[str, float]:
    """Flow of each pipe at its velocity limit, with the margin of loops taken off.

    Args:
        pipes: the record's pipes; max_velocity_m_s where one has a limit of its own.
        looped: ids of the pipes on a loop.
        rules: the course's velocity limit and loop margin.

    Returns:
        Pipe id → limit [L/s]. A pipe without a usable diameter has no limit here; the
        record's check tells it.
    """
    velocity = pipes["max_velocity_m_s"].fillna(rules.max_velocity_m_s).to_numpy(dtype=float)
    limit = flow_at_velocity_l_s(velocity, pipes["diameter_mm"].to_numpy(dtype=float))
    on_loop = pipes.index.isin(list(looped))
    limit = np.where(on_loop, limit * rules.loop_margin, limit)
    return {
        str(pipe): float(value)
        for pipe, value in zip(pipes.index, limit, strict=True)
        if np.isfinite(value)
    }
