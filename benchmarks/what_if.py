"""How long a what-if takes on one hole, as a share of laying the whole course's water.

Usage: python benchmarks/what_if.py COURSE, a course file with a planned night; it is only read.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

from nightwater.desk.course import open_course
from nightwater.desk.nights import latest_night
from nightwater.desk.tonight_water import tonight_water
from nightwater.desk.trying import HeadChange, try_change
from nightwater.desk.wetting import wetting
from nightwater.spray.matrix import wetting_matrix

CHANGES = (
    HeadChange(radius_m=14.0),
    HeadChange(arc_deg=180.0, bearing_deg=90.0),
    HeadChange(east_m=5.0),
    HeadChange(add=True, east_m=6.0),
)


def seconds(done: Callable[[], object], times: int = 5) -> float:
    """Median time of something."""
    took = []
    for _ in range(times):
        start = time.perf_counter()
        done()
        took.append(time.perf_counter() - start)
    return median(took)


def main(path: Path) -> None:
    """Print both times and their ratio."""
    with open_course(path) as course:
        laid = wetting(course)
        water = tonight_water(course, latest_night(course), laid)
        whole = seconds(lambda: wetting_matrix(laid.grid, laid.patterns), 3)
        head = str(laid.matrix.heads[len(laid.matrix.heads) // 2])
        for change in CHANGES:
            one = seconds(lambda change=change: try_change(course, water, head, change))
            print(f"{one:.3f} s, {one / whole:.2f} of laying all heads ({whole:.2f} s): {change}")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
