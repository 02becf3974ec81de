"""Pictures cut into tiles: they fit together again, and halves are halves."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from nightwater.survey.pyramid import TILE_PX, Tile, cut_tiles, levels, media_type, picture_digest


def noise(width: int, height: int, opacity: int = 255) -> np.ndarray:
    """A smooth many-coloured picture."""
    x, y = np.meshgrid(np.linspace(0, 255, width), np.linspace(0, 255, height))
    layers = [x, y, (x + y) / 2, np.full_like(x, opacity)]
    return np.stack(layers, axis=-1).astype(np.uint8)


def joined(tiles: list[Tile], level: int, mode: str = "RGB") -> np.ndarray:
    chosen = [tile for tile in tiles if tile.level == level]
    parts = {(t.column, t.row): Image.open(io.BytesIO(t.content)) for t in chosen}
    width = sum(part.width for (_c, r), part in parts.items() if r == 0)
    height = sum(part.height for (c, _r), part in parts.items() if c == 0)
    whole = Image.new(mode, (width, height))
    for (column, row), part in parts.items():
        whole.paste(part.convert(mode), (column * TILE_PX, row * TILE_PX))
    return np.asarray(whole)


@pytest.mark.parametrize(
    ("size", "count"),
    [((1, 1), 1), ((512, 512), 1), ((513, 100), 2), ((1024, 1025), 3), ((9000, 8000), 6)],
)
def test_levels_halve_until_one_tile_holds_it(size: tuple[int, int], count: int) -> None:
    assert levels(size) == count


def test_tiles_join_to_the_picture() -> None:
    pixels = noise(1300, 700, opacity=200)
    tiles = list(cut_tiles(pixels))
    assert media_type(pixels) == "image/png"
    np.testing.assert_array_equal(joined(tiles, 0, "RGBA"), pixels)
    assert {tile.level for tile in tiles} == {0, 1, 2}
    assert joined(tiles, 2, "RGBA").shape[:2] == (175, 325)


def test_a_photo_is_kept_as_jpeg_and_looks_the_same() -> None:
    pixels = noise(900, 600)
    tiles = list(cut_tiles(pixels))
    assert media_type(pixels) == "image/jpeg"
    assert all(tile.content.startswith(b"\xff\xd8") for tile in tiles)
    assert np.abs(joined(tiles, 0).astype(int) - pixels[..., :3]).max() <= 8


def test_a_drawing_is_kept_without_loss() -> None:
    pixels = np.full((600, 600, 4), 255, dtype=np.uint8)
    pixels[100:103, :, :3] = 0
    assert media_type(pixels) == "image/png"
    np.testing.assert_array_equal(joined(list(cut_tiles(pixels)), 0, "RGBA"), pixels)


def test_a_level_is_the_mean_of_four() -> None:
    pixels = noise(1024, 1024, opacity=254)
    half = joined(list(cut_tiles(pixels)), 1, "RGBA").astype(float)
    mean = pixels.reshape(512, 2, 512, 2, 4).mean(axis=(1, 3))
    assert np.abs(half - mean).max() <= 1.5  # rounding, also of colours times opacity


def test_the_digest_tells_pictures_apart() -> None:
    one = noise(60, 40)
    other = one.copy()
    other[7, 9, 0] ^= 1
    assert picture_digest(one) == picture_digest(one.copy())
    assert picture_digest(one) != picture_digest(other)
    flat = np.zeros((20, 30, 4), dtype=np.uint8)
    assert picture_digest(flat) != picture_digest(flat.reshape(30, 20, 4))
