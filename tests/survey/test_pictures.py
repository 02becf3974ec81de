"""Pictures with and without a place: GeoTIFF, world files, plain ones, and what is refused."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from affine import Affine
from PIL import Image
from pyproj import Transformer
from rasterio.enums import ColorInterp

from nightwater.findings import UserError
from nightwater.survey import pictures
from nightwater.survey.pictures import Picture, read_picture

UTM = "EPSG:32612"
NORTH_UP = Affine(0.5, 0, 413_000, 0, -0.5, 4_340_000)
TURNED = Affine(0.4, 0.3, 413_000, 0.3, -0.4, 4_340_000)
RED, GREEN, BLUE, WHITE = (255, 0, 0), (0, 255, 0), (0, 0, 255), (255, 255, 255)


def quarters(width: int = 60, height: int = 40) -> np.ndarray:
    """Red, green over blue, white; shape (rows, columns, 3)."""
    colours = np.zeros((height, width, 3), dtype=np.uint8)
    top, left = slice(0, height // 2), slice(0, width // 2)
    low, right = slice(height // 2, None), slice(width // 2, None)
    colours[top, left], colours[top, right] = RED, GREEN
    colours[low, left], colours[low, right] = BLUE, WHITE
    return colours


def geotiff(path: Path, bands: np.ndarray, where: Affine, crs: str | None, **more: Any) -> Path:
    """Bands of shape (count, rows, columns) as a GeoTIFF."""
    count, height, width = bands.shape
    with rasterio.open(
        path, "w", driver="GTiff", width=width, height=height, count=count, dtype=bands.dtype,
        transform=where, crs=crs, **more,
    ) as target:  # fmt: skip
        target.write(bands)
    return path


@pytest.fixture
def colours() -> np.ndarray:
    return quarters()


@pytest.fixture
def bands(colours: np.ndarray) -> np.ndarray:
    return np.moveaxis(colours, -1, 0)


def map_corners(picture: Picture) -> list[list[float]]:
    assert picture.transform is not None
    width, height = picture.size_px
    found: list[list[float]] = picture.transform.to_map_m([[0, 0], [width, height]]).tolist()
    return found


@pytest.mark.parametrize("where", [NORTH_UP, TURNED], ids=["north-up", "turned"])
def test_a_geotiff_lies_where_its_keys_say(
    tmp_path: Path, bands: np.ndarray, where: Affine
) -> None:
    picture = read_picture(geotiff(tmp_path / "a.tif", bands, where, UTM), UTM)
    assert picture.findings == ()
    assert map_corners(picture) == [list(where @ (0, 0)), list(where @ (60, 40))]
    np.testing.assert_array_equal(picture.pixels[..., :3], quarters())
    assert (picture.pixels[..., 3] == 255).all()


WORLD = "0.4\n0.3\n0.3\n-0.4\n413000.35\n4339999.95\n"


@pytest.mark.parametrize(
    ("name", "side"),
    [("a.png", "a.pgw"), ("a.jpg", "a.jgw"), ("a.tif", "a.tfw"), ("a.png", "a.wld")],
)
def test_a_world_file_names_the_middle_of_the_first_pixel(
    tmp_path: Path, colours: np.ndarray, name: str, side: str
) -> None:
    """Lines: x per column, y per column, x per row, y per row, x and y of the first middle."""
    Image.fromarray(colours).save(tmp_path / name, quality=95)
    (tmp_path / side).write_text(WORLD)
    picture = read_picture(tmp_path / name, UTM, UTM)
    assert picture.transform is not None
    middle = picture.transform.to_map_m([[0.5, 0.5], [1.5, 0.5], [0.5, 1.5]])
    x, y = 413_000.35, 4_339_999.95
    np.testing.assert_allclose(middle, [[x, y], [x + 0.4, y + 0.3], [x + 0.3, y - 0.4]], atol=1e-6)
    with rasterio.open(tmp_path / name) as source:  # GDAL's own reading
        for pixel in ((0, 0), (59, 39)):
            ours = picture.transform.to_map_m(np.array(pixel) + 0.5)
            np.testing.assert_allclose(ours, source.xy(pixel[1], pixel[0]), atol=1e-6)


def test_a_world_file_says_no_system_so_it_is_asked(tmp_path: Path, colours: np.ndarray) -> None:
    Image.fromarray(colours).save(tmp_path / "a.png")
    (tmp_path / "a.pgw").write_text(WORLD)
    with pytest.raises(UserError, match=r"which coordinate system. Say it, like EPSG:32612"):
        read_picture(tmp_path / "a.png", UTM)


def test_control_points_win_over_a_world_file(tmp_path: Path, colours: np.ndarray) -> None:
    Image.fromarray(colours).save(tmp_path / "a.png")
    (tmp_path / "a.pgw").write_text(WORLD)
    assert read_picture(tmp_path / "a.png", UTM, placed=True).transform is None


@pytest.mark.parametrize("name", ["a.png", "a.jpg", "a.jpeg", "a.tif", "a.tiff", "A.PNG"])
def test_a_plain_picture_has_no_place(tmp_path: Path, colours: np.ndarray, name: str) -> None:
    Image.fromarray(colours).save(tmp_path / name, quality=95)
    picture = read_picture(tmp_path / name, UTM)
    assert picture.transform is None
    assert picture.size_px == (60, 40)
    for (row, column), colour in (((5, 5), RED), ((5, 55), GREEN), ((35, 5), BLUE)):
        np.testing.assert_allclose(picture.pixels[row, column, :3], colour, atol=12)


@pytest.mark.parametrize("crs", ["EPSG:3857", "EPSG:4326", "EPSG:32613", "EPSG:2152"])
def test_another_system_is_drawn_anew_in_the_records_metres(
    tmp_path: Path, bands: np.ndarray, crs: str
) -> None:
    """The cross of the four colours stays on its spot of the ground, to a pixel."""
    to_theirs = Transformer.from_crs(UTM, crs, always_xy=True)
    x, y = to_theirs.transform(413_015.0, 4_339_990.0)  # the cross
    beside, _ = to_theirs.transform(413_015.5, 4_339_990.0)
    _, below = to_theirs.transform(413_015.0, 4_339_989.5)
    where = Affine(beside - x, 0, x - 30 * (beside - x), 0, below - y, y - 20 * (below - y))
    picture = read_picture(geotiff(tmp_path / "a.tif", bands, where, crs), UTM)
    assert picture.transform is not None
    assert [finding.code for finding in picture.findings] == ["image-drawn-anew"]
    for dx, dy, colour in ((-3, 3, RED), (3, 3, GREEN), (-3, -3, BLUE), (3, -3, WHITE)):
        column, row = picture.transform.to_image_px((413_015.0 + dx, 4_339_990.0 + dy)).astype(int)
        np.testing.assert_array_equal(picture.pixels[row, column], [*colour, 255])
    row_of_cross = picture.pixels[
        int(picture.transform.to_image_px((413_015.0, 4_339_993.0))[1]), :, :3
    ]
    border = np.flatnonzero(row_of_cross[:, 1] > 127)[0]
    edge = picture.transform.to_map_m((float(border), 0.0))[0]
    assert edge == pytest.approx(413_015.0, abs=0.6)


def test_a_system_that_contradicts_the_file_is_refused(tmp_path: Path, bands: np.ndarray) -> None:
    path = geotiff(tmp_path / "a.tif", bands, NORTH_UP, UTM)
    with pytest.raises(UserError, match=r"says that it is in WGS 84 / UTM zone 12N, not"):
        read_picture(path, UTM, "EPSG:32613")
    assert read_picture(path, UTM, UTM).transform is not None
    with pytest.raises(UserError, match="no coordinate system 'EPSG:nope'"):
        read_picture(path, UTM, "EPSG:nope")


def test_a_geotiff_without_system_is_asked(tmp_path: Path, bands: np.ndarray) -> None:
    path = geotiff(tmp_path / "a.tif", bands, NORTH_UP, None)
    with pytest.raises(UserError, match="--crs"):
        read_picture(path, UTM)
    assert map_corners(read_picture(path, UTM, UTM))[0] == [413_000, 4_340_000]


def test_a_palette_becomes_its_colours(tmp_path: Path) -> None:
    index = np.array([[[0, 1], [1, 2]]], dtype=np.uint8)
    path = geotiff(tmp_path / "a.tif", index, NORTH_UP, UTM, photometric="palette")
    with rasterio.open(path, "r+") as target:
        target.write_colormap(1, {0: (*RED, 255), 1: (*GREEN, 255), 2: (9, 8, 7, 255)})
    pixels = read_picture(path, UTM).pixels
    assert pixels[0, 0].tolist() == [*RED, 255]
    assert pixels[1, 1].tolist() == [9, 8, 7, 255]


def test_bands_follow_their_meaning_and_opacity_is_kept(tmp_path: Path) -> None:
    bands = np.zeros((4, 2, 2), dtype=np.uint8)
    bands[0], bands[1], bands[2] = 10, 20, 30
    bands[3] = [[255, 0], [255, 255]]
    path = geotiff(tmp_path / "a.tif", bands, NORTH_UP, UTM, photometric="RGB", alpha="yes")
    with rasterio.open(path, "r+") as target:
        target.colorinterp = (
            ColorInterp.blue, ColorInterp.green, ColorInterp.red, ColorInterp.alpha,
        )  # fmt: skip
    pixels = read_picture(path, UTM).pixels
    assert pixels[0, 0].tolist() == [30, 20, 10, 255]
    assert pixels[0, 1, 3] == 0


def test_numbers_wider_than_a_byte_are_stretched_and_told(tmp_path: Path) -> None:
    heights = np.linspace(29_332, 31_000, 200, dtype=np.uint16).reshape(1, 10, 20)
    heights[0, 0, 0] = 0
    path = geotiff(tmp_path / "a.tif", heights, NORTH_UP, UTM, nodata=0)
    picture = read_picture(path, UTM)
    assert [finding.code for finding in picture.findings] == ["image-stretched"]
    assert picture.pixels[0, 0, 3] == 0
    assert picture.pixels[9, 19].tolist() == [255, 255, 255, 255]
    assert picture.pixels[0, 1, 0] == 0
    assert 100 < picture.pixels[5, 0, 0] < 160


def test_a_photo_is_turned_as_its_camera_says(tmp_path: Path, colours: np.ndarray) -> None:
    photo = Image.fromarray(colours)
    exif = photo.getexif()
    exif[0x0112] = 6  # the top of the scene is at the right of what is stored
    photo.save(tmp_path / "a.jpg", exif=exif, quality=95)
    turned = read_picture(tmp_path / "a.jpg", UTM)
    assert turned.size_px == (40, 60)
    np.testing.assert_allclose(turned.pixels[5, 35, :3], RED, atol=12)
    (tmp_path / "a.jgw").write_text(WORLD)  # a world file speaks of pixels as stored
    assert read_picture(tmp_path / "a.jpg", UTM, UTM).size_px == (60, 40)


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGBA", "I;16"])
def test_pngs_of_every_mode_are_read(tmp_path: Path, colours: np.ndarray, mode: str) -> None:
    if mode == "I;16":
        picture = Image.fromarray(colours[..., 0].astype(np.uint16) * 257)
    else:
        picture = Image.fromarray(colours).convert(mode)
    picture.save(tmp_path / "a.png")
    pixels = read_picture(tmp_path / "a.png", UTM).pixels
    assert pixels.shape == (40, 60, 4)
    assert pixels[35, 55, 0] > pixels[35, 5, 0]


def _text(path: Path) -> None:
    path.write_text("not a picture at all")


def _cut(path: Path) -> None:
    Image.fromarray(quarters(600, 400)).save(path, format="PNG")
    path.write_bytes(path.read_bytes()[:700])


def _empty(path: Path) -> None:
    path.write_bytes(b"")


@pytest.mark.parametrize("spoil", [_text, _cut, _empty])
@pytest.mark.parametrize("ending", [".png", ".tif", ".jpg"])
def test_what_is_no_picture_is_refused_with_a_sentence(
    tmp_path: Path, spoil: Callable[[Path], None], ending: str
) -> None:
    path = tmp_path / f"broken{ending}"
    spoil(path)
    with pytest.raises(UserError, match="broken") as told:
        read_picture(path, UTM)
    assert str(tmp_path) not in str(told.value)


def test_other_files_are_refused(tmp_path: Path) -> None:
    (tmp_path / "a.pdf").write_bytes(b"%PDF")
    with pytest.raises(UserError, match=r"no picture that can be read. Known endings: .png"):
        read_picture(tmp_path / "a.pdf", UTM)
    with pytest.raises(UserError, match="There is no file"):
        read_picture(tmp_path / "b.png", UTM)


def test_a_tiff_under_a_wrong_driver_is_not_opened(tmp_path: Path) -> None:
    """A virtual raster names other files; behind a picture's ending it stays unread."""
    secret = geotiff(tmp_path / "s.tif", np.ones((1, 4, 4), np.uint8), NORTH_UP, UTM)
    (tmp_path / "a.tif").write_text(
        '<VRTDataset rasterXSize="4" rasterYSize="4"><VRTRasterBand dataType="Byte" band="1">'
        f"<SimpleSource><SourceFilename>{secret}</SourceFilename><SourceBand>1</SourceBand>"
        "</SimpleSource></VRTRasterBand></VRTDataset>"
    )
    with pytest.raises(UserError, match="neither a PNG, nor a JPEG, nor a TIFF"):
        read_picture(tmp_path / "a.tif", UTM)


