"""Building the wetting matrix of the demo course, in still air and in a wind.

Printed as ratios against 1 s for the whole build on cells of 1 m (3 s in a wind) and against
300 MB for the process; 1.0 is just good enough, more is better.
"""

from __future__ import annotations

import resource
import tempfile
from pathlib import Path
from typing import Final

from benchmarks._timing import middle_s
from nightwater.demo.vellenby import SETTINGS, write_survey
from nightwater.ground.record import Ground, ground_from
from nightwater.ground.tables import TABLES
from nightwater.spray.grid import turf_grid
from nightwater.spray.head_patterns import head_patterns
from nightwater.spray.matrix import wetting_matrix
from nightwater.spray.wind import Wind
from nightwater.survey.read import read_table

STILL_S: Final = 1.0
WINDY_S: Final = 3.0
MOST_MB: Final = 300.0
CELL_M: Final = 1.0
RUNS: Final = 5


def _ground(folder: Path) -> Ground:
    """Areas, heads and nozzles of the invented club."""
    crs = SETTINGS.site.crs
    files = [f for f in write_survey(folder).files if f.table in {"areas", "heads", "nozzles"}]
    rows = {f.table: read_table(f.path, TABLES[f.table], crs, f.options).rows for f in files}
    return ground_from(crs, rows)


def main() -> None:
    """Build and print."""
    with tempfile.TemporaryDirectory() as folder:
        ground = _ground(Path(folder) / "survey")
    grid, (patterns, _) = turf_grid(ground, CELL_M), head_patterns(ground)
    print(f"{len(patterns)} heads, {len(grid)} cells of {CELL_M:g} m")
    wind = Wind(4.0, 225.0)
    still = middle_s(lambda: (turf_grid(ground, CELL_M), wetting_matrix(grid, patterns)), RUNS)
    windy = middle_s(lambda: wetting_matrix(grid, patterns, None, wind), RUNS)
    known = wetting_matrix(grid, patterns)
    again = middle_s(lambda: wetting_matrix(grid, patterns, known), RUNS)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"still air    {STILL_S / still:6.1f}  ({still:.3f} s)")
    print(f"in a wind    {WINDY_S / windy:6.1f}  ({windy:.3f} s)")
    print(f"nothing new  {STILL_S / again:6.1f}  ({again:.3f} s)")
    print(f"memory       {MOST_MB / peak:6.1f}  ({peak:.0f} MB, reading the survey included)")


if __name__ == "__main__":
    main()
