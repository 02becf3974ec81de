"""Filling the network after winter or a repair, and what a sudden stop does in each main."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd

from nightwater.desk.isolating import pipe_words
from nightwater.ground.record import Ground
from nightwater.ground.settings import NightRules
from nightwater.pipes.filling import FillPlan, fill_plan
from nightwater.pipes.laid import TRUNKS
from nightwater.pipes.losses import surge_kpa
from nightwater.pipes.segments import Segments, build_segments
from nightwater.pipes.surge import wall_of, wave_speed_m_s

FILL_CAUTION: Final = (
    "Fill at 1 ft/s (0.3 m/s) or less (common practice, no source), with drains closed and air "
    "points open; trapped air that is let go fast breaks fittings. Stand clear of couplers and "
    "heads that spit. Hold at low pressure and walk the lines before going higher. The tool "
    "advises; a person opens every valve."
)
_ASSUMED: Final = {
    "": "",
    "wall": "usual wall of the material",
    "material": "taken for PVC with a usual wall",
}


def network_fill(ground: Ground, segments: Segments | None = None) -> FillPlan:
    """How to fill the whole network from its pumps.

    Raises:
        UserError: no pipes, or no feed on one.
    """
    return fill_plan(segments or build_segments(ground), ground.pipes, ground.valves["kind"])


def surge_rows(ground: Ground, rules: NightRules) -> pd.DataFrame:
    """The worst of a sudden stop in each pipe that is no lateral, running at its velocity limit.

    Returns:
        Index = pipe id; words, velocity_m_s (its limit), wave_m_s, surge_kpa, set_kpa (the
        highest pressure that a pump holds; NaN where none says) and assumed in words.
    """
    pipes = ground.pipes[ground.pipes["kind"].isin(TRUNKS)]
    walls = [wall_of(material) for material in pipes["material"]]
    wave = wave_speed_m_s([w.bore_over_wall for w in walls], [w.modulus_gpa for w in walls])
    velocity = pipes["max_velocity_m_s"].fillna(rules.max_velocity_m_s).to_numpy(dtype=float)
    pumps = ground.pumps["set_pressure_kpa"].to_numpy(dtype=float)
    return pd.DataFrame(
        {
            "words": [pipe_words(ground, str(name)) for name in pipes.index],
            "velocity_m_s": velocity,
            "wave_m_s": wave,
            "surge_kpa": surge_kpa(velocity, wave),
            "set_kpa": np.nanmax(pumps) if np.isfinite(pumps).any() else np.nan,
            "assumed": [_ASSUMED[wall.assumed] for wall in walls],
        },
        index=pd.Index([str(name) for name in pipes.index], name="pipe"),
    )


def fill_document(plan: FillPlan, ground: Ground) -> dict[str, Any]:
    """The plan as plain values, air points in the order in which water arrives."""
    labels = ground.valves["label"]
    return {
        "volume_m3": plan.volume_m3,
        "entry": plan.entry,
        "entry_words": pipe_words(ground, plan.entry),
        "flow_l_s": plan.flow_l_s,
        "volume_min": plan.volume_min,
        "way_min": plan.way_min,
        "least_min": plan.least_min,
        "without_bore": list(plan.without_bore),
        "air": [
            {
                "order": order,
                "valve": point.valve,
                "label": labels.get(point.valve) or point.valve,
                "kind": point.kind,
                "way_m": point.way_m,
                "earliest_min": point.earliest_min,
            }
            for order, point in enumerate(plan.air, 1)
        ],
        "caution": FILL_CAUTION,
    }
