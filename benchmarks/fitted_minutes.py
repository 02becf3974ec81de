"""Minutes fitted to the map of the invented club: time, gap, and water beside two rules of thumb.

Water is what each way of making minutes needs to bring the same share of the cells in reach their
need, all minutes of a way scaled alike. As the share counts all cells alike, the fit does so too:
it is made at several worths of a lacking litre, each the same for all kinds of area, and the one
that needs least at a share is shown. Then throws and flows are drawn at random about those
of the record (standard deviations 10 % and 5 %), and the same minutes are laid on that ground.
"""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path
from time import perf_counter
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import sparse

from benchmarks._timing import middle_s
from benchmarks.rechecking import surveyed
from nightwater.desk.course import Course
from nightwater.desk.wetting import Wetting, wetting
from nightwater.ground.settings import SHORTAGE_WORTH, MinuteRules
from nightwater.night.fitted_minutes import Fit, FitRequest, fit_minutes
from nightwater.night.plain_rules import (
    minutes_by_footprint,
    minutes_by_kind,
    scale_to_adequacy,
)
from nightwater.night.station_table import head_table, station_table
from nightwater.spray.grid import cell_kinds
from nightwater.spray.matrix import wetting_matrix

NEED_MM: Final = 6.5  # of a July day on every area
WORTHS: Final = (4.0, 6.0, 9.0, 13.0, 20.0, 30.0, 45.0, 70.0)
SHARES: Final = (0.70, 0.80, 0.90, 0.95)
GROUNDS: Final = 3  # random grounds
THROW_SHARE: Final = 0.10
FLOW_SHARE: Final = 0.05

Numbers = NDArray[np.float64]


def asked(course: Course, laid: Wetting) -> FitRequest:
    """The whole course on a day of even need, every station free to run ten hours."""
    need = pd.Series(NEED_MM, index=course.ground.areas.index)
    heads = head_table(course.ground, need, course.settings.minutes)
    table = station_table(course.ground, heads, 600).loc[list(laid.stations)]
    turns = 2.0 * table["turn_s"] / 60.0
    stations = table.assign(floor_min=np.ceil(turns - 1e-9), longest_min=600.0)
    kinds = cell_kinds(laid.grid, course.ground)
    return FitRequest(laid.grid, laid.by_station, np.full(len(laid.grid), NEED_MM), kinds, stations)


def fits(request: FitRequest, rules: MinuteRules) -> list[Fit]:
    """One fit for each worth."""
    worths = (dict.fromkeys(SHORTAGE_WORTH, worth) for worth in WORTHS)
    return [fit_minutes(request, replace(rules, shortage_worth=worth)) for worth in worths]


def water_m3(request: FitRequest, minutes: Any) -> float:
    """Water of some minutes."""
    flow = request.stations["flow_l_s"].to_numpy(dtype=float)
    return float((flow * np.asarray(minutes, dtype=float)).sum() * 60 / 1000)


def needed_m3(
    request: FitRequest, on: sparse.csr_array, counted: NDArray[Any], minutes: Any, share: float
) -> float:
    """Water at which scaled minutes bring a share of the cells their need."""
    depth = np.asarray(on @ np.asarray(minutes, dtype=float))
    factor = scale_to_adequacy(depth, request.need_mm, counted, share)
    return factor * water_m3(request, minutes)


def other_ground(course: Course, laid: Wetting, seed: int) -> sparse.csr_array:
    """The matrix of heads that throw and flow otherwise than the record says."""
    random = np.random.default_rng(seed)
    patterns = laid.patterns
    drawn = replace(
        patterns,
        radius_m=patterns.radius_m
        * np.clip(random.normal(1, THROW_SHARE, len(patterns)), 0.6, 1.4),
        flow_l_s=patterns.flow_l_s * np.clip(random.normal(1, FLOW_SHARE, len(patterns)), 0.7, 1.3),
    )
    matrix = wetting_matrix(laid.grid, drawn)
    by_station, names = matrix.by_station(course.ground.heads["station"])
    assert names == laid.stations
    return sparse.csr_array(by_station)


def print_curve(
    request: FitRequest, ways: dict[str, list[Any]], on: sparse.csr_array, counted: Any
) -> None:
    """Water of each way at each share, and what the fit saves."""
    for share in SHARES:
        waters = {
            name: min(needed_m3(request, on, counted, minutes, share) for minutes in several)
            for name, several in ways.items()
        }
        ours = waters["map"]
        saved = ", ".join(
            f"{name} {water:,.0f} m³ (saved {1 - ours / water:5.1%})"
            for name, water in waters.items()
            if name != "map"
        )
        print(f"  {share:.0%} of the cells: map {ours:,.0f} m³, {saved}")


def main() -> None:
    """Print time, gap and the two curves."""
    with tempfile.TemporaryDirectory() as folder, surveyed(Path(folder)) as course:
        laid = wetting(course)
        request, rules = asked(course, laid), course.settings.minutes
        began = perf_counter()
        fit = fit_minutes(request, rules)
        one_s = perf_counter() - began
        peer_s = middle_s(lambda: request.by_station.T @ request.by_station)
        print(
            f"{len(request.stations)} stations, {len(laid.grid)} cells, {fit.counted.sum()} in "
            f"reach, worths of the settings: {water_m3(request, fit.stations['run_min']):,.0f} m³"
        )
        print(f"fit / one product AᵀA {one_s / peer_s:.1f} ({one_s:.2f} s), gap {fit.gap:.2%}")
        ways: dict[str, list[Any]] = {
            "map": [one.stations["run_min"] for one in fits(request, rules)],
            "by kind": [minutes_by_kind(request.stations)],
            "by footprint": [minutes_by_footprint(request.by_station, request.need_mm)],
        }
        print("Patterns as the record has them:")
        print_curve(request, ways, request.by_station, fit.counted)
        for seed in range(GROUNDS):
            print(f"Throw off by {THROW_SHARE:.0%}, flow by {FLOW_SHARE:.0%}, draw {seed + 1}:")
            print_curve(request, ways, other_ground(course, laid, seed), fit.counted)


if __name__ == "__main__":
    main()
