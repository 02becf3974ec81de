"""Turf as square cells: which cells lie in which area."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray

from nightwater.findings import UserError
from nightwater.ground.overlaps import precedence
from nightwater.ground.record import Ground
from nightwater.ground.shapes import Geometries, sound_shapes
from nightwater.ground.tables import WATERED_KINDS

LEAST_CELL_M: Final = 0.25
GREATEST_CELL_M: Final = 2.0
MOST_CELLS: Final = 60_000_000  # of the rectangle around the turf; a quarter of a gigabyte

Places = NDArray[np.int64]


@dataclass(frozen=True)
class TurfGrid:
    """Square cells over the turf; north is up, row 0 is the northernmost.

    Attributes:
        left_m, top_m: west and north edge of the rectangle, in the record's system.
        cell_m: side of a cell.
        rows, columns: size of the rectangle.
        turf: place in the table of turf cells of each cell of the rectangle, -1 off
            the turf; shape (rows, columns), int32.
        row, column: of each turf cell, in the order of the table.
        area: of each turf cell, its place in `areas`.
        areas: ids of the record's areas, in its order; not all have cells.
    """

    left_m: float
    top_m: float
    cell_m: float
    rows: int
    columns: int
    turf: NDArray[np.int32]
    row: NDArray[np.int32]
    column: NDArray[np.int32]
    area: NDArray[np.int32]
    areas: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.row)

    @property
    def cell_m2(self) -> float:
        """Ground of one cell [m²]."""
        return self.cell_m**2

    @property
    def x_m(self) -> NDArray[np.float64]:
        """Middle of each turf cell, east."""
        return self.left_m + (self.column.astype(float) + 0.5) * self.cell_m

    @property
    def y_m(self) -> NDArray[np.float64]:
        """Middle of each turf cell, north."""
        return self.top_m - (self.row.astype(float) + 0.5) * self.cell_m

    def image(self, values: NDArray[Any]) -> NDArray[np.float64]:
        """Values of turf cells as an image, shape (rows, columns); NaN off the turf."""
        picture = np.full((self.rows, self.columns), np.nan)
        picture[self.row, self.column] = values
        return picture

    def cell_at(self, x_m: float, y_m: float) -> int:
        """Place of the turf cell around a spot, -1 off the turf."""
        column = int(np.floor((x_m - self.left_m) / self.cell_m))
        row = int(np.floor((self.top_m - y_m) / self.cell_m))
        if not (0 <= row < self.rows and 0 <= column < self.columns):
            return -1
        return int(self.turf[row, column])


def cell_kinds(grid: TurfGrid, ground: Ground) -> NDArray[Any]:
    """Kind of area of each turf cell, as an array of words.

    Args:
        grid: the turf of the record, or of a record with the same areas.
        ground: the record.
    """
    kinds = ground.areas["kind"].reindex(list(grid.areas)).to_numpy(dtype=object)
    return np.asarray(kinds[grid.area], dtype=object)


def _edges(shape: shapely.Geometry) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Start and end of every edge of every ring, shapes (n, 2)."""
    parts = shapely.get_parts(shapely.get_parts(shape))  # a repaired shape may nest its parts
    rings = shapely.get_rings(parts)
    places, ring = shapely.get_coordinates(rings, return_index=True)
    same = ring[1:] == ring[:-1]
    return places[:-1][same], places[1:][same]


def cells_within(
    shape: shapely.Geometry, left_m: float, top_m: float, cell_m: float
) -> tuple[Places, Places]:
    """Rows and columns of the cells whose middle lies in a polygon, by scan lines.

    Each row of cell middles crosses the polygon's edges an even number of times; the cells
    between an odd crossing and the next are inside (even-odd rule, holes included).

    Args:
        shape: polygon or multipolygon.
        left_m, top_m: corner of the grid.
        cell_m: side of a cell.

    Returns:
        The two, row by row from west to east; cells west or north of the corner have negative
        places.
    """
    start, end = _edges(shape)
    rows = (top_m - np.column_stack((start[:, 1], end[:, 1]))) / cell_m - 0.5
    first, last = np.ceil(rows.min(axis=1)), np.ceil(rows.max(axis=1))  # half-open: no double
    counts = (last - first).astype(np.int64)
    edge = np.repeat(np.arange(len(counts)), counts)
    if not edge.size:
        return np.empty(0, np.int64), np.empty(0, np.int64)
    row = first[edge] + np.arange(edge.size) - np.repeat(np.cumsum(counts) - counts, counts)
    share = (row - rows[edge, 0]) / (rows[edge, 1] - rows[edge, 0])
    x = start[edge, 0] + share * (end[edge, 0] - start[edge, 0])
    column = np.ceil((x - left_m) / cell_m - 0.5)
    order = np.lexsort((column, row))
    row, column = row[order].astype(np.int64), column[order].astype(np.int64)
    return _filled(row[::2], column[::2], column[1::2])


