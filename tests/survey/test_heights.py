"""Levels out of rasters: straight between cells, units asked, holes and edges told."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin
from rasterio.warp import transform

from nightwater.findings import UserError
from nightwater.survey.heights import read_heights

CRS = "EPSG:32613"
LEFT, TOP = 500_000.0, 4_340_000.0


@pytest.fixture
def plane(tmp_path: Path):
    """A tilted plane, 30 by 20 cells of 2 m: z = 100 + 0.1 (x − left) + 0.05 (top − y)."""

    def make(*, crs=CRS, nodata=None, hole=None, unit=None, factor=1.0) -> Path:
        x = LEFT + 1 + 2 * np.arange(30)
        y = TOP - 1 - 2 * np.arange(20)
        z = 100 + 0.1 * (x[None, :] - LEFT) + 0.05 * (TOP - y[:, None])
        z = (z * factor).astype("float64")
        if hole is not None:
            z[hole] = nodata
        path = tmp_path / "ground.tif"
        form = {"driver": "GTiff", "width": 30, "height": 20, "count": 1, "dtype": "float64"}
        where = {"crs": crs, "transform": from_origin(LEFT, TOP, 2, 2), "nodata": nodata}
        with rasterio.open(path, "w", **form, **where) as out:
            out.write(z, 1)
            if unit:
                out.set_band_unit(1, unit)
        return path

    return make


def at(path: Path, *places, unit="m", crs=None):
    xy = np.array([(LEFT + x, TOP - y) for x, y in places])
    return read_heights(path, xy, CRS, unit=unit, crs=crs)


def test_a_plane_is_read_exactly_between_its_cells(plane) -> None:
    found = at(plane(), (10, 10), (13.7, 21.2), (1, 1))
    assert found.level_m == pytest.approx([101.5, 100 + 1.37 + 1.06, 100.15])
    assert found.findings == ()


@pytest.mark.parametrize(("unit", "factor"), [("ft", 0.3048), ("us-ft", 1200 / 3937), ("cm", 0.01)])
def test_the_unit_that_is_said_is_the_unit(plane, unit, factor) -> None:
    assert at(plane(), (10, 10), unit=unit).level_m == pytest.approx([101.5 * factor])


@pytest.mark.parametrize(
    ("unit", "says"),
    [(None, "may hold metres"), ("psi", "no unit of heights"), ("fet", "no unit 'fet'")],
)
def test_the_unit_is_asked_and_never_guessed(plane, unit, says) -> None:
    with pytest.raises(UserError, match=says):
        at(plane(), (10, 10), unit=unit)


def test_places_outside_have_no_level(plane) -> None:
    found = at(plane(), (-5, 10), (10, 10), (500, 10), (10, 41))
    assert np.isnan(found.level_m).tolist() == [True, False, True, True]
    assert np.isnan(at(plane(), (900, 900)).level_m).all()


def test_beside_a_hole_the_nearest_cell_counts_and_in_it_none(plane) -> None:
    path = plane(nodata=-9999.0, hole=(5, 5))
    found = at(path, (11, 11), (12.5, 11))
    assert np.isnan(found.level_m[0])
    assert found.level_m[1] == pytest.approx(100 + 0.1 * 13 + 0.05 * 11)  # cell 6, not between


def test_another_system_is_followed(plane, tmp_path) -> None:
    xy = np.array([(LEFT + 10, TOP - 10)])
    lonlat = transform("EPSG:32613", "EPSG:32612", *xy.T)
    moved = read_heights(plane(), np.column_stack(lonlat), "EPSG:32612", unit="m")
    assert moved.level_m == pytest.approx([101.5], abs=1e-4)


def test_a_raster_without_a_system_is_asked_for_it(plane) -> None:
    path = plane(crs=None)
    with pytest.raises(UserError, match="does not say its coordinate system"):
        at(path, (10, 10))
    assert at(path, (10, 10), crs=CRS).level_m == pytest.approx([101.5])
    with pytest.raises(UserError, match="not a known coordinate system"):
        at(path, (10, 10), crs="EPSG:none")
    with pytest.raises(UserError, match="declares"):
        at(plane(), (10, 10), crs="EPSG:32612")


def test_a_unit_of_its_own_that_differs_is_told(plane) -> None:
    assert [f.code for f in at(plane(unit="ft"), (10, 10)).findings] == ["height-unit-differs"]
    assert at(plane(unit="metre"), (10, 10)).findings == ()


def test_levels_that_cannot_be_are_not_taken(plane) -> None:
    """Centimetres read as metres: 10,150 m above the sea."""
    found = at(plane(factor=100.0), (10, 10))
    assert np.isnan(found.level_m).all()
    assert [f.code for f in found.findings] == ["heights-out-of-range"]


def test_no_file_and_no_raster_are_refused(plane, tmp_path) -> None:
    with pytest.raises(UserError, match="There is no file"):
        at(tmp_path / "none.tif", (1, 1))
    text = tmp_path / "x.tif"
    text.write_text("no raster")
    with pytest.raises(UserError, match="cannot be read as a raster"):
        at(text, (1, 1))
    with pytest.raises(UserError, match="Known endings"):
        at(text.rename(tmp_path / "x.txt"), (1, 1))


@pytest.fixture(scope="module")
def dems() -> Path:
    place = os.environ.get("NIGHTWATER_DATA")
    if place is None:
        pytest.skip("NIGHTWATER_DATA is not set: the folder of real files is not here")
    return Path(place) / "dem"


def test_a_real_raster_in_centimetres_without_saying_so(dems: Path) -> None:
    """Iowa, 3 m cells, 29,332 to 31,000: 293 to 310 m; 37 % of it has no value."""
    path = dems / "small_dem_3m_merged.tif"
    with rasterio.open(path) as source:
        rows, columns = np.mgrid[5:240:9, 5:570:9]
        xs, ys = source.xy(rows.ravel(), columns.ravel())
    xy = np.column_stack([xs, ys])
    found = read_heights(path, xy, "EPSG:26915", unit="cm")
    known = found.level_m[np.isfinite(found.level_m)]
    assert 293 <= known.min() <= known.max() <= 310.1
    assert 0.3 < np.isnan(found.level_m).mean() < 0.45
    wrong = read_heights(path, xy, "EPSG:26915", unit="m")
    assert "heights-out-of-range" in [f.code for f in wrong.findings]


def test_a_coarse_raster_is_told(dems: Path) -> None:
    found = read_heights(dems / "lux_elev.tif", np.array([[6.1, 49.7]]), "EPSG:4326", unit="m")
    assert [f.code for f in found.findings] == ["heights-coarse"]
    assert 150 < found.level_m[0] < 450


def test_a_rotated_raster_is_read_by_its_own_axes(dems: Path) -> None:
    path = dems / "rotated.tif"
    with rasterio.open(path) as source:
        cells = source.read(1).astype(float)
        xs, ys = source.xy([3, 9], [4, 2])
    found = read_heights(path, np.column_stack([xs, ys]), CRS, unit="m", crs=CRS)
    assert found.level_m == pytest.approx([cells[3, 4], cells[9, 2]])


def test_nan_is_no_height(dems: Path) -> None:
    path = dems / "float_nan.tif"
    with rasterio.open(path) as source:
        cells = source.read(1)
        rows, columns = np.nonzero(np.isnan(cells))
        xs, ys = source.xy(rows, columns)
    found = read_heights(path, np.column_stack([xs, ys]), CRS, unit="m", crs=CRS)
    assert np.isnan(found.level_m).all()
