"""Uniformity of a map by area, hole, station, kind and for the whole course."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.desk.coverage import CoverageMap, MapKind
from nightwater.desk.wetting import Wetting
from nightwater.ground.play import area_holes
from nightwater.ground.record import Ground
from nightwater.ground.tables import WATERED_KINDS
from nightwater.spray.driest_window import DEFAULT_WINDOW_SHARE, driest_window
from nightwater.spray.evenness import evenness, giving_most

Numbers = NDArray[np.float64]


class GroupBy(StrEnum):
    """What cells are put together by."""

    AREA = "area"
    HOLE = "hole"
    STATION = "station"
    KIND = "kind"
    COURSE = "course"


# A window of 5 % of all rough is no dry spot; it is told of places that one can walk to.
WINDOWED: Final = frozenset({GroupBy.AREA, GroupBy.HOLE, GroupBy.STATION})


@dataclass(frozen=True)
class CellGroups:
    """Cells put together.

    Attributes:
        ids, labels, kinds: of each group; a kind is "" where a group has several.
        of_cell: number of each turf cell's group, -1 for none.
    """

    ids: tuple[str, ...]
    labels: tuple[str, ...]
    kinds: tuple[str, ...]
    of_cell: NDArray[np.int64]

    def only(self, wanted: Sequence[str]) -> CellGroups:
        """The groups of these ids alone."""
        kept = [place for place, name in enumerate(self.ids) if name in set(wanted)]
        number = np.full(len(self.ids) + 1, -1, dtype=np.int64)  # the last is for none
        number[kept] = np.arange(len(kept))
        chosen = [
            tuple(names[place] for place in kept) for names in (self.ids, self.labels, self.kinds)
        ]
        return CellGroups(chosen[0], chosen[1], chosen[2], number[self.of_cell])


def _labels(rows: pd.DataFrame) -> dict[str, str]:
    return {
        str(name): str(name) if pd.isna(label) or label == "" else str(label)
        for name, label in rows["label"].items()
    }


def _by_code(codes: Sequence[Any], names: Sequence[Any], cells: NDArray[Any]) -> NDArray[np.int64]:
    """Group of each cell by the code of its area."""
    number = {name: place for place, name in enumerate(names)}
    of_area = np.array([number.get(code, -1) for code in codes], dtype=np.int64)
    return of_area[cells] if len(of_area) else np.empty(0, np.int64)


def _area_groups(ground: Ground, wet: Wetting) -> CellGroups:
    labels, grid = _labels(ground.areas), wet.grid
    kinds = tuple(str(kind) for kind in ground.areas["kind"])
    names = tuple(labels[name] for name in grid.areas)
    return CellGroups(grid.areas, names, kinds, grid.area.astype(np.int64))


def _hole_groups(ground: Ground, wet: Wetting) -> CellGroups:
    of_area = [None if pd.isna(hole) else str(hole) for hole in area_holes(ground)]
    ids = tuple(str(name) for name in ground.holes.index)
    labels = tuple(f"Hole {int(number)}" for number in ground.holes["number"])
    return CellGroups(ids, labels, ("",) * len(ids), _by_code(of_area, ids, wet.grid.area))


def _kind_groups(ground: Ground, wet: Wetting) -> CellGroups:
    kinds = tuple(WATERED_KINDS)
    of_cell = _by_code(list(ground.areas["kind"]), kinds, wet.grid.area)
    return CellGroups(kinds, kinds, kinds, of_cell)


def _station_groups(ground: Ground, wet: Wetting) -> CellGroups:
    labels = _labels(ground.stations)
    names = tuple(labels.get(name, name) for name in wet.stations)
    return CellGroups(wet.stations, names, ("",) * len(names), giving_most(wet.by_station))


def _course_group(_ground: Ground, wet: Wetting) -> CellGroups:
    cells = np.zeros(len(wet.grid), dtype=np.int64)
    return CellGroups(("course",), ("Whole course",), ("",), cells)


_MADE_BY: Final = {
    GroupBy.AREA: _area_groups,
    GroupBy.HOLE: _hole_groups,
    GroupBy.STATION: _station_groups,
    GroupBy.KIND: _kind_groups,
    GroupBy.COURSE: _course_group,
}


def cell_groups(ground: Ground, wet: Wetting, by: GroupBy) -> CellGroups:
    """Turf cells put together; a station's are those to which it gives more than any other."""
    return _MADE_BY[by](ground, wet)


def _short(shown: CoverageMap, groups: CellGroups) -> dict[str, Numbers]:
    """Share of the turf of known need that gets less, and the water that it lacks [m³]."""
    if shown.need_mm is None:
        return {}
    count, lack = len(groups.ids), shown.need_mm - shown.even
    known = (groups.of_cell >= 0) & np.isfinite(lack)
    owner, lack = groups.of_cell[known], lack[known]
    cells = np.bincount(owner, minlength=count)
    with np.errstate(divide="ignore", invalid="ignore"):
        short = np.bincount(owner, weights=lack > 0, minlength=count) / cells
    lacking = np.bincount(owner, weights=np.maximum(lack, 0.0), minlength=count)
    lacking_m3 = lacking * shown.grid.cell_m2 / 1000.0  # 1 mm on 1 m² is 1 L
    need = np.bincount(owner, weights=shown.need_mm[known], minlength=count)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean_need = need / cells
    return {
        "need_mm": mean_need,
        "short_share": short,
        "short_m3": np.where(cells > 0, lacking_m3, np.nan),
    }


def _window(
    shown: CoverageMap, groups: CellGroups, by: GroupBy, share: float
) -> dict[str, Numbers]:
    if by not in WINDOWED:
        missing = np.full(len(groups.ids), np.nan)
        return {"scheduling_coefficient": missing, "window_m": missing}
    found = driest_window(shown.grid, shown.even, groups.of_cell, len(groups.ids), share)
    return {
        "scheduling_coefficient": found.coefficient,
        "window_m": found.side_m,
        "window_x_m": found.x_m,
        "window_y_m": found.y_m,
    }


def coverage_figures(
    shown: CoverageMap,
    groups: CellGroups,
    by: GroupBy,
    window_share: float = DEFAULT_WINDOW_SHARE,
) -> pd.DataFrame:
    """Uniformity of every group that has turf.

    Args:
        shown: the map; a shortage tells the uniformity of its depth.
        groups: from `cell_groups`.
        by: what they are put together by; kinds and the course get no scheduling coefficient.
        window_share: ground of its window over that of the group.

    Returns:
        Index id; columns label, kind, turf_m2, mean_mm_h or mean_mm, du_lq, du_lh, cu,
        scheduling_coefficient, window_m (and its place), and for a night need_mm,
        short_share and short_m3.
    """
    found = evenness(shown.even, groups.of_cell, len(groups.ids))
    unit = "mm_h" if shown.kind is MapKind.RATE else "mm"
    columns: dict[str, Any] = {
        "label": groups.labels,
        "kind": groups.kinds,
        "turf_m2": found.cells * shown.grid.cell_m2,
        f"mean_{unit}": found.mean,
        "du_lq": found.du_lq,
        "du_lh": found.du_lh,
        "cu": found.cu,
    }
    columns |= _window(shown, groups, by, window_share) | _short(shown, groups)
    table = pd.DataFrame(columns, index=pd.Index(groups.ids, name="id", dtype=object))
    return table[found.cells > 0]
