"""A small course of stations in a row along a main, each on a lateral of its own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import pandas as pd
import pytest
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Point, box

from nightwater.ground.record import Ground, empty, ground_from
from nightwater.ground.running_tables import HOLDS
from nightwater.ground.settings import NightRules, Settings, Site
from nightwater.night.plan import Night, StationSum
from nightwater.units import UnitSystem

CRS = "EPSG:32613"
NIGHT = date(2025, 7, 10)
STEP_M = 40.0
FLOW_L_S = 1.7
SPACING_M = 20.0


def frame(rows: Mapping[str, Mapping[str, Any]]) -> pd.DataFrame:
    return pd.DataFrame.from_dict({name: dict(row) for name, row in rows.items()}, orient="index")


@dataclass(frozen=True)
class Row:
    """A course to plan on: station i has heads H{i}-k on area A{i} of hole H1 or H2."""

    ground: Ground
    sums: tuple[StationSum, ...]
    settings: Settings
    holds: pd.DataFrame

    def cells(self, table: str, **changes: Any) -> Row:
        """With columns of a table exchanged."""
        rows = self.ground.table(table).assign(**changes)
        return replace(self, ground=self.ground.with_table(table, rows))

    def rules(self, **changes: Any) -> Row:
        """With other night rules."""
        rules = replace(self.settings.night, **changes)
        return replace(self, settings=replace(self.settings, night=rules))

    def held(self, subject: str, start: str, end: str, **more: Any) -> Row:
        """With one more hold; instants as ISO text."""
        row = {"subject": subject, "cause": "event", "reason": "wedding", "author": "Ines"}
        row |= {"start": start, "end": end, **more}
        rows = pd.concat([self.holds, frame({f"D{len(self.holds)}": row})])
        return replace(self, holds=rows)

    def summed(self, station: str, **changes: Any) -> Row:
        """With other minutes of one station."""
        sums = tuple(replace(s, **changes) if s.station == station else s for s in self.sums)
        return replace(self, sums=sums)

    def night(self) -> Night:
        """The planned night."""
        from nightwater.night.build import plan_night

        return plan_night(self.ground, self.sums, self.settings, NIGHT, self.holds)


def _sum(station: str, area: str, kind: str, heads: int, cycles: tuple[int, ...]) -> StationSum:
    run_min, rate = sum(cycles), FLOW_L_S / SPACING_M**2 * 3600
    return StationSum(
        station=station,
        area=area,
        kind=kind,
        need_mm=run_min / 60 * rate,
        rate_mm_h=rate,
        flow_l_s=FLOW_L_S * heads,
        heads=heads,
        du_lq=0.733,
        multiplier=1.0,
        multiplier_name="none",
        trim_factor=1.0,
        extra_min=0.0,
        trim_reason="",
        exact_min=float(run_min),
        floor_min=1,
        run_min=run_min,
        max_cycle_min=max(cycles, default=0),
        soak_min=20 if len(cycles) > 1 else 0,
        cycles_min=cycles,
        wetted_m2=SPACING_M**2 * heads,
        why_none="" if cycles else "nothing needed",
    )


def _tables(stations: Sequence[tuple[str, int]]) -> dict[str, pd.DataFrame]:
    rows: dict[str, dict[str, dict[str, Any]]] = {
        name: {} for name in ("areas", "heads", "stations", "pipes")
    }
    for i, (kind, heads) in enumerate(stations):
        x, hole = STEP_M * (i + 1), f"H{1 + i % 2}"
        ring = MultiPolygon([box(x - 15, 5, x + 15, 205)])
        rows["areas"][f"A{i}"] = {"kind": kind, "hole": hole, "geometry": ring}
        rows["stations"][f"S{i}"] = {"label": f"{1 + i % 2:02d}-{i}", "controller": "AB"[i % 2]}
        line = LineString([(x, 0), (x, 200)])
        rows["pipes"][f"L{i}"] = {"diameter_mm": 80.0, "geometry": MultiLineString([line])}
        for k in range(heads):
            rows["heads"][f"H{i}-{k}"] = {
                "station": f"S{i}",
                "nozzle": "N",
                "area": f"A{i}",
                "spacing_m": SPACING_M,
                "row_m": SPACING_M,
                "geometry": Point(x, 10 + 20 * k),
            }
    main = LineString([(0, 0), (STEP_M * (len(stations) + 1), 0)])
    rows["pipes"]["M"] = {"diameter_mm": 200.0, "geometry": MultiLineString([main])}
    return {name: frame(some) for name, some in rows.items()}


@pytest.fixture(scope="session")
def row_of() -> Any:
    """A course of stations given as (kind, heads, cycles)."""

    def make(*stations: tuple[str, int, tuple[int, ...]], pump_l_s: float = 20.0) -> Row:
        holes = {
            f"H{n}": {"number": n, "geometry": MultiLineString([[(0, n), (9, n)]])} for n in (1, 2)
        }
        nozzle = {"pressure_kpa": 480.0, "flow_l_s": FLOW_L_S, "radius_m": SPACING_M}
        tables = _tables([(kind, heads) for kind, heads, _ in stations])
        tables |= {
            "nozzles": frame({"N": nozzle}),
            "controllers": frame({"A": {"max_heads_on": 8}, "B": {"max_heads_on": 8}}),
            "pumps": frame({"P": {"capacity_l_s": pump_l_s, "geometry": Point(0, 0)}}),
            "holes": frame(holes),
        }
        sums = tuple(
            _sum(f"S{i}", f"A{i}", kind, heads, cycles)
            for i, (kind, heads, cycles) in enumerate(stations)
        )
        site = Site("Vellenby", 39.2, -105.0, 1372.0, "America/Denver", CRS)
        site = replace(site, units=UnitSystem.METRIC)
        rules = NightRules(start="21:00", end="05:00", pump_use=1.0)
        return Row(ground_from(CRS, tables), sums, Settings(site, night=rules), empty(HOLDS, CRS))

    return make