def _filled(row: Places, first: Places, stop: Places) -> tuple[Places, Places]:
    """Every cell of runs that go from `first` to before `stop` on their row."""
    lengths = stop - first
    within = np.arange(int(lengths.sum())) - np.repeat(np.cumsum(lengths) - lengths, lengths)
    return np.repeat(row, lengths), np.repeat(first, lengths) + within


def _check_cell(cell_m: float) -> None:
    if not LEAST_CELL_M <= cell_m <= GREATEST_CELL_M:
        raise UserError(
            f"A cell of {cell_m:g} m is not offered; choose between {LEAST_CELL_M:g} and "
            f"{GREATEST_CELL_M:g} m."
        )


@dataclass(frozen=True)
class _Frame:
    """The rectangle of cells around the turf."""

    left_m: float
    top_m: float
    cell_m: float
    rows: int
    columns: int

    def inside(self, shape: shapely.Geometry) -> tuple[Places, Places]:
        """Rows and columns of a polygon's cells that lie in the rectangle."""
        row, column = cells_within(shape, self.left_m, self.top_m, self.cell_m)
        kept = (row >= 0) & (row < self.rows) & (column >= 0) & (column < self.columns)
        return row[kept], column[kept]


def _frame(shapes: Geometries, cell_m: float) -> _Frame:
    if not (shapely.area(shapes) > 0).any():
        return _Frame(0.0, 0.0, cell_m, 0, 0)
    west, south, east, north = shapely.total_bounds(shapes)
    left, top = np.floor(west / cell_m) * cell_m, np.ceil(north / cell_m) * cell_m
    rows, columns = int(np.ceil((top - south) / cell_m)), int(np.ceil((east - left) / cell_m))
    if rows * columns > MOST_CELLS:
        raise UserError(
            f"The turf spans {rows} by {columns} cells of {cell_m:g} m, more than can be held. "
            "Choose larger cells, or look for an area that lies far off."
        )
    return _Frame(float(left), float(top), cell_m, rows, columns)


def turf_grid(
    ground: Ground, cell_m: float = 1.0, chosen: Collection[str] | None = None
) -> TurfGrid:
    """Cells of the watered areas, none counted twice.

    A cell belongs to the area that holds its middle; where several do, to the most special one
    (see `ground.overlaps`), and a bunker or pond leaves no turf. The rectangle's corner lies
    on a whole multiple of the cell, so that grids of one cell size fit one another.

    Args:
        ground: the record.
        cell_m: side of a cell, 0.25 to 2 m.
        chosen: ids of the areas to cover; None for all watered ones.

    Raises:
        UserError: a cell size that is not offered, or too many cells.
    """
    _check_cell(cell_m)
    shapes = sound_shapes(ground.areas, "areas")
    names = ground.areas.index.astype(str)
    turf = ground.areas["kind"].isin(WATERED_KINDS).to_numpy()
    if chosen is not None:
        turf = turf & names.isin(list(chosen))
    frame = _frame(shapes[turf], cell_m)
    owner = np.full((frame.rows, frame.columns), -1, dtype=np.int32)
    for place in np.argsort(-precedence(ground.areas["kind"], shapes), kind="stable"):
        row, column = frame.inside(shapes[place])
        owner[row, column] = place if turf[place] else -1
    return _grid(owner, frame, tuple(names))


def _grid(owner: NDArray[np.int32], frame: _Frame, names: tuple[str, ...]) -> TurfGrid:
    row, column = np.nonzero(owner >= 0)
    turf = np.full(owner.shape, -1, dtype=np.int32)
    turf[row, column] = np.arange(len(row), dtype=np.int32)
    return TurfGrid(
        left_m=frame.left_m,
        top_m=frame.top_m,
        cell_m=frame.cell_m,
        rows=frame.rows,
        columns=frame.columns,
        turf=turf,
        row=row.astype(np.int32),
        column=column.astype(np.int32),
        area=owner[row, column],
        areas=names,
    )