def test_bombs_are_refused_before_they_unpack(tmp_path: Path) -> None:
    flat = Image.new("1", (40_000, 40_000))
    flat.save(tmp_path / "bomb.png")
    assert (tmp_path / "bomb.png").stat().st_size < 1_000_000
    with pytest.raises(UserError, match=r"40000 × 40000 pixels; up to 80 million"):
        read_picture(tmp_path / "bomb.png", UTM)


def test_large_files_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Image.fromarray(quarters()).save(tmp_path / "a.png")
    monkeypatch.setattr(pictures, "MAX_BYTES", 10)
    with pytest.raises(UserError, match="pictures up to 200 MB are read"):
        read_picture(tmp_path / "a.png", UTM)


def refusal(path: Path, record: str = UTM, crs: str | None = None) -> str | None:
    """What is said against a picture, or None where it is read."""
    try:
        read_picture(path, record, crs)
    except UserError as told:
        return str(told)
    return None


def test_mutated_pictures_never_crash(tmp_path: Path) -> None:
    """Bytes exchanged at random: read or refused with a sentence, nothing else."""
    random = np.random.default_rng(5)
    made = {".png": tmp_path / "a.png", ".jpg": tmp_path / "a.jpg", ".tif": tmp_path / "a.tif"}
    for ending in (".png", ".jpg"):
        Image.fromarray(quarters()).save(made[ending])
    geotiff(made[".tif"], np.moveaxis(quarters(), -1, 0), NORTH_UP, UTM, compress="deflate")
    for ending, source in made.items():
        whole = source.read_bytes()
        for number in range(150):
            spoiled = bytearray(whole)
            for place in random.integers(0, len(whole), 1 + number % 7):
                spoiled[place] = int(random.integers(256))
            path = tmp_path / f"m{ending}"
            path.write_bytes(bytes(spoiled))
            told = refusal(path)
            assert told is None or told.endswith(".")


REAL = os.environ.get("NIGHTWATER_DATA")


@pytest.mark.skipif(not REAL, reason="NIGHTWATER_DATA does not name the folder of real files")
@pytest.mark.parametrize(
    ("name", "record", "crs"),
    [
        ("small_dem_3m_merged.tif", "EPSG:32615", None),
        ("lux_elev.tif", "EPSG:32632", None),
        ("rotated.tif", "EPSG:32615", None),
        ("float_nan.tif", "EPSG:32615", "EPSG:32615"),
    ],
)
def test_real_rasters_are_shown_or_refused(name: str, record: str, crs: str | None) -> None:
    path = Path(str(REAL)) / "dem" / name
    told = refusal(path, record, crs)
    if told is not None:
        assert name in told
        return
    picture = read_picture(path, record, crs)
    if name == "lux_elev.tif" and picture.transform is not None:
        low, high = map_corners(picture)
        assert 240_000 < low[0] < high[0] < 330_000  # Luxembourg in zone 32
        assert 5_460_000 < high[1] < low[1] < 5_570_000
