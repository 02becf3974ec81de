"""What a pipe may carry, how slowly it is filled, and what a sudden stop does in it."""

from __future__ import annotations

from nightwater.desk.filling import surge_rows
from nightwater.ground.record import Ground
from nightwater.ground.settings import NightRules
from nightwater.pipes.filling import FILL_VELOCITY_M_S, pipe_volume_m3
from nightwater.pipes.losses import flow_at_velocity_l_s
from nightwater.units import UnitSystem
from nightwater.web.figures import quantity


def running_words(ground: Ground, pipe: str, rules: NightRules, units: UnitSystem) -> list[str]:
    """Sentences about one pipe of the record; a figure that is not known is an en dash."""
    row = ground.pipes.loc[[pipe]].iloc[0]
    line = row["geometry"]
    length = 0.0 if line is None else float(line.length)
    bore = float(row["diameter_mm"])
    limit = rules.max_velocity_m_s
    if row["max_velocity_m_s"] == row["max_velocity_m_s"]:
        limit = float(row["max_velocity_m_s"])
    carries = quantity(float(flow_at_velocity_l_s(limit, bore)), "l_s", units)
    fill = quantity(float(flow_at_velocity_l_s(FILL_VELOCITY_M_S, bore)), "l_s", units)
    holds = quantity(float(pipe_volume_m3(length, bore)), "m3", units)
    told = [
        f"{quantity(length, 'm', units)} long, {holds} of water. At its velocity limit of "
        f"{quantity(limit, 'm_s', units)} it carries {carries}.",
        f"Fill it at {fill} or less.",
    ]
    surges = surge_rows(ground, rules)
    if pipe in surges.index:
        surge = float(surges["surge_kpa"][pipe])
        wall = surges["assumed"][pipe]
        assumed = f" ({wall})" if wall else ""
        told.append(
            f"A sudden stop at that limit adds up to {quantity(surge, 'kpa', units)}{assumed}."
        )
    return told
