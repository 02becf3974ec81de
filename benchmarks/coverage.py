"""The map of the turf: what a reader waits for, as ratios to building the wetting matrix.

The matrix is built when the record has changed; map, picture, figures and a spot must be small
beside it, as they are asked for again and again.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

from benchmarks._timing import middle_s
from nightwater.demo.build import DEMO_NIGHT, build_demo
from nightwater.desk.course import open_course
from nightwater.desk.coverage import MapKind, coverage_map
from nightwater.desk.coverage_figures import GroupBy, cell_groups, coverage_figures
from nightwater.desk.coverage_files import map_png
from nightwater.desk.nights import required_night
from nightwater.desk.spot_tonight import spot_tonight
from nightwater.desk.wetting import wetting
from nightwater.spray.evenness import evenness
from nightwater.spray.grid import turf_grid
from nightwater.spray.head_patterns import head_patterns
from nightwater.spray.matrix import wetting_matrix
from nightwater.spray.uniformity import christiansen_cu, du_lh, du_lq
from nightwater.units import UnitSystem

RUNS: Final = 5


def _one_by_one(depth: Any, group: Any, groups: int) -> None:
    for number in range(groups):
        mine = depth[group == number]
        for measure in (du_lq, du_lh, christiansen_cu):
            measure(mine)


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as folder:
        course = open_course(build_demo(Path(folder), lambda _step: None))
        with course:
            _print(course)


def _print(course: Any) -> None:
    wet, stored = wetting(course), required_night(course, DEMO_NIGHT)
    shown = coverage_map(wet, MapKind.DEPTH, stored)
    areas = cell_groups(course.ground, wet, GroupBy.AREA)
    stations = cell_groups(course.ground, wet, GroupBy.STATION)
    cell = len(wet.grid) // 2
    place = (float(wet.grid.x_m[cell]), float(wet.grid.y_m[cell]))
    patterns, _ = head_patterns(course.ground)
    base_s = middle_s(lambda: wetting_matrix(turf_grid(course.ground), patterns), RUNS)
    count = len(stations.ids)
    rows: list[tuple[str, Callable[[], Any]]] = [
        ("depth of the night", lambda: coverage_map(wet, MapKind.DEPTH, stored)),
        ("its picture", lambda: map_png(shown, UnitSystem.US)),
        ("figures of every area", lambda: coverage_figures(shown, areas, GroupBy.AREA)),
        ("figures of every station", lambda: coverage_figures(shown, stations, GroupBy.STATION)),
        ("evenness of every station", lambda: evenness(shown.even, stations.of_cell, count)),
        ("the same one by one", lambda: _one_by_one(shown.even, stations.of_cell, count)),
        ("one spot", lambda: spot_tonight(course.ground, wet, shown, stored, place)),
    ]  # fmt: skip
    print(f"{len(wet.grid):,} cells, {len(patterns):,} heads; matrix and grid {base_s:.2f} s = 1")
    for name, run in rows:
        print(f"{name:28} {middle_s(run, RUNS) / base_s:8.3f}")


if __name__ == "__main__":
    main()
