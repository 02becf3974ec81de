"""Rasters as other programs read them: bytes of PNG, bands of GeoTIFF."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
import rasterio
from PIL import Image

from nightwater.findings import UserError
from nightwater.survey.raster_out import (
    LEAST_WIDTH_PX,
    Band,
    RasterPlace,
    class_png,
    legend_png,
    write_geotiff,
)

PLACE = RasterPlace(500_000.0, 4_340_010.0, 0.5, "EPSG:32612")
COLOURS = ["#102030", "#f0e0d0", "#808080"]
CLASSES = np.array([[0, 1, 2], [3, 3, 1]], dtype=np.uint8)


class TestGeotiff:
    def test_every_number_comes_back_at_its_place(self, tmp_path: Path) -> None:
        image = np.arange(12, dtype=float).reshape(3, 4) / 7
        image[1, 2] = np.nan
        write_geotiff(tmp_path / "a.tif", image, PLACE, Band("depth", "mm"), {"course": "Small"})
        with rasterio.open(tmp_path / "a.tif") as file:
            assert file.read(1) == pytest.approx(image.astype(np.float32), nan_ok=True)
            assert file.xy(0, 0) == pytest.approx((500_000.25, 4_340_009.75))
            assert file.xy(2, 3) == pytest.approx((500_001.75, 4_340_008.75))
            assert file.read(1, masked=True).mask.sum() == 1

    def test_band_and_file_say_what_they_hold(self, tmp_path: Path) -> None:
        tags = {"course": "Small Links", "shows": "depth of 14 July"}
        write_geotiff(tmp_path / "a.tif", np.ones((2, 2)), PLACE, Band("rate", "in/h"), tags)
        with rasterio.open(tmp_path / "a.tif") as file:
            assert file.descriptions == ("rate [in/h]",)
            assert file.units == ("in/h",)
            assert tags.items() <= file.tags().items()
            assert file.dtypes == ("float32",)

    def test_a_file_that_is_there_is_replaced(self, tmp_path: Path) -> None:
        for value in (1.0, 2.0):
            image = np.full((2, 2), value)
            write_geotiff(tmp_path / "a.tif", image, PLACE, Band("depth", "mm"), {})
        with rasterio.open(tmp_path / "a.tif") as file:
            assert file.read(1).mean() == 2.0

    def test_nothing_to_write_and_nowhere_to_write_it(self, tmp_path: Path) -> None:
        with pytest.raises(UserError, match=r"no turf.*a\.tif"):
            write_geotiff(tmp_path / "a.tif", np.ones((0, 3)), PLACE, Band("depth", "mm"), {})
        path = tmp_path / "not there" / "a.tif"
        with pytest.raises(UserError, match="Choose another place"):
            write_geotiff(path, np.ones((2, 2)), PLACE, Band("depth", "mm"), {})


class TestPictures:
    def test_a_class_is_its_colour_and_none_is_clear(self) -> None:
        picture = Image.open(io.BytesIO(class_png(CLASSES, COLOURS))).convert("RGBA")
        assert picture.size == (3, 2)
        assert picture.getpixel((0, 0))[3] == 0
        assert picture.getpixel((1, 0)) == (0x10, 0x20, 0x30, 255)
        assert picture.getpixel((2, 0)) == (0xF0, 0xE0, 0xD0, 255)
        assert picture.getpixel((1, 1)) == (0x80, 0x80, 0x80, 255)

    def test_the_same_map_gives_the_same_bytes(self) -> None:
        assert class_png(CLASSES, COLOURS) == class_png(CLASSES.copy(), list(COLOURS))
        assert class_png(CLASSES, COLOURS) != class_png(CLASSES, COLOURS[::-1])

    def test_the_legend_grows_with_its_lines_and_names_stay_readable(self) -> None:
        sizes = []
        for count in (1, 3):
            legend = [(colour, f"class {colour}") for colour in COLOURS[:count]]
            content = legend_png(np.ones((1, 1), np.uint8), legend, "A map")
            sizes.append(Image.open(io.BytesIO(content)).size)
        assert sizes[1][1] > sizes[0][1]
        assert sizes[0][0] >= LEAST_WIDTH_PX

    def test_a_wide_map_is_not_drawn_larger(self) -> None:
        wide = np.ones((2, 1500), dtype=np.uint8)
        picture = Image.open(io.BytesIO(legend_png(wide, [("#102030", "water")], "A map")))
        assert 1500 < picture.width < 1600

    @pytest.mark.parametrize("shape", [(0, 0), (0, 5)])
    def test_a_picture_of_nothing_is_refused(self, shape: tuple[int, int]) -> None:
        with pytest.raises(UserError, match="no turf"):
            class_png(np.zeros(shape, dtype=np.uint8), COLOURS)
        with pytest.raises(UserError, match="no turf"):
            legend_png(np.zeros(shape, dtype=np.uint8), [("#102030", "water")], "A map")
