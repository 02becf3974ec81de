"""Patterns and grids made by hand, without a record."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from nightwater.demo.vellenby import SETTINGS, write_survey
from nightwater.ground.record import Ground, ground_from
from nightwater.ground.tables import TABLES
from nightwater.spray.grid import TurfGrid
from nightwater.spray.head_patterns import HeadPatterns
from nightwater.spray.profile import Profile, named_profile
from nightwater.survey.read import read_table

PROFILES = ("triangle", "ellipse", "doughnut", "trapezoid", "uniform")


def level_grid(rows: int, columns: int, cell_m: float, left_m: float, top_m: float) -> TurfGrid:
    """A rectangle that is turf all over, one area."""
    count = rows * columns
    places = np.arange(count, dtype=np.int32)
    return TurfGrid(
        left_m=left_m,
        top_m=top_m,
        cell_m=cell_m,
        rows=rows,
        columns=columns,
        turf=places.reshape(rows, columns),
        row=places // columns,
        column=places % columns,
        area=np.zeros(count, dtype=np.int32),
        areas=("A",),
    )


def hand_patterns(
    x_m: Any, y_m: Any, profile: Profile | str = "triangle", **values: Any
) -> HeadPatterns:
    """Heads of 1 L/s and 10 m all round, unless told otherwise."""
    x, y = np.broadcast_arrays(np.asarray(x_m, dtype=float), np.asarray(y_m, dtype=float))
    x, y = x.ravel().copy(), y.ravel().copy()
    usual = {
        "flow_l_s": 1.0,
        "radius_m": 10.0,
        "arc_deg": 360.0,
        "bearing_deg": 0.0,
        "pressure_kpa": 400.0,
        "trajectory_deg": 25.0,
        "height_m": 0.1,
        "tilt_deg": 0.0,
        "tilt_towards_deg": 0.0,
    }
    arrays = {
        name: np.broadcast_to(np.asarray(value, dtype=float), x.shape).copy()
        for name, value in {**usual, **values}.items()
    }
    shape = named_profile(profile) if isinstance(profile, str) else profile
    return HeadPatterns(
        ids=np.array([f"H{number}" for number in range(len(x))], dtype=object),
        x_m=x,
        y_m=y,
        profile=np.zeros(len(x), dtype=np.int64),
        profiles=(shape,),
        **arrays,
    )


@pytest.fixture(scope="session")
def grid_of() -> Callable[..., TurfGrid]:
    """`level_grid`: rows, columns, cell, west and north edge."""
    return level_grid


@pytest.fixture(scope="session")
def patterns_of() -> Callable[..., HeadPatterns]:
    """`hand_patterns`."""
    return hand_patterns


@pytest.fixture(scope="session")
def vellenby(tmp_path_factory: pytest.TempPathFactory) -> Ground:
    """Areas, heads and nozzles of the invented club, as its survey tells them."""
    survey = write_survey(tmp_path_factory.mktemp("survey") / "made")
    crs = SETTINGS.site.crs
    wanted = [file for file in survey.files if file.table in {"areas", "heads", "nozzles"}]
    rows = {
        file.table: read_table(file.path, TABLES[file.table], crs, file.options).rows
        for file in wanted
    }
    return ground_from(crs, rows)


def _square(side: int = 3, spacing_m: float = 18.0, **changed: Any) -> HeadPatterns:
    places = np.array(
        [(i * spacing_m, j * spacing_m) for i in range(side) for j in range(side)], dtype=float
    )
    count = len(places)

    def all_of(value: Any) -> Any:
        return np.broadcast_to(np.asarray(value, dtype=float), (count,)).copy()

    usual = {
        "flow_l_s": 1.7, "radius_m": 18.5, "arc_deg": 360.0, "bearing_deg": 0.0,
        "pressure_kpa": 400.0, "trajectory_deg": 25.0, "height_m": 0.1, "tilt_deg": 0.0,
        "tilt_towards_deg": 0.0,
    }  # fmt: skip
    return HeadPatterns(
        ids=np.array([f"H{n}" for n in range(count)], dtype=object),
        x_m=places[:, 0],
        y_m=places[:, 1],
        profile=np.zeros(count, dtype=np.int64),
        profiles=(named_profile(str(changed.pop("shape", "triangle"))),),
        **{name: all_of(changed.get(name, value)) for name, value in usual.items()},
    )


@pytest.fixture
def square() -> Callable[..., HeadPatterns]:
    return _square
