"""What a spot gets on a night: depth, the heads that reach it, minutes and depth of each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from nightwater.desk.coverage import CoverageMap, night_minutes
from nightwater.desk.nights import StoredNight
from nightwater.desk.wetting import Wetting
from nightwater.findings import NotFoundError
from nightwater.ground.record import Ground
from nightwater.units import MINUTES_PER_HOUR


@dataclass(frozen=True)
class SpotHead:
    """One head that reaches the spot.

    Attributes:
        head, station: ids; no station where none is known.
        distance_m: from the head to the middle of the spot's cell.
        rate_mm_h: what it gives there while it runs.
        run_min: minutes that its station runs; NaN without a night or station.
        depth_mm: what it gives there that night; NaN without a night or station.
    """

    head: str
    station: str | None
    distance_m: float
    rate_mm_h: float
    run_min: float
    depth_mm: float


@dataclass(frozen=True)
class Spot:
    """A spot of the course.

    Attributes:
        x_m, y_m: where, in the record's system.
        area: id of its area; None off the turf, where the rest is missing.
        rate_mm_h: of all heads together.
        depth_mm: of the night; NaN without one.
        need_mm: of its cell; NaN where not known.
        heads: those that reach it, the most first.
    """

    x_m: float
    y_m: float
    area: str | None
    rate_mm_h: float
    depth_mm: float
    need_mm: float
    heads: tuple[SpotHead, ...]


def head_place_m(ground: Ground, head: str) -> tuple[float, float]:
    """Where a head stands.

    Raises:
        NotFoundError: no such head, or one without a place.
    """
    if head not in ground.heads.index:
        raise NotFoundError(f"There is no head '{head}' in the record.")
    point = ground.heads.geometry[head]
    if point is None or point.is_empty:
        raise NotFoundError(f"Head '{head}' has no place in the record. Place it on the map first.")
    return float(point.x), float(point.y)


def _heads(
    ground: Ground, wet: Wetting, stored: StoredNight | None, cell: int
) -> tuple[SpotHead, ...]:
    row = wet.matrix.rate_mm_min[[cell], :].tocoo()
    columns, rates = row.coords[1], row.data
    minutes = night_minutes(stored.plan) if stored else None
    x_m, y_m = wet.grid.x_m[cell], wet.grid.y_m[cell]
    found = []
    for column, rate_mm_min in zip(columns, rates, strict=True):
        name = str(wet.matrix.heads[column])
        station = ground.heads.at[name, "station"]
        station = None if pd.isna(station) else str(station)
        run = np.nan if minutes is None or station is None else minutes.get(station, 0.0)
        away = np.hypot(wet.patterns.x_m[column] - x_m, wet.patterns.y_m[column] - y_m)
        rate_mm_h = float(rate_mm_min) * MINUTES_PER_HOUR
        depth_mm = float(rate_mm_min) * run * (1.0 - wet.air.lost_share)
        found.append(SpotHead(name, station, float(away), rate_mm_h, float(run), float(depth_mm)))
    return tuple(sorted(found, key=lambda one: (-np.nan_to_num(one.depth_mm), -one.rate_mm_h)))


def spot_tonight(
    ground: Ground,
    wet: Wetting,
    shown: CoverageMap,
    stored: StoredNight | None,
    place_m: tuple[float, float],
) -> Spot:
    """What falls on a spot, and from where.

    Args:
        ground: the record.
        wet: where its water lands.
        shown: the map, for the need of the cell.
        stored: the night; None for the rates alone.
        place_m: the spot, east and north in metres of the record's system.
    """
    x_m, y_m = place_m
    cell = wet.grid.cell_at(x_m, y_m)
    if cell < 0:
        return Spot(x_m, y_m, None, np.nan, np.nan, np.nan, ())
    heads = _heads(ground, wet, stored, cell)
    # A head without a station never runs, so it adds nothing to the night.
    depth = float(np.nansum([one.depth_mm for one in heads])) if stored else np.nan
    need = np.nan if shown.need_mm is None else float(shown.need_mm[cell])
    rate = float(sum(one.rate_mm_h for one in heads))
    area = wet.grid.areas[wet.grid.area[cell]]
    return Spot(x_m, y_m, area, rate, depth, need, heads)
