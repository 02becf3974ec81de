"""Everything that is not at 100 % on a night, with the litres each costs or saves."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from nightwater.desk.course import Course
from nightwater.desk.ending import ended_words
from nightwater.desk.exceptions import trim_words
from nightwater.desk.fitting import fitted_minutes, needs_of_cells
from nightwater.desk.needing import need
from nightwater.desk.wetting import CELL_M
from nightwater.findings import UserError
from nightwater.ground.changes import GEOMETRY
from nightwater.night.map_trims import MAP_SUBJECT, cells_of_patch, map_factors, map_trims
from nightwater.night.minutes import active_trims, station_sums
from nightwater.night.plan import StationSum
from nightwater.soil.defaults import area_defaults
from nightwater.soil.need import NeedResult
from nightwater.spray.grid import turf_grid
from nightwater.units import SECONDS_PER_MINUTE


@dataclass(frozen=True)
class StandingTrim:
    """One trim and what it does tonight.

    Attributes:
        id, subject, reason, author: as kept.
        change: what it does, in short.
        factor, extra_min: of the minutes, or of the need of a patch.
        first_night, last_night: both count.
        ended: who ended it early, when, why and what its end was; else empty.
        ground_m2: turf of a patch on the map; NaN for other subjects.
        litres: water of the pump that it costs tonight; negative where it saves, NaN where
            that cannot be told.
    """

    id: str
    subject: str
    change: str
    factor: float
    extra_min: float
    first_night: date
    last_night: date
    reason: str
    author: str
    ended: str = ""
    ground_m2: float = math.nan
    litres: float = math.nan


@dataclass(frozen=True)
class Standing:
    """Trims by when they hold.

    Attributes:
        tonight: those of the night, the longest-lasting last.
        later, past: those to come, and those that ended, the latest first.
        why_no_litres: why litres cannot be told; empty where they are.
    """

    tonight: tuple[StandingTrim, ...]
    later: tuple[StandingTrim, ...]
    past: tuple[StandingTrim, ...]
    why_no_litres: str


def _plain(rows: pd.DataFrame, zone: ZoneInfo) -> list[StandingTrim]:
    return [
        StandingTrim(
            id=str(identity),
            subject=row["subject"],
            change=trim_words(row["factor"], row["extra_min"]),
            factor=1.0 if pd.isna(row["factor"]) else float(row["factor"]),
            extra_min=0.0 if pd.isna(row["extra_min"]) else float(row["extra_min"]),
            first_night=date.fromisoformat(row["first_night"]),
            last_night=date.fromisoformat(row["last_night"]),
            reason=row["reason"],
            author=row["author"],
            ended=ended_words(row, zone),
        )
        for identity, row in rows.sort_values("last_night", kind="stable").iterrows()
    ]


def _asked_litres(sums: Sequence[StationSum]) -> float:
    return sum(
        one.run_min * SECONDS_PER_MINUTE * one.flow_l_s
        for one in sums
        if math.isfinite(one.flow_l_s)
    )


@dataclass(frozen=True)
class _Tonight:
    """What litres are worked out from."""

    course: Course
    night: date
    wanted: NeedResult
    trims: pd.DataFrame
    fits: dict[frozenset[str], pd.DataFrame] = field(default_factory=dict)

    def station_litres(self, trims: pd.DataFrame) -> float:
        """Water of the stations' minutes under some trims, made as tonight's are planned."""
        sums = self._sums(trims, None)
        if self.course.settings.minutes.method == "fitted" and any(one.run_min for one in sums):
            fitted = self._fitted(sums)
            sums = sums if fitted.empty else self._sums(trims, fitted)
        return _asked_litres(sums)

    def _sums(self, trims: pd.DataFrame, fitted: pd.DataFrame | None) -> Sequence[StationSum]:
        rules, need_mm = self.course.settings.minutes, self.wanted.table["need_mm"]
        ground, night = self.course.ground, self.night
        return station_sums(ground, need_mm, rules, trims, night, fitted=fitted)[0]

    def _fitted(self, sums: Sequence[StationSum]) -> pd.DataFrame:
        """Minutes fitted to the map; trims change them only by which stations do not run."""
        dry = frozenset(one.station for one in sums if one.run_min == 0)
        if dry not in self.fits:
            found = fitted_minutes(self.course, self.wanted, self.night, sums)
            self.fits[dry] = found.fit.stations
        return self.fits[dry]


def _patch_litres(tonight: _Tonight, drawn: pd.DataFrame) -> dict[str, tuple[float, float]]:
    """Turf of each patch [m²], and the pump's water that its factor costs there."""
    if drawn.empty:
        return {}
    grid, night = turf_grid(tonight.course.ground, CELL_M), tonight.night
    needs, _ = needs_of_cells(tonight.course, grid, tonight.wanted, night)
    efficiency = area_defaults(tonight.course.ground.areas)["efficiency"].astype(float)
    share = efficiency.reindex(list(grid.areas)).to_numpy(dtype=float)[grid.area]
    pumped_mm = needs.untrimmed_mm / share
    found = {}
    for name, row in map_trims(drawn, night).iterrows():
        cells = cells_of_patch(grid, row[GEOMETRY])
        others = map_factors(drawn.drop(index=name), night, grid)[cells]
        change_mm = pumped_mm[cells] * others * (float(row["factor"]) - 1.0)
        ground_m2 = len(cells) * grid.cell_m2
        found[str(name)] = (ground_m2, float(np.nansum(change_mm)) * grid.cell_m2)
    return found


def _litres(tonight: _Tonight) -> dict[str, tuple[float, float]]:
    """Per trim: ground of a patch, and litres."""
    active = active_trims(tonight.trims, tonight.night)
    drawn = active["subject"] == MAP_SUBJECT
    found = _patch_litres(tonight, active[drawn])
    if drawn.all():
        return found
    whole = tonight.station_litres(active)
    for name in active.index[~drawn]:
        found[str(name)] = (math.nan, whole - tonight.station_litres(active.drop(index=name)))
    return found


def standing_trims(course: Course, night: date) -> Standing:
    """Every trim by when it holds; those of the night with the litres each costs.

    A trim of stations, areas, holes, kinds or the course: the pump's water of all stations'
    minutes, fitted or by rate as the settings have it, with it and without it, whatever else
    holds; a trim to nothing moves the fitted minutes of its neighbours too. A patch: over its
    cells, need × (factor − 1) ÷ the area's efficiency, with readings and other patches counted.
    Several trims of one place share their product, so their litres need not add up.

    Args:
        course: the course.
        night: the night.
    """
    trims, zone = course.file.running("trims"), ZoneInfo(course.settings.site.timezone)
    day, active = night.isoformat(), active_trims(trims, night)
    told: dict[str, tuple[float, float]] = {}
    why_not = ""
    if not active.empty:
        try:
            told = _litres(_Tonight(course, night, need(course, night), trims))
        except UserError as problem:
            why_not = str(problem)
    to_come = (trims["first_night"] > day) & (trims["last_night"] >= trims["first_night"])
    unknown = (math.nan, math.nan)
    tonight = [
        replace(one, ground_m2=ground_m2, litres=litres)
        for one in _plain(active, zone)
        for ground_m2, litres in [told.get(one.id, unknown)]
    ]
    return Standing(
        tonight=tuple(tonight),
        later=tuple(_plain(trims[to_come], zone)),
        past=tuple(reversed(_plain(trims[trims["last_night"] < day], zone))),
        why_no_litres=why_not,
    )
