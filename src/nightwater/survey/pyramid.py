"""A picture cut into tiles, at full size and at halves of it."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image

TILE_PX: Final = 512
_JPEG_QUALITY: Final = 88
_OPAQUE: Final = 255
_FEW_COLOURS: Final = 256  # a drawing or a scan in black and white

Pixels = NDArray[np.uint8]


@dataclass(frozen=True)
class Tile:
    """A square of a picture; level 0 is full size, each further level half of the one before."""

    level: int
    column: int
    row: int
    content: bytes


def levels(size_px: tuple[int, int]) -> int:
    """How many levels a picture has until it fits into one tile."""
    count, longest = 1, max(size_px)
    while longest > TILE_PX:
        longest, count = (longest + 1) // 2, count + 1
    return count


def media_type(pixels: Pixels) -> str:
    """How its tiles are kept: JPEG for photos, PNG where it is see-through or a drawing."""
    if (pixels[..., 3] < _OPAQUE).any():
        return "image/png"
    picture = Image.fromarray(pixels[::4, ::4, :3].copy())
    return "image/jpeg" if picture.getcolors(_FEW_COLOURS) is None else "image/png"


def picture_digest(pixels: Pixels) -> str:
    """A name for what a picture shows."""
    shape = f"{pixels.shape[1]}x{pixels.shape[0]}:".encode()
    digest = hashlib.sha256(shape)
    digest.update(np.ascontiguousarray(pixels).data)
    return digest.hexdigest()[:32]


def cut_tiles(pixels: Pixels) -> Iterator[Tile]:
    """Every tile of every level; those at the right and lower edge are smaller."""
    kind = media_type(pixels)
    picture = Image.fromarray(pixels)
    if kind == "image/jpeg":
        picture = picture.convert("RGB")
    for level in range(levels(picture.size)):
        if level:
            picture = picture.reduce(2)
        yield from _tiles_of(picture, level, kind)


def _tiles_of(picture: Image.Image, level: int, kind: str) -> Iterator[Tile]:
    width, height = picture.size
    for row in range(-(-height // TILE_PX)):
        for column in range(-(-width // TILE_PX)):
            left, top = column * TILE_PX, row * TILE_PX
            box = (left, top, min(left + TILE_PX, width), min(top + TILE_PX, height))
            yield Tile(level, column, row, encoded(picture.crop(box), kind))


def encoded(picture: Image.Image, kind: str) -> bytes:
    """A picture as the bytes of a PNG or JPEG file."""
    held = io.BytesIO()
    if kind == "image/jpeg":
        picture.save(held, "JPEG", quality=_JPEG_QUALITY, subsampling=0)
    else:
        picture.save(held, "PNG", compress_level=6)
    return held.getvalue()
