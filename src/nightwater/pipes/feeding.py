"""The feeds of the record: pumps side by side as one, and sources that press by themselves."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np
import shapely

from nightwater.findings import Finding, UserError, error, note, warning
from nightwater.ground.record import Ground
from nightwater.pipes.energy import USUAL_MOTOR_EFFICIENCY
from nightwater.pipes.hydraulic_network import Feed, Pump, head_of_pressure_m
from nightwater.pipes.pump_curves import PumpCurve, pump_curve

SIDE_BY_SIDE_M: Final = 30.0  # pumps this near that hold the same pressure are one station

Row = Mapping[str, Any]


@dataclass
class _Found:
    """Feeds and doubts as they are gathered."""

    feeds: list[Feed] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)


def _number(row: Row, name: str) -> float:
    value = row.get(name)
    return np.nan if value is None else float(value)


def _curve(name: str, row: Row, found: _Found) -> PumpCurve | None:
    try:
        curve = pump_curve(name, row)
    except UserError as wrong:
        found.findings.append(
            error("pump-curve-wrong", f"pumps:{name}", str(wrong), "Correct the pump's curve.")
        )
        return None
    stated = row.get("curve")
    if curve is not None and not (isinstance(stated, str) and stated.strip()):
        found.findings.append(
            note(
                "pump-curve-assumed",
                f"pumps:{name}",
                f"Pump {name} has no curve. One is drawn through {curve.points[0, 0]:.1f} L/s at "
                f"{curve.points[0, 1]:.1f} m, with 133 % of that head at no flow.",
                "Enter its curve from the maker's sheet or a test.",
            )
        )
    return curve


def _pump(name: str, row: Row, found: _Found) -> Pump:
    motor, stated = _number(row, "motor_efficiency"), row.get("variable_speed")
    known = isinstance(stated, bool | np.bool_)
    return Pump(
        name,
        _curve(name, row, found),
        USUAL_MOTOR_EFFICIENCY if np.isnan(motor) else motor,
        bool(stated) if known else not np.isnan(_number(row, "set_pressure_kpa")),
    )


def _suction_m(ground: Ground, row: Row, level_m: float) -> tuple[float, bool]:
    """Level of the water that a pump draws from, and whether it is known."""
    sources = ground.sources
    named = row.get("source")
    if isinstance(named, str) and named in sources.index:
        level = _number(sources.loc[named].to_dict(), "level_m")
        return (level, True) if not np.isnan(level) else (level_m, False)
    known = sources[sources["level_m"].notna()]
    if known.empty:
        return level_m, False
    away = shapely.distance(np.asarray(known.geometry, dtype=object), row["geometry"])
    nearest = 0 if np.isnan(away).all() else int(np.nanargmin(away))
    return float(known["level_m"].iloc[nearest]), True


def _pump_feed(ground: Ground, row: Row, node: int, level_m: float, f: _Found) -> None:
    name = str(row["id"])
    own = _number(row, "elevation_m")
    level = level_m if np.isnan(own) else own
    suction, known = _suction_m(ground, row, level)
    pump = _pump(name, row, f)
    pressure = _number(row, "set_pressure_kpa")
    if pump.curve is None and np.isnan(pressure):
        f.findings.append(
            error(
                "pump-without-head",
                f"pumps:{name}",
                f"Pump {name} has neither a curve, nor a head at capacity, nor a set pressure, "
                "so the network is solved without it.",
                "Enter its curve, or the pressure it holds.",
            )
        )
        return
    if not known:
        f.findings.append(
            note(
                "suction-level-assumed",
                f"pumps:{name}",
                f"The level of the water that pump {name} draws from is not known; it is taken "
                f"to be the pump's own, {level:.1f} m.",
                "Enter the source's level.",
            )
        )
    head = level + head_of_pressure_m(pressure)
    f.feeds.append(Feed(f"pumps:{name}", node, (pump,), suction, head, pressure))


def _source_feed(name: str, row: Row, node: int, level_m: float, found: _Found) -> None:
    pressure, level = _number(row, "pressure_kpa"), _number(row, "level_m")
    head = level_m + head_of_pressure_m(pressure) if not np.isnan(pressure) else level
    if np.isnan(head):
        found.findings.append(
            error(
                "source-without-level",
                f"sources:{name}",
                f"Source {name} has neither a level nor a pressure, so the network is solved "
                "without it.",
                "Enter the level of its water, or the pressure it gives.",
            )
        )
        return
    found.feeds.append(Feed(f"sources:{name}", node, (), head, np.nan, np.nan))


def _together(feeds: list[Feed], places: Mapping[str, Any]) -> list[Feed]:
    """Pumps side by side that hold the same pressure as one feed, at the node of the first."""
    joined: list[Feed] = []
    for feed in feeds:
        for row, other in enumerate(joined):
            near = shapely.distance(places[feed.subject], places[other.subject]) <= SIDE_BY_SIDE_M
            if feed.pumps and other.pumps and near and feed.set_kpa == other.set_kpa:
                joined[row] = replace(other, pumps=other.pumps + feed.pumps)
                break
        else:
            joined.append(feed)
    return joined


def _without_curves(feeds: list[Feed]) -> list[Finding]:
    return [
        warning(
            "feed-never-fails",
            feed.subject,
            f"No curve and no head at capacity is known of {feed.subject.replace(':', ' ')}, so "
            f"its {feed.set_kpa:.0f} kPa are taken to hold at every flow.",
            "Enter the curve of its pumps.",
        )
        for feed in feeds
        if feed.pumps and not feed.can_curve
    ]


def feeds_of(
    ground: Ground, table: str, nodes: Mapping[str, int], level_m: Mapping[str, float]
) -> tuple[tuple[Feed, ...], list[Finding]]:
    """Where water enters the network.

    Args:
        ground: the record.
        table: "pumps", or "sources" for a record without pumps.
        nodes: node of each pump or source that stands on a pipe.
        level_m: ground level there.

    Returns:
        The feeds, and doubts about them.
    """
    found, frame = _Found(), ground.table(table)
    places = {f"{table}:{name}": place for name, place in frame["geometry"].items()}
    for name, node in nodes.items():
        row = {"id": name, **{str(key): value for key, value in frame.loc[name].items()}}
        if table == "pumps":
            _pump_feed(ground, row, node, level_m[name], found)
        else:
            _source_feed(name, row, node, level_m[name], found)
    feeds = _together(found.feeds, places)
    return tuple(feeds), [*found.findings, *_without_curves(feeds)]
