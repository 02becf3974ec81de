"""A small busy night: 24 stations, four at a time, on two paths."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import cache
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from shapely.geometry import MultiPolygon, Point, box

from nightwater.ground.record import Ground, ground_from
from nightwater.ground.settings import Settings, Site
from nightwater.night.plan import Bound, Night, Run, StationSum, Window
from nightwater.night.rehearsal import Faults, Rehearsal, rehearse
from nightwater.proof.verdict import Proof, prove

CRS = "EPSG:32613"
ZONE = ZoneInfo("America/Denver")
NIGHT = date(2025, 7, 10)
KINDS = ("green", "tee", "fairway", "rough")
FLOW_L_S = 2.0
RATE_MM_H = 18.0
MULTIPLIER = 1.2
WETTED_M2 = FLOW_L_S * 3600 / RATE_MM_H


def frame(rows: dict[str, dict[str, Any]]) -> pd.DataFrame:
    return pd.DataFrame.from_dict(rows, orient="index")


def station_sum(station: str, area: str, kind: str, run_min: int) -> StationSum:
    return StationSum(
        station=station,
        area=area,
        kind=kind,
        need_mm=run_min * RATE_MM_H / 60 / MULTIPLIER,
        rate_mm_h=RATE_MM_H,
        flow_l_s=FLOW_L_S,
        heads=10,
        du_lq=0.72,
        multiplier=MULTIPLIER,
        multiplier_name="du_lq",
        trim_factor=1.0,
        extra_min=0.0,
        trim_reason="",
        exact_min=float(run_min),
        floor_min=6,
        run_min=run_min,
        max_cycle_min=15,
        soak_min=20,
        cycles_min=(run_min,) if run_min else (),
        wetted_m2=WETTED_M2,
    )


def night_of(runs: list[Run], stations: int, minutes: int = 480) -> Night:
    """A night of runs; station i waters area A(i mod 8) of kind i mod 4."""
    start = datetime(2025, 7, 10, 21, tzinfo=ZONE)
    end = datetime.fromtimestamp(start.timestamp() + 60 * minutes, tz=ZONE)
    flow, asked = np.zeros(minutes), dict.fromkeys((f"S{i}" for i in range(stations)), 0)
    for run in runs:
        flow[run.start_min : run.start_min + run.run_min] += FLOW_L_S
        asked[run.station] += run.run_min
    finish = max((run.start_min + run.run_min for run in runs), default=0)
    sums = [
        station_sum(name, f"A{i % 8}", KINDS[i % 4], asked[name]) for i, name in enumerate(asked)
    ]
    return Night(
        night=NIGHT,
        window=Window(start, end),
        runs=tuple(runs),
        left_out=(),
        flow_l_s=tuple(flow),
        bound=Bound(finish, "pump"),
        finish_min=finish,
        sums=tuple(sums),
        findings=(),
        pump_l_s=17.0,
    )


@cache
def ground_of(stations: int) -> Ground:
    """The record of so many stations, built once for all cases; nobody changes it."""
    heads = {
        f"H{i}-{k}": {"station": f"S{i}", "nozzle": "N", "area": f"A{i % 8}"}
        | {"geometry": Point(20 * i, k)}
        for i in range(stations)
        for k in range(10)
    }
    areas = {
        f"A{i}": {"kind": KINDS[i % 4], "geometry": MultiPolygon([box(20 * i, 0, 20 * i + 9, 9)])}
        for i in range(8)
    }
    nozzle = {"pressure_kpa": 480.0, "flow_l_s": FLOW_L_S / 10, "radius_m": 20.0}
    pump = {"capacity_l_s": 20.0, "set_pressure_kpa": 800.0, "head_m": 90.0}
    return ground_from(
        CRS,
        {
            "areas": frame(areas),
            "heads": frame(heads),
            "nozzles": frame({"N": nozzle}),
            "stations": frame({f"S{i}": {"controller": "AB"[i % 2]} for i in range(stations)}),
            "controllers": frame({"A": {}, "B": {}}),
            "pumps": frame({"P": pump | {"geometry": Point(0, 0)}}),
            "meters": frame({"M1": {"geometry": Point(0, 0)}}),
        },
    )


@dataclass(frozen=True)
class Case:
    """A night, its record and settings, rehearsed and proved at will."""

    night: Night
    ground: Ground
    settings: Settings

    def rehearsed(self, seed: int = 1, **faults: Any) -> Rehearsal:
        return rehearse(self.night, self.ground, Faults(**faults), seed=seed)

    def proved(self, seed: int = 1, **faults: Any) -> Proof:
        run = self.rehearsed(seed, **faults)
        return self.judged(run.commands, run.samples)

    def judged(self, commands: pd.DataFrame, samples: pd.DataFrame) -> Proof:
        return prove(self.night, commands, samples, self.ground, self.settings)

    def with_runs(self, runs: list[Run]) -> Case:
        return replace(self, night=night_of(runs, len(self.ground.stations)))


def busy_runs(stations: int = 24) -> list[Run]:
    """Four stations at a time, 24 minutes each, with pauses of one minute."""
    return [Run(f"S{i}", 25 * (i // 4), 24, 1, 1) for i in range(stations)]


def case_of(runs: list[Run], stations: int = 24) -> Case:
    site = Site("Vellenby", 39.2, -105.0, 1372.0, "America/Denver", CRS)
    return Case(night_of(runs, stations), ground_of(stations), Settings(site))


@pytest.fixture(scope="session")
def busy() -> Case:
    """24 stations from 21:00 to 23:29, all over before half the window."""
    return case_of(busy_runs())


@pytest.fixture(scope="session")
def make_case() -> Callable[[list[Run]], Case]:
    """A case of any runs of 24 stations."""
    return case_of
