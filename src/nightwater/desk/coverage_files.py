"""Turf maps as files: GeoTIFF for a GIS, PNG for a wall."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightwater.desk.coverage import TITLES, CoverageMap
from nightwater.desk.coverage_scale import (
    class_picture,
    map_scale,
    reader_symbol,
)
from nightwater.findings import UserError
from nightwater.ground.settings import Site
from nightwater.survey.raster_out import Band, RasterPlace, class_png, legend_png, write_geotiff
from nightwater.units import UnitSystem, from_si

ENDINGS: Final = (".tif", ".tiff", ".png")


def map_title(shown: CoverageMap) -> str:
    """What a map shows, and of which night."""
    title = TITLES[shown.kind]
    if shown.night is None:
        return title
    return f"{title}, {shown.night.isoformat()}, edition {shown.edition}, {shown.state}"


def check_ending(path: Path) -> None:
    """Refuse a file whose form nobody can tell.

    Raises:
        UserError: no such ending.
    """
    if path.suffix.lower() not in ENDINGS:
        raise UserError(
            f"A map is written as {', '.join(ENDINGS)}; '{path.name}' has none of these endings."
        )


def map_png(shown: CoverageMap, units: UnitSystem) -> bytes:
    """The map alone, one pixel a cell, clear beside the turf."""
    scale = map_scale(shown, units)
    return class_png(class_picture(shown, scale), [one.colour for one in scale.classes])


def _cropped(image: NDArray[np.float64]) -> tuple[slice, slice]:
    rows, columns = (np.flatnonzero(np.isfinite(image).any(axis=axis)) for axis in (1, 0))
    if not len(rows):
        return slice(0, 0), slice(0, 0)
    return slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)


def _write_tiff(path: Path, shown: CoverageMap, site: Site, units: UnitSystem) -> None:
    grid, symbol = shown.grid, reader_symbol(shown.suffix, units)
    image = grid.image(from_si(shown.values, symbol))
    rows, columns = _cropped(image)
    place = RasterPlace(
        grid.left_m + columns.start * grid.cell_m,
        grid.top_m - rows.start * grid.cell_m,
        grid.cell_m,
        site.crs,
    )
    tags = {"course": site.name, "shows": map_title(shown), "cell_m": f"{grid.cell_m:g}"}
    write_geotiff(path, image[rows, columns], place, Band(map_title(shown), symbol), tags)


def _write_picture(path: Path, shown: CoverageMap, site: Site, units: UnitSystem) -> None:
    scale = map_scale(shown, units)
    rows, columns = _cropped(shown.grid.image(np.ones(len(shown.grid))))
    legend = [(one.colour, one.words) for one in scale.classes]
    picture = class_picture(shown, scale)[rows, columns]
    content = legend_png(picture, legend, f"{site.name}: {map_title(shown)}")
    try:
        path.write_bytes(content)
    except OSError as problem:
        raise UserError(f"{path} cannot be written: {problem}. Choose another place.") from None


def write_map(path: Path, shown: CoverageMap, site: Site, units: UnitSystem) -> None:
    """Write a map in the form that the file's ending names.

    Args:
        path: ends in .tif, .tiff or .png.
        shown: the map.
        site: the course's name and coordinate system.
        units: of the numbers in a GeoTIFF and of the legend of a PNG.

    Raises:
        UserError: another ending, a map without turf, or a place that cannot be written to.
    """
    check_ending(path)
    write = _write_picture if path.suffix.lower() == ".png" else _write_tiff
    write(path, shown, site, units)
