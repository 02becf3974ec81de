"""Pairs of a picture's pixels and places on the map, out of a text table."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError

from nightwater.findings import UserError
from nightwater.survey.source_files import TEXT_ENDINGS, read_source, written_number

MOST_POINTS: Final = 100
_LOOKS: Final[tuple[tuple[tuple[str, str], bool], ...]] = (
    (("x_m", "y_m"), True),  # whether the columns say that they are in the record's own metres
    (("x", "y"), False),
    (("easting", "northing"), False),
)
_DEGREES: Final = (("longitude", "latitude"), ("lon", "lat"))
_WANTED: Final = (
    "column,row,longitude,latitude, or column,row,x_m,y_m in the record's metres, or "
    "column,row,x,y with --crs"
)


def read_control_points(path: Path, record_crs: str, crs: str | None = None) -> NDArray[np.float64]:
    """Column, row, x and y of each control point of a file.

    Args:
        path: a text table with `column,row` (pixels from the upper left corner) and a place:
            `longitude,latitude` (WGS 84 degrees), `x_m,y_m` (the record's own metres), or
            `x,y` or `easting,northing` in the system `crs`.
        record_crs: the record's system.
        crs: system of `x,y`, "EPSG:n".

    Returns:
        Shape (n, 4): column and row [px], x and y [m] in the record's system.

    Raises:
        UserError: no such columns, a cell that is no number, no system, or too many rows.
    """
    if path.suffix.lower() not in TEXT_ENDINGS:
        raise UserError(f"{path.name}: control points come in a text table, {_WANTED}.")
    source = read_source(path)
    if len(source.cells) > MOST_POINTS:
        raise UserError(f"{path.name} has {len(source.cells)} rows; {MOST_POINTS} are the most.")
    names = {str(name).strip().lower(): str(name) for name in source.cells.columns}
    across, system = _place_columns(names, record_crs, crs, path.name)
    wanted = ["column", "row", *across]
    cells = source.cells[[names[name] for name in wanted]]
    found = _numbers(cells, source.places, path.name, decimal_comma=source.decimal_comma)
    if system != CRS.from_user_input(record_crs):
        change = Transformer.from_crs(system, record_crs, always_xy=True)
        found[:, 2], found[:, 3] = change.transform(found[:, 2], found[:, 3])
    if not np.isfinite(found).all():
        raise UserError(f"{path.name}: a place lies outside what {system.name} covers.")
    return found


def _place_columns(
    names: Mapping[str, str], record_crs: str, crs: str | None, file: str
) -> tuple[tuple[str, str], CRS]:
    if not {"column", "row"} <= set(names):
        raise UserError(f"{file} lacks the columns 'column' and 'row'. Wanted: {_WANTED}.")
    for pair in _DEGREES:
        if set(pair) <= set(names):
            return pair, CRS.from_epsg(4326)
    for pair, own in _LOOKS:
        if set(pair) <= set(names):
            return pair, CRS.from_user_input(record_crs) if own else _named(crs, file, record_crs)
    raise UserError(f"{file} says no place. Wanted: {_WANTED}.")


def _named(crs: str | None, file: str, record_crs: str) -> CRS:
    if crs is None:
        raise UserError(
            f"{file} does not say in which system its x and y are. Say it with --crs "
            f"(the record is in {record_crs})."
        )
    try:
        return CRS.from_user_input(crs)
    except CRSError:
        raise UserError(f"There is no coordinate system '{crs}'. Write it like EPSG:32612.") from (
            None
        )


def _numbers(
    cells: pd.DataFrame, places: tuple[str, ...], file: str, *, decimal_comma: bool
) -> NDArray[np.float64]:
    rows = []
    for place, row in zip(places, cells.itertuples(index=False), strict=True):
        try:
            rows.append([written_number(str(cell), decimal_comma=decimal_comma) for cell in row])
        except ValueError as wrong:
            raise UserError(f"{file}, {place}: '{wrong}' is not a number.") from None
    return np.array(rows, dtype=float).reshape(-1, 4)
