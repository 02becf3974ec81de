"""`nightwater elevations` and `.inp` through the command line, as a person runs them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

from nightwater.desk.course import open_course

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def raster(small_course: Path, tmp_path: Path) -> Path:
    """400 m level all over the course, but for its eastern part, where nothing is known."""
    with open_course(small_course) as course:
        ground = course.file.ground()
    left, bottom, right, top = ground.heads.total_bounds
    width, height = int(right - left) + 40, int(top - bottom) + 40
    cells = np.full((height, width), 400.0, dtype="float32")
    cells[:, int(0.8 * width) :] = np.nan
    path = tmp_path / "ground.tif"
    with rasterio.open(path, "w", driver="GTiff", width=width, height=height, count=1,
                       dtype="float32", crs=ground.crs, nodata=np.nan,
                       transform=from_origin(left - 20, top + 20, 1, 1)) as out:  # fmt: skip
        out.write(cells, 1)
    return path


def levels(path: Path):
    with open_course(path) as course:
        return course.file.ground().heads["elevation_m"]


def test_levels_are_proposed_then_accepted_then_left(small_course, raster, run_cli: Run) -> None:
    status, out, err = run_cli("elevations", small_course, raster, "--unit", "m", "--show")
    assert status == 0, err
    assert "Nothing was changed" in out + err
    assert levels(small_course).isna().all()
    status, out, err = run_cli("elevations", small_course, raster, "--unit", "m", "--yes")
    assert status == 0, err
    assert "no-height-there" in out + err
    after = levels(small_course)
    assert set(after.dropna()) == {400.0}
    assert after.isna().any()
    again = run_cli("elevations", small_course, raster, "--unit", "ft", "--yes")
    assert "Nothing to change" in again[1] + again[2]
    assert levels(small_course).equals(after)


def test_the_record_is_overruled_only_when_said(small_course, raster, run_cli: Run) -> None:
    run_cli("elevations", small_course, raster, "--unit", "m", "--yes")
    status, out, err = run_cli(
        "elevations", small_course, raster, "--unit", "ft", "--overrule", "--yes"
    )
    assert status == 0, err
    assert "heights-disagree" in out + err
    assert set(levels(small_course).dropna()) == {121.92}


def test_the_unit_is_asked(small_course, raster, run_cli: Run) -> None:
    status, _, err = run_cli("elevations", small_course, raster, "--yes")
    assert status == 2
    assert "--unit" in err


def test_an_undo_takes_the_levels_back(small_course, raster, run_cli: Run) -> None:
    _, out, err = run_cli("elevations", small_course, raster, "--unit", "m", "--yes")
    revision = (out + err).split("revision ")[1].split(".")[0]
    assert run_cli("undo", small_course, revision)[0] == 0
    assert levels(small_course).isna().all()


def test_the_network_is_exported_and_surveyed_again(small_course, tmp_path, run_cli: Run) -> None:
    status, _, err = run_cli("export", small_course, tmp_path / "net.inp")
    assert status == 0, err
    with open_course(small_course) as course:
        crs, pipes = course.ground.crs, len(course.ground.pipes)
    status, out, err = run_cli(
        "survey", small_course, tmp_path / "net.inp", "--as", "pipes", "--crs", crs, "--show",
        "--format", "json",
    )  # fmt: skip
    assert status == 0, err
    assert '"added"' in out
    assert pipes > 0
