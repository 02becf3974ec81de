"""A square lattice of heads on one fairway: what lands where can be told by hand."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Point, box
from shapely.geometry.base import BaseGeometry

from nightwater.desk.course import Course, open_course
from nightwater.desk.tonight_water import TonightWater
from nightwater.ground.record import Ground, ground_from
from nightwater.spray.grid import turf_grid
from nightwater.spray.head_patterns import head_patterns
from nightwater.spray.matrix import wetting_matrix
from nightwater.spray.remedies import as_found

CRS = "EPSG:32613"
STEP_M = 12.0
SIDE = 7
RUN_MIN = 20.0
NOZZLES = {
    "N": {"label": "14", "pressure_kpa": 400.0, "flow_l_s": 0.9, "radius_m": 15.0},
    "S": {"label": "4", "pressure_kpa": 400.0, "flow_l_s": 0.25, "radius_m": 8.0},
}

Lattice = Callable[..., TonightWater]


@pytest.fixture
def course(small_course: Path) -> Iterator[Course]:
    """The small course, opened; a test may change it."""
    with open_course(small_course) as opened:
        yield opened


def frame(rows: Mapping[str, Mapping[str, Any]]) -> pd.DataFrame:
    return pd.DataFrame.from_dict({name: dict(row) for name, row in rows.items()}, orient="index")


def lattice_ground(
    changes: Mapping[str, Mapping[str, Any]],
    without: Collection[str] = (),
    turf: BaseGeometry | None = None,
    area: Mapping[str, Any] | None = None,
) -> Ground:
    """Heads H00 … H66, one station each, 12 m apart; the fairway lies well within them."""
    heads, stations = {}, {}
    for i in range(SIDE):
        for j in range(SIDE):
            name = f"H{i}{j}"
            if name in without:
                continue
            stations[f"S{i}{j}"] = {"label": f"S{i}{j}"}
            heads[name] = {
                "label": name,
                "station": f"S{i}{j}",
                "nozzle": "N",
                "arc_deg": 360.0,
                "condition": "good",
                "geometry": Point(i * STEP_M, j * STEP_M),
                "bearing_deg": np.nan,
                "pressure_kpa": np.nan,
                "measured_flow_l_s": np.nan,
                "measured_radius_m": np.nan,
                "tilt_deg": np.nan,
                "tilt_towards_deg": np.nan,
                **changes.get(name, {}),
            }
    fairway = turf or box(STEP_M, STEP_M, STEP_M * (SIDE - 2), STEP_M * (SIDE - 2))
    row = {"kind": "fairway", "hole": "1", "geometry": MultiPolygon([fairway]), **(area or {})}
    line = MultiLineString([LineString([(0, 30), (72, 30)])])
    tables = {
        "areas": frame({"F": row}),
        "heads": frame(heads),
        "stations": frame(stations),
        "nozzles": frame(NOZZLES),
        "holes": frame({"1": {"number": 1, "geometry": line}}),
    }
    return ground_from(CRS, tables)


def water_of(ground: Ground, need_mm: float, run_min: float = RUN_MIN) -> TonightWater:
    """Every head running so long, every cell wanting so much."""
    found = as_found(ground)
    grid = turf_grid(found, 1.0)
    patterns = head_patterns(found)[0]
    matrix = wetting_matrix(grid, patterns)
    run = pd.Series(run_min, index=found.heads.index)
    depth = np.asarray(matrix.rate_mm_min.sum(axis=1), dtype=float).ravel() * run_min
    need = np.full(len(grid), need_mm)
    return TonightWater(ground, found, patterns, matrix, None, run, depth, need)


@pytest.fixture(scope="session")
def lattice() -> Lattice:
    """A lattice with heads changed or left out; need is what a sound one gives at its driest."""
    sound = water_of(lattice_ground({}), 1.0)
    least = float(sound.depth_mm.min())

    def make(
        changes: Mapping[str, Mapping[str, Any]] | None = None,
        need_mm: float = least,
        run_min: float = RUN_MIN,
        **more: Any,
    ) -> TonightWater:
        return water_of(lattice_ground(changes or {}, **more), need_mm, run_min)

    return make
