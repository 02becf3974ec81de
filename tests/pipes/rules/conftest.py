"""A small network to spoil, and each rule asked alone."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import geopandas as gpd
import pandas as pd
import pytest
from shapely.geometry import LineString, Point

from nightwater.findings import Finding
from nightwater.ground.record import Ground, ground_from
from nightwater.ground.settings import NightRules
from nightwater.pipes.checks import PipeRule
from nightwater.pipes.laid import Laid
from nightwater.pipes.network import build_network

Rows = dict[str, dict[str, Any]]


def pipe(kind: str, *points: tuple[float, float], bore: float = 150.0) -> dict[str, Any]:
    return {"kind": kind, "diameter_mm": bore, "geometry": LineString(points)}


def head(x: float, y: float, station: str) -> dict[str, Any]:
    return {"station": station, "nozzle": "N", "arc_deg": 360.0, "geometry": Point(x, y)}


@pytest.fixture
def laid_out() -> dict[str, Rows]:
    """A pump, a main of two pieces, and a lateral with two heads of one station.

    P ══ M1 ══╦══ M2 ══ V     the main ends at a valve
              │ L
              h1
              h2
    """
    return {
        "pumps": {"P": {"capacity_l_s": 20.0, "geometry": Point(0, 0)}},
        "valves": {"V": {"kind": "isolation", "geometry": Point(200, 0)}},
        "pipes": {
            "M1": pipe("main", (0, 0), (100, 0)),
            "M2": pipe("main", (100, 0), (200, 0)),
            "L": pipe("lateral", (100, 0), (100, -40), bore=54.6),
        },
        "heads": {"h1": head(100, -20, "S1"), "h2": head(100, -40, "S1")},
        "stations": {"S1": {"label": "1-1"}},
        "nozzles": {"N": {"pressure_kpa": 480.0, "flow_l_s": 1.7, "radius_m": 20.0}},
    }


def _frame(rows: Rows) -> pd.DataFrame:
    table = pd.DataFrame.from_dict(rows, orient="index")
    return gpd.GeoDataFrame(table, geometry="geometry") if "geometry" in table else table


@pytest.fixture
def built() -> Callable[[dict[str, Rows]], Ground]:
    def build(tables: dict[str, Rows]) -> Ground:
        return ground_from("EPSG:32612", {n: _frame(rows) for n, rows in tables.items() if rows})

    return build


@pytest.fixture
def told(built: Callable[..., Ground]) -> Callable[..., list[Finding]]:
    """What one rule says of some tables, asked alone."""

    def findings(
        rule: PipeRule, tables: dict[str, Rows], rules: NightRules | None = None
    ) -> list[Finding]:
        ground = built(tables)
        return list(rule.find(Laid(ground, build_network(ground)[0], rules or NightRules())))

    return findings


@pytest.fixture
def add() -> Callable[..., dict[str, Any]]:
    return pipe
