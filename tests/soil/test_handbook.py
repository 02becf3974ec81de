"""The sum by hand of docs/how/soil.md."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd
import pytest

from nightwater.ground.settings import NeedRules
from nightwater.soil.need import area_needs

Build = Callable[..., pd.DataFrame]


def test_the_sum_of_the_handbook_page(areas_of: Build, days_of: Build, water_of: Build) -> None:
    areas = areas_of({"root_depth_mm": 200.0, "available_water_mm_m": None, "area_factor": 1.1})
    daily = days_of(2, eto_mm=6.2, rain_mm=3.0)
    night = daily.index[1]
    rules = NeedRules(opening_depletion_mm=9.0, account_start=night.isoformat())
    result = area_needs(areas, daily, water_of((0, "A1", 8.0, "proved")), night, rules)
    row = result.table.loc["A1"]
    assert row["taw_mm"] == pytest.approx(31.0)
    assert row["etc_mm"] == pytest.approx(6.48, abs=0.005)
    assert (row["ks"], row["runoff_mm"], row["irrigation_evidence"]) == (1.0, 0.0, "proved")
    assert row["carried_mm"] == pytest.approx(1.0)
    assert row["need_mm"] == pytest.approx(4.48, abs=0.005)
