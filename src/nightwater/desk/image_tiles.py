"""Squares of the map drawn from a placed picture, and squares of the picture itself."""

from __future__ import annotations

import hashlib
import io
import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from nightwater.desk.course import Course
from nightwater.desk.imaging import CourseImage
from nightwater.findings import NotFoundError
from nightwater.ground.placement import corners_px
from nightwater.ground.transforms import Transform
from nightwater.survey.pyramid import TILE_PX, encoded, levels

_MOST_SOURCE_PX: Final = 2048  # a slanted picture can ask for much of itself at once
_DEEPEST: Final = 24
_MARGIN_PX: Final = 2  # what interpolation looks at beyond the tile
_OPAQUE: Final = 255


@dataclass(frozen=True)
class TileGrid:
    """How a placed picture is cut on the map.

    Attributes:
        extent_m: left, bottom, right, top of the picture [m].
        origin_m: upper left corner of the first tile [m].
        resolutions_m: metres per pixel of each zoom, from coarse to fine.
        version: changes with the picture and with its place.
    """

    extent_m: tuple[float, float, float, float]
    origin_m: tuple[float, float]
    resolutions_m: tuple[float, ...]
    version: str


@dataclass(frozen=True)
class DrawnTile:
    """The bytes of a tile and their media type."""

    content: bytes
    media_type: str


def placed(image: CourseImage) -> Transform:
    """The transform of a picture that has a place.

    Raises:
        NotFoundError: it has none yet.
    """
    if image.transform is None:
        raise NotFoundError(f"images:{image.id} has no place yet. Place it by control points.")
    return image.transform


def tile_grid(image: CourseImage) -> TileGrid:
    """The tile grid of a placed picture.

    Raises:
        NotFoundError: it has no place yet.
    """
    transform = placed(image)
    corners = transform.to_map_m(corners_px(image.size_px))
    (left, bottom), (right, top) = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
    width, height = image.size_px
    finest = transform.metres_per_pixel((width / 2, height / 2))
    span = max(right - left, top - bottom) / finest
    depth = min(max(math.ceil(math.log2(span / TILE_PX)), 0), _DEEPEST)
    resolutions = tuple(finest * 2**k for k in range(depth, -1, -1))
    name = f"{image.picture}{transform.matrix}".encode()
    version = hashlib.sha256(name).hexdigest()[:16]
    return TileGrid((left, bottom, right, top), (left, top), resolutions, version)


def map_tile(course: Course, image: CourseImage, zoom: int, column: int, row: int) -> DrawnTile:
    """A square of the map as the picture shows it; see-through where the picture ends.

    Raises:
        NotFoundError: the picture has no place, or no such tile.
    """
    grid = tile_grid(image)
    if not 0 <= zoom < len(grid.resolutions_m):
        raise NotFoundError(f"The picture has no tiles of zoom {zoom}.")
    step = grid.resolutions_m[zoom]
    left = grid.origin_m[0] + column * TILE_PX * step
    top = grid.origin_m[1] - row * TILE_PX * step
    outside = left >= grid.extent_m[2] or top <= grid.extent_m[1] or column < 0 or row < 0
    if outside:
        raise NotFoundError("The picture does not reach there.")
    to_map = np.array([[step, 0.0, left], [0.0, -step, top], [0.0, 0.0, 1.0]])
    return _encoded_tile(_drawn(course, image, to_map, step))


def _encoded_tile(picture: Image.Image) -> DrawnTile:
    low, _high = picture.getchannel("A").getextrema()
    if low == _OPAQUE:
        return DrawnTile(encoded(picture.convert("RGB"), "image/jpeg"), "image/jpeg")
    return DrawnTile(encoded(picture, "image/png"), "image/png")


