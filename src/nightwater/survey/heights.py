"""Ground levels out of a raster of heights."""

from __future__ import annotations

import logging
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import rasterio
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError
from rasterio.errors import RasterioError
from rasterio.windows import Window

from nightwater.findings import Finding, UserError, warning
from nightwater.units import UNITS, to_si

RASTER_ENDINGS: Final = (".tif", ".tiff", ".asc", ".img", ".vrt", ".bil", ".dem")
HEIGHT_UNITS: Final = ("m", "ft", "us-ft", "cm", "mm", "km")
MOST_CELLS: Final = 80_000_000
_COARSE_M: Final = 30.0
_LOWEST_M, _HIGHEST_M = -450.0, 6000.0  # as the record's columns allow

logging.getLogger("rasterio").setLevel(logging.CRITICAL)

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Heights:
    """Levels read from a raster.

    Attributes:
        level_m: of each place [m]; NaN outside it and where it has no value.
        findings: doubts about the raster.
    """

    level_m: Numbers
    findings: tuple[Finding, ...]


def _unit(unit: str | None, name: str) -> str:
    if unit is None:
        raise UserError(
            f"{name} may hold metres, feet or centimetres. Say which with --unit: "
            f"{', '.join(HEIGHT_UNITS)}."
        )
    if unit not in HEIGHT_UNITS:
        raise UserError(
            f"'{unit}' is no unit of heights here. Say one of {', '.join(HEIGHT_UNITS)}."
            if unit in UNITS
            else f"There is no unit '{unit}'. Say one of {', '.join(HEIGHT_UNITS)}."
        )
    return unit


def _system(source: Any, given: str | None, name: str) -> CRS:
    if source.crs is None and given is None:
        raise UserError(
            f"{name} does not say its coordinate system. Say it with --crs, for instance "
            "--crs EPSG:26915."
        )
    try:
        wanted = CRS.from_user_input(given if source.crs is None else source.crs)
        said = wanted if given is None else CRS.from_user_input(given)
    except CRSError:
        raise UserError(f"'{given}' is not a known coordinate system.") from None
    if not wanted.equals(said, ignore_axis_order=True):
        raise UserError(f"{name} declares {wanted.name}, not {given}. Leave --crs away.")
    return wanted


def _window(rows: Numbers, columns: Numbers, shape: tuple[int, int]) -> Window | None:
    """The part of the raster around places; None where none lies in it."""
    inside = (rows >= -0.5) & (rows <= shape[0] - 0.5)
    inside &= (columns >= -0.5) & (columns <= shape[1] - 0.5)
    if not inside.any():
        return None
    top, left = (max(int(np.floor(axis[inside].min())), 0) for axis in (rows, columns))
    bottom, right = (
        min(int(np.ceil(axis[inside].max())) + 1, most)
        for axis, most in ((rows, shape[0]), (columns, shape[1]))
    )
    return Window(left, top, max(right - left, 1), max(bottom - top, 1))


def _between(cells: Numbers, rows: Numbers, columns: Numbers) -> Numbers:
    """Straight between the four cells around each place; the nearest where one has no value."""
    height, width = cells.shape
    inside = (rows >= -0.5) & (rows <= height - 0.5) & (columns >= -0.5) & (columns <= width - 0.5)
    r, c = np.clip(rows, 0, height - 1), np.clip(columns, 0, width - 1)
    top, left = np.floor(r).astype(int), np.floor(c).astype(int)
    bottom, right = np.minimum(top + 1, height - 1), np.minimum(left + 1, width - 1)
    down, across = r - top, c - left
    above = cells[top, left] * (1 - across) + cells[top, right] * across
    below = cells[bottom, left] * (1 - across) + cells[bottom, right] * across
    mean = above * (1 - down) + below * down
    nearest = cells[np.rint(r).astype(int), np.rint(c).astype(int)]
    return np.where(inside, np.where(np.isnan(mean), nearest, mean), np.nan)


def _read(source: Any, window: Window, name: str) -> Numbers:
    if window.width * window.height > MOST_CELLS:
        raise UserError(
            f"{name} has {window.width * window.height / 1e6:.0f} million cells around the course; "
            "cut the course out of it first."
        )
    cells = source.read(1, window=window, masked=True).astype(float)
    filled = np.where(np.ma.getmaskarray(cells), np.nan, cells.data)
    return np.asarray(filled * source.scales[0] + source.offsets[0], dtype=float)


def _values(source: Any, xy: Numbers, name: str) -> Numbers:
    """The raster's own numbers at places of its own system."""
    columns, rows = (np.asarray(axis) - 0.5 for axis in ~source.transform * (xy[:, 0], xy[:, 1]))
    window = _window(rows, columns, source.shape)
    if window is None:
        return np.full(len(xy), np.nan)
    cells = _read(source, window, name)
    return _between(cells, rows - window.row_off, columns - window.col_off)


def _doubts(source: Any, system: CRS, unit: str, level: Numbers, name: str) -> list[Finding]:
    found, subject = [], f"file:{name}"
    said = (source.units[0] or "").strip().lower()
    if said and said not in (
        unit,
        {"m": "metre", "ft": "foot", "us-ft": "us survey foot"}.get(unit),
    ):
        found.append(
            warning(
                "height-unit-differs",
                subject,
                f"{name} says that its heights are in '{said}', and {unit} was said of it.",
                "Say the unit that it is in.",
            )
        )
    step = abs(source.transform.a) * (111_000 if system.is_geographic else 1.0)
    if step > _COARSE_M:
        found.append(
            warning(
                "heights-coarse",
                subject,
                f"A cell of {name} is some {step:,.0f} m wide; the hill and the hollow of one hole "
                "are one number there.",
                "Take a finer raster; one of 3 m or less tells heads apart.",
            )
        )
    wild = (level < _LOWEST_M) | (level > _HIGHEST_M)
    if wild.any():
        found.append(
            warning(
                "heights-out-of-range",
                subject,
                f"{int(wild.sum())} levels out of {name} lie outside {_LOWEST_M:.0f} to "
                f"{_HIGHEST_M:.0f} m, the first at {level[wild][0]:,.0f} m; none of them is taken.",
                "Say the unit that it is in.",
            )
        )
    return found


def read_heights(
    path: Path, xy: Numbers, record_crs: str, *, unit: str | None, crs: str | None = None
) -> Heights:
    """Ground level at places, straight between the cells of a raster.

    Args:
        path: the raster; its first band holds heights.
        xy: places in the record's system [m], shape (n, 2).
        record_crs: that system.
        unit: what the raster's heights are in; it is never guessed.
        crs: the raster's system, where it does not say.

    Raises:
        UserError: no unit or no system, an unknown one, or no raster that can be read.
    """
    unit = _unit(unit, path.name)
    if not path.is_file():
        raise UserError(f"There is no file {path}.")
    if path.suffix.lower() not in RASTER_ENDINGS:
        known = ", ".join(RASTER_ENDINGS)
        raise UserError(f"{path.name} is no raster that is read. Known endings: {known}.")
    try:
        with rasterio.open(path) as source:
            system = _system(source, crs, path.name)
            over = Transformer.from_crs(record_crs, system, always_xy=True)
            placed = np.column_stack(over.transform(xy[:, 0], xy[:, 1]))
            level = to_si(_values(source, placed, path.name), unit)
            findings = _doubts(source, system, unit, level, path.name)
    except RasterioError as wrong:
        raise UserError(f"{path.name} cannot be read as a raster: {wrong}.") from None
    kept = (level >= _LOWEST_M) & (level <= _HIGHEST_M)
    return Heights(np.where(kept, level, np.nan), tuple(findings))
