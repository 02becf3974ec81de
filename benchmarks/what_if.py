"""How long a what-if takes on one hole of the demo, over laying the whole course's water."""

from __future__ import annotations

import tempfile
from pathlib import Path

from benchmarks._timing import middle_s
from nightwater.demo.build import build_demo
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


def main() -> None:
    """Print both times and their ratio."""
    with tempfile.TemporaryDirectory() as folder:
        path = build_demo(Path(folder), lambda _step: None)
        with open_course(path) as course:
            laid = wetting(course)
            water = tonight_water(course, latest_night(course), laid)
            whole = middle_s(lambda: wetting_matrix(laid.grid, laid.patterns), 3)
            head = str(laid.matrix.heads[len(laid.matrix.heads) // 2])
            for change in CHANGES:
                one = middle_s(lambda change=change: try_change(course, water, head, change), 5)
                print(f"{one:.3f} s, {one / whole:.2f} of laying all ({whole:.2f} s): {change}")


if __name__ == "__main__":
    main()