def _drawn(
    course: Course, image: CourseImage, to_map: NDArray[np.float64], step: float
) -> Image.Image:
    """A tile whose pixels (column, row, 1) lie at `to_map` on the map."""
    transform = placed(image)
    wanted = corners_px((TILE_PX, TILE_PX))
    square = np.column_stack([wanted, np.ones(4)]) @ to_map.T
    source = transform.to_image_px(square[:, :2])
    low, high = _needed_px(source, image.size_px)
    if (low >= high).any():
        return Image.new("RGBA", (TILE_PX, TILE_PX))
    finest = transform.metres_per_pixel((low + high) / 2)
    level = _level(step / finest, high - low, image.size_px)
    margin = _MARGIN_PX * 2.0**level
    low, high = np.maximum(low - margin, 0), np.minimum(high + margin, image.size_px)
    mosaic, corner = _mosaic(course, image, level, low, high)
    # Near the map's origin the numbers are small enough for the drawing's own arithmetic.
    shift = np.array([[1.0, 0.0, -corner[0]], [0.0, 1.0, -corner[1]], [0.0, 0.0, 1.0]])
    here = to_map[:2, 2]
    near = np.array([[1.0, 0.0, -here[0]], [0.0, 1.0, -here[1]], [0.0, 0.0, 1.0]])
    back = (
        shift
        @ np.diag([0.5**level, 0.5**level, 1.0])
        @ np.linalg.inv(near @ transform.array)
        @ near
        @ to_map
    )
    eight = (back / back[2, 2]).ravel()[:8].tolist()
    return mosaic.transform(
        (TILE_PX, TILE_PX), Image.Transform.PERSPECTIVE, eight, Image.Resampling.BILINEAR
    )


def _needed_px(
    source: NDArray[np.float64], size_px: tuple[int, int]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Upper left and lower right of what a tile needs of the picture; else all."""
    if not np.isfinite(source).all():
        return np.zeros(2), np.asarray(size_px, dtype=float)
    return np.clip(source.min(axis=0), 0, size_px), np.clip(source.max(axis=0), 0, size_px)


def _level(shrink: float, span: NDArray[np.float64], size_px: tuple[int, int]) -> int:
    """The level with pixels no coarser than the tile's, and not too many of them."""
    wanted = math.floor(math.log2(max(shrink, 1.0)) + 1e-6)
    enough = math.ceil(math.log2(max(float(span.max()) / _MOST_SOURCE_PX, 1.0)))
    return min(max(wanted, enough), levels(size_px) - 1)


def _mosaic(
    course: Course,
    image: CourseImage,
    level: int,
    low: NDArray[np.float64],
    high: NDArray[np.float64],
) -> tuple[Image.Image, tuple[int, int]]:
    """The tiles of a level under a box of the picture, and where they begin [px of the level]."""
    first = tuple(int(v) for v in np.floor(low * 0.5**level / TILE_PX))
    last = tuple(int(v) for v in np.ceil(high * 0.5**level / TILE_PX) - 1)
    wide, tall = (max(last[i] - first[i] + 1, 1) for i in (0, 1))
    mosaic = Image.new("RGBA", (wide * TILE_PX, tall * TILE_PX))
    for column, row, content in course.file.tiles(
        image.picture, level, (first[0], first[1]), (first[0] + wide - 1, first[1] + tall - 1)
    ):
        place = ((column - first[0]) * TILE_PX, (row - first[1]) * TILE_PX)
        with Image.open(io.BytesIO(content)) as tile:
            mosaic.paste(tile.convert("RGBA"), place)
    return mosaic, (first[0] * TILE_PX, first[1] * TILE_PX)


def picture_tile(
    course: Course, image: CourseImage, level: int, column: int, row: int
) -> DrawnTile:
    """A square of the picture itself, for picking points on it; level 0 is full size.

    Raises:
        NotFoundError: no such tile.
    """
    found = course.file.tiles(image.picture, level, (column, row), (column, row))
    if not found:
        raise NotFoundError("The picture has no such tile.")
    content = found[0][2]
    jpeg = content.startswith(b"\xff\xd8")
    return DrawnTile(content, "image/jpeg" if jpeg else "image/png")
