"""A small hole with everything right, to spoil one thing at a time."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import geopandas as gpd
import pandas as pd
import pytest
from shapely.geometry import LineString, Point, box

from nightwater.findings import Finding
from nightwater.ground.checks import check_ground
from nightwater.ground.record import Ground, ground_from

CRS = "EPSG:32612"
_BESIDE_M = 120  # eight holes without heads, side by side
Rows = dict[str, dict[str, Any]]


def frame(rows: Rows) -> pd.DataFrame:
    table = pd.DataFrame.from_dict(rows, orient="index")
    return gpd.GeoDataFrame(table, geometry="geometry") if "geometry" in table else table


def areas() -> Rows:
    """Rough around a fairway around a green, and two tees."""
    return {
        "rough": {"kind": "rough", "geometry": box(-60, -40, 260, 40)},
        "fairway": {"kind": "fairway", "geometry": box(40, -15, 250, 15)},
        "green": {"kind": "green", "geometry": box(220, -10, 240, 10)},
        "tee": {"kind": "tee", "geometry": box(-10, -5, 20, 5)},
        "bunker": {"kind": "bunker", "geometry": box(150, 10, 160, 20)},
    }


def head(x: float, y: float, station: str | None, **more: Any) -> dict[str, Any]:
    sound = {
        "label": f"tag {x:g} {y:g}",
        "station": station,
        "nozzle": "N",
        "arc_deg": 360.0,
        "spacing_m": 20.0,
        "row_m": 17.3,
        "geometry": Point(x, y),
    }
    return sound | more


def heads() -> Rows:
    """A pair on the fairway, two on the rough, two on the tee, two aimed at the green."""
    return {
        "F1": head(60, 0, "S1"),
        "F2": head(80, 0, "S1"),
        "R1": head(60, 30, "S2"),
        "R2": head(80, 30, "S3"),
        "T1": head(-5, 0, "S4", spacing_m=15.0, row_m=13.0, nozzle="small"),
        "T2": head(10, 0, "S4", spacing_m=15.0, row_m=13.0, nozzle="small"),
        "G1": head(215, 0, "S5", arc_deg=180.0, bearing_deg=90.0),
        "G2": head(235, 0, "S6", arc_deg=180.0, bearing_deg=270.0),
    }


def stations() -> Rows:
    def row(output: int, heads: int, flow: float) -> dict[str, Any]:
        return {
            "label": f"st {output}",
            "controller": "A",
            "output": output,
            "heads_listed": heads,
            "flow_listed_l_s": flow,
        }

    return {
        "S1": row(1, 2, 3.4),
        "S2": row(2, 1, 1.7),
        "S3": row(3, 1, 1.7),
        "S4": row(4, 2, 1.8),
        "S5": row(5, 1, 1.7),
        "S6": row(6, 1, 1.7),
    }


def nozzles() -> Rows:
    return {
        "N": {"pressure_kpa": 480.0, "flow_l_s": 1.7, "radius_m": 20.0},
        "small": {"pressure_kpa": 450.0, "flow_l_s": 0.9, "radius_m": 15.0},
    }


def tables() -> dict[str, Rows]:
    return {
        "areas": areas(),
        "heads": heads(),
        "stations": stations(),
        "nozzles": nozzles(),
        "controllers": {"A": {"label": "Path A", "max_heads_on": 20}},
        "holes": {"H1": {"number": 1, "geometry": LineString([(0, 0), (230, 0)])}},
    }


def build(given: dict[str, Rows]) -> Ground:
    """The record; areas that say nothing of soil and grass get the same."""
    usual = {"soil": "sandy_loam", "grass": "cool_season"}
    named = {name: usual | row for name, row in given.get("areas", {}).items()}
    whole = given | ({"areas": named} if named else {})
    return ground_from(CRS, {name: frame(rows) for name, rows in whole.items() if rows})


_BARE = {f"areas:{kind} {number}" for kind in ("green", "tee") for number in range(2, 10)}


@pytest.fixture
def small() -> dict[str, Rows]:
    """The tables of a small sound hole, to be changed before `make` builds them."""
    given = tables()
    given["holes"] |= {
        f"H{number}": {
            "number": number,
            "geometry": LineString([(0, _BESIDE_M * number), (200, _BESIDE_M * number)]),
        }
        for number in range(2, 10)
    }
    for number in range(2, 10):
        y = _BESIDE_M * number
        given["areas"][f"green {number}"] = {
            "kind": "green",
            "geometry": box(190, y - 9, 210, y + 9),
        }
        given["areas"][f"tee {number}"] = {"kind": "tee", "geometry": box(-10, y - 5, 20, y + 5)}
    return given


@pytest.fixture
def make() -> Callable[[dict[str, Rows]], Ground]:
    return build


@pytest.fixture
def hole() -> dict[str, Rows]:
    """The tables of one hole with heads, alone."""
    return tables()


@pytest.fixture
def codes() -> Callable[[Ground], dict[str, list[Finding]]]:
    """Findings of a ground by their code; those of the builder's own emptiness left out."""

    def found(ground: Ground) -> dict[str, list[Finding]]:
        by_code: dict[str, list[Finding]] = {}
        for finding in check_ground(ground):
            if finding.code == "hole-number-left-out" or finding.subject in _BARE:
                continue
            by_code.setdefault(finding.code, []).append(finding)
        return by_code

    return found
