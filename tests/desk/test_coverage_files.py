"""Scales in the reader's unit, and maps as GeoTIFF and PNG."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
import rasterio
from PIL import Image

from nightwater.desk.coverage import CoverageMap, MapKind, part_of_map
from nightwater.desk.coverage_files import map_png, map_title, write_map
from nightwater.desk.coverage_scale import (
    balance_scale,
    class_picture,
    map_scale,
    rising_scale,
    round_step,
)
from nightwater.findings import UserError
from nightwater.ground.settings import Site
from nightwater.spray.grid import TurfGrid
from nightwater.units import UnitSystem

SITE = Site("Small Links", 39.2, -112.0, 1372.0, "America/Denver", "EPSG:32612")


def shown_map(values: list[float], kind: MapKind = MapKind.DEPTH) -> CoverageMap:
    """A column of turf, with a cell beside it that is none."""
    n = len(values)
    turf = np.column_stack((np.arange(n), np.full(n, -1))).astype(np.int32)
    row, column = np.arange(n, dtype=np.int32), np.zeros(n, dtype=np.int32)
    grid = TurfGrid(413000.0, 4339000.0, 2.0, n, 2, turf, row, column, column, ("A",))
    depth = np.array(values)
    return CoverageMap(kind, grid, depth, depth, None, None, "", 0)


class TestScales:
    @pytest.mark.parametrize(
        ("least", "step"), [(0.9, 1), (1.1, 2), (2.2, 2.5), (0.026, 0.05), (7, 10), (0, 1)]
    )
    def test_steps_are_round(self, least: float, step: float) -> None:
        assert round_step(least) == pytest.approx(step)

    def test_a_class_is_what_its_words_say(self) -> None:
        scale = rising_scale(np.linspace(0, 8, 101), "mm")
        words = [one.words for one in scale.classes]
        assert words[:3] == ["no water", "0 to 1 mm", "1 to 2 mm"]
        assert words[-2:] == ["over 7 mm", "not known"]
        values = np.array([0.0, 0.001, 1.0, 1.001, 7.5, 400.0, np.nan])
        named = [words[number - 1] for number in scale.numbers(values)]
        assert named == [
            "no water", "0 to 1 mm", "0 to 1 mm", "1 to 2 mm", "over 7 mm", "over 7 mm",
            "not known",
        ]  # fmt: skip

    def test_the_same_depth_in_inches(self) -> None:
        scale = rising_scale(np.linspace(0, 25.4, 101), "in")
        words = [one.words for one in scale.classes]
        assert words[1] == "0.0 to 0.2 in"
        assert [words[n - 1] for n in scale.numbers(np.array([5.08, 5.09]))] == [
            "0.0 to 0.2 in",
            "0.2 to 0.4 in",
        ]

    def test_the_balance_has_its_middle_at_the_need(self) -> None:
        scale = balance_scale(np.linspace(-4, 4, 81), "mm")
        words = [one.words for one in scale.classes]
        assert words[3] == "as needed, ± 1 mm"
        values = np.array([-9.0, -2.5, -1.5, -0.99, 0.99, 1.5, 2.5, 9.0, np.nan])
        assert [int(n) for n in scale.numbers(values)] == [1, 2, 3, 4, 4, 5, 6, 7, 8]
        assert words[0] == "short by more than 3 mm"
        assert words[6] == "over by more than 3 mm"

    @pytest.mark.parametrize("values", [[0.0, 0.0], [np.nan, np.nan], []])
    def test_a_map_of_nothing_still_has_a_scale(self, values: list[float]) -> None:
        for made in (rising_scale, balance_scale):
            scale = made(np.array(values), "mm")
            assert len(scale.classes) == len(scale.edges) + 2

    def test_each_class_has_a_colour_of_its_own(self) -> None:
        scale = rising_scale(np.linspace(0, 8, 101), "mm")
        assert len({one.colour for one in scale.classes}) == len(scale.classes)


class TestPictures:
    def test_cells_have_the_colour_of_their_class_and_the_rest_is_clear(self) -> None:
        shown = shown_map([0.0, 1.0, 8.0])
        scale = map_scale(shown, UnitSystem.METRIC)
        picture = Image.open(io.BytesIO(map_png(shown, UnitSystem.METRIC))).convert("RGBA")
        assert picture.size == (2, 3)
        classes = class_picture(shown, scale)
        for row in range(3):
            colour = scale.classes[classes[row, 0] - 1].colour
            red, green, blue, opaque = picture.getpixel((0, row))
            assert f"#{red:02x}{green:02x}{blue:02x}" == colour
            assert opaque == 255
            assert picture.getpixel((1, row))[3] == 0

    def test_the_wall_picture_holds_map_and_legend(self, tmp_path: Path) -> None:
        shown = shown_map([0.0, 1.0, 8.0])
        path = tmp_path / "depth.png"
        write_map(path, shown, SITE, UnitSystem.METRIC)
        picture = Image.open(path).convert("RGB")
        seen = set(picture.get_flattened_data())
        for one in map_scale(shown, UnitSystem.METRIC).classes:
            assert tuple(int(one.colour[at : at + 2], 16) for at in (1, 3, 5)) in seen
        assert picture.height > 1200  # three cells are drawn large, the words beneath them

    def test_a_map_without_turf_is_refused(self, tmp_path: Path) -> None:
        shown = shown_map([1.0])
        nothing = part_of_map(shown, np.array([False]))
        for name in ("a.tif", "a.png"):
            with pytest.raises(UserError, match="no turf"):
                write_map(tmp_path / name, nothing, SITE, UnitSystem.METRIC)
            assert not (tmp_path / name).exists()


class TestGeotiff:
    def test_numbers_place_unit_and_words_come_back(self, tmp_path: Path) -> None:
        path = tmp_path / "depth.tif"
        write_map(path, shown_map([25.4, np.nan, 50.8]), SITE, UnitSystem.US)
        with rasterio.open(path) as file:
            assert file.crs.to_epsg() == 32612
            assert np.isnan(file.nodata)
            assert file.descriptions == ("Depth of the night [in]",)
            assert file.units == ("in",)
            assert file.tags(1)["unit"] == "in"
            assert file.tags()["course"] == "Small Links"
            assert (file.transform.c, file.transform.f) == (413000.0, 4339000.0)
            assert (file.transform.a, file.transform.e) == (2.0, -2.0)
            numbers = file.read(1)
        assert numbers[:, 0] == pytest.approx([1.0, np.nan, 2.0], nan_ok=True)

    def test_only_the_part_that_holds_values_is_written(self, tmp_path: Path) -> None:
        shown = part_of_map(shown_map([1.0, 2.0, 3.0]), np.array([False, True, True]))
        path = tmp_path / "part.tiff"
        write_map(path, shown, SITE, UnitSystem.METRIC)
        with rasterio.open(path) as file:
            assert file.shape == (2, 1)
            assert file.transform.f == 4339000.0 - 2.0
            assert file.read(1)[:, 0] == pytest.approx([2.0, 3.0])

    def test_another_ending_is_refused_before_anything_is_written(self, tmp_path: Path) -> None:
        with pytest.raises(UserError, match=r"\.tif, \.tiff, \.png"):
            write_map(tmp_path / "map.jpg", shown_map([1.0]), SITE, UnitSystem.US)

    @pytest.mark.parametrize("name", ["a.tif", "a.png"])
    def test_a_folder_that_is_not_there(self, tmp_path: Path, name: str) -> None:
        with pytest.raises(UserError, match="cannot be written"):
            write_map(tmp_path / "none" / name, shown_map([1.0]), SITE, UnitSystem.US)


def test_the_title_says_which_night(tmp_path: Path) -> None:
    from dataclasses import replace
    from datetime import date

    shown = replace(shown_map([1.0]), night=date(2026, 7, 14), edition=2, state="approved")
    assert map_title(shown) == "Depth of the night, 2026-07-14, edition 2, approved"
    assert map_title(shown_map([1.0], MapKind.RATE)) == "Rate while every head runs"
