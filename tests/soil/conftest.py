"""Areas and days of an invented club, each value open to change."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import pandas as pd
import pytest

from nightwater.ground.record import conform
from nightwater.ground.tables import AREAS

FIRST_DAY = date(2025, 7, 1)


@pytest.fixture
def first_day() -> date:
    return FIRST_DAY


@pytest.fixture
def areas_of() -> Callable[..., pd.DataFrame]:
    """Areas as the record holds them; by default a sound fairway with a store of 40 mm."""

    def build(*given: dict[str, Any]) -> pd.DataFrame:
        sound = {
            "kind": "fairway",
            "grass": "cool_season",
            "soil": "loam",
            "area_factor": 1.0,
            "root_depth_mm": 250.0,
            "available_water_mm_m": 160.0,
            "allowed_depletion_pct": 50.0,
            "target_depletion_pct": 0.0,
            "curve_number": 61.0,
            "slope_pct": 0.0,
        }
        rows = [sound | row for row in given or ({},)]
        index = pd.Index([f"A{number}" for number in range(1, len(rows) + 1)])
        table = pd.DataFrame(rows, index=index).assign(geometry=None)
        return pd.DataFrame(conform(table, AREAS, "EPSG:32612"))

    return build


@pytest.fixture
def days_of() -> Callable[..., pd.DataFrame]:
    """Reference ET and rain of days from 1 July 2025, each a number or a list."""

    def build(rows: int = 5, **columns: Any) -> pd.DataFrame:
        index = pd.Index([FIRST_DAY + timedelta(days=day) for day in range(rows)], name="date")
        plain = {"eto_mm": 6.0, "etr_mm": 7.5, "rain_mm": 0.0}
        table = pd.DataFrame(plain | columns, index=index)
        return table.assign(flags=[[] for _ in range(rows)])

    return build


@pytest.fixture
def water_of() -> Callable[..., pd.DataFrame]:
    """Rows of past water: (day after 1 July, area, depth, evidence)."""

    def build(*rows: tuple[int, str, float, str]) -> pd.DataFrame:
        made = [
            (FIRST_DAY + timedelta(days=day), area, depth, evidence)
            for day, area, depth, evidence in rows
        ]
        return pd.DataFrame(made, columns=["night", "area", "depth_mm", "evidence"])

    return build
