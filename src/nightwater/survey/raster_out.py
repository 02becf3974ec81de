"""Rasters in open formats: GeoTIFF with numbers, PNG with the colours of classes."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import rasterio
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from rasterio.transform import from_origin

from nightwater.findings import UserError

_MARGIN_PX: Final = 16
_SWATCH_PX: Final = 22
_FONT_PX: Final = 16
_PAPER: Final = (255, 253, 248)
_INK: Final = (19, 36, 46)
LEAST_WIDTH_PX: Final = 480
_LONGEST_PX: Final = 1200  # a small area is drawn larger, each cell as a square of pixels


@dataclass(frozen=True)
class Band:
    """What a raster's numbers are."""

    description: str
    unit: str


@dataclass(frozen=True)
class RasterPlace:
    """Where a raster lies: its north-west corner, side of a cell, coordinate system."""

    left_m: float
    top_m: float
    cell_m: float
    crs: str


def check_cells(image: NDArray[Any], what: str) -> None:
    """Refuse a raster without cells.

    Raises:
        UserError: nothing to write.
    """
    if not image.size:
        raise UserError(f"There is no turf to draw, so {what} was not written.")


def write_geotiff(
    path: Path,
    image: NDArray[np.float64],
    place: RasterPlace,
    band: Band,
    tags: Mapping[str, str],
) -> None:
    """One band of 32-bit numbers; NaN, which is declared as no data, where there is no value.

    Args:
        path: file to write, replaced where it is there.
        image: values in the band's unit, row 0 the northernmost.
        place: where it lies.
        band: what the values are; the unit stands in the band's description, unit and tags.
        tags: words about the whole file.

    Raises:
        UserError: no cells, or a folder that cannot be written to.
    """
    check_cells(image, path.name)
    corner = from_origin(place.left_m, place.top_m, place.cell_m, place.cell_m)
    profile: dict[str, Any] = {
        "driver": "GTiff",
        "height": image.shape[0],
        "width": image.shape[1],
        "count": 1,
        "dtype": "float32",
        "nodata": np.nan,
        "crs": place.crs,
        "transform": corner,
        "compress": "deflate",
        "predictor": 3,
        "tiled": True,
    }
    try:
        with rasterio.open(path, "w", **profile) as file:
            file.write(image.astype(np.float32), 1)
            file.set_band_description(1, f"{band.description} [{band.unit}]")
            file.set_band_unit(1, band.unit)
            file.update_tags(1, unit=band.unit)
            file.update_tags(**tags)
    except (OSError, rasterio.errors.RasterioIOError) as problem:
        raise UserError(f"{path} cannot be written: {problem}. Choose another place.") from None


def _palette_image(classes: NDArray[np.uint8], colours: Sequence[str]) -> Image.Image:
    """Class 0 is see-through, class n has the nth colour."""
    made = Image.fromarray(classes, mode="P")
    parts = [int(colour[place : place + 2], 16) for colour in colours for place in (1, 3, 5)]
    made.putpalette([*_PAPER, *parts])
    return made


def class_png(classes: NDArray[np.uint8], colours: Sequence[str]) -> bytes:
    """A picture of classes as PNG; one pixel a cell, clear where the class is 0.

    Args:
        classes: shape (rows, columns), 0 or the place of a colour counted from 1.
        colours: `#rrggbb`.

    Raises:
        UserError: no cells.
    """
    check_cells(classes, "the picture")
    file = io.BytesIO()
    _palette_image(classes, colours).save(file, "PNG", transparency=0, compress_level=6)
    return file.getvalue()


def legend_png(classes: NDArray[np.uint8], legend: Sequence[tuple[str, str]], title: str) -> bytes:
    """The picture with its title and the words of its colours beneath, as PNG on paper.

    Args:
        classes: as for `class_png`.
        legend: colour and words of each class, from 1.
        title: what the map shows.

    Raises:
        UserError: no cells.
    """
    check_cells(classes, "the picture")
    times = max(1, _LONGEST_PX // max(classes.shape))
    larger = np.kron(classes, np.ones((times, times), dtype=np.uint8))
    picture = _palette_image(larger, [colour for colour, _ in legend]).convert("RGB")
    line = _SWATCH_PX + 6
    top = _MARGIN_PX * 2 + _FONT_PX
    height = top + picture.height + _MARGIN_PX + line * len(legend) + _MARGIN_PX
    width = max(picture.width, LEAST_WIDTH_PX) + 2 * _MARGIN_PX
    sheet = Image.new("RGB", (width, height), _PAPER)
    sheet.paste(picture, (_MARGIN_PX, top))
    draw, font = ImageDraw.Draw(sheet), ImageFont.load_default(_FONT_PX)
    draw.text((_MARGIN_PX, _MARGIN_PX), title, fill=_INK, font=font)
    for place, (colour, words) in enumerate(legend):
        y = top + picture.height + _MARGIN_PX + place * line
        corner = (_MARGIN_PX, y, _MARGIN_PX + 2 * _SWATCH_PX, y + _SWATCH_PX)
        draw.rectangle(corner, fill=colour, outline=_INK)
        draw.text((corner[2] + 10, y + 2), words, fill=_INK, font=font)
    file = io.BytesIO()
    sheet.save(file, "PNG", compress_level=6)
    return file.getvalue()
