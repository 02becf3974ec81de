"""Somebody's picture as colours, with its place where the file tells it.

GDAL reads where a picture lies (GeoTIFF keys, or a world file beside it) and what a TIFF shows;
Pillow reads PNG and JPEG.
"""

from __future__ import annotations

import logging
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import rasterio
from affine import Affine
from numpy.typing import NDArray
from PIL import Image, ImageOps, UnidentifiedImageError
from pyproj import CRS
from pyproj.exceptions import CRSError
from rasterio.enums import ColorInterp, Resampling
from rasterio.errors import RasterioError
from rasterio.warp import calculate_default_transform, reproject

from nightwater.findings import Finding, UserError, note
from nightwater.ground.transforms import Transform, TransformKind, transform_from
from nightwater.survey.source_files import MAX_BYTES

# What GDAL mutters about a file is either our sentence or nothing that a person can mend.
logging.getLogger("rasterio").setLevel(logging.CRITICAL)

MAX_PIXELS: Final = 80_000_000  # 9 km² at a third of a metre
PICTURE_ENDINGS: Final = (".png", ".jpg", ".jpeg", ".tif", ".tiff")
# The reader is named by the first bytes, so that no file chooses another one for itself.
_DRIVERS: Final = (
    (b"\x89PNG\r\n\x1a\n", "PNG"),
    (b"\xff\xd8\xff", "JPEG"),
    (b"II*\x00", "GTiff"),
    (b"MM\x00*", "GTiff"),
    (b"II+\x00", "GTiff"),
    (b"MM\x00+", "GTiff"),
)
_STRETCH_PCT: Final = (2.0, 98.0)
_OPAQUE: Final = 255

Pixels = NDArray[np.uint8]


@dataclass(frozen=True)
class Picture:
    """A picture that was read.

    Attributes:
        name: of its file.
        pixels: red, green, blue, opacity; shape (rows, columns, 4).
        transform: pixels to the record's metres, or None where the file does not tell.
        findings: doubts about the file.
    """

    name: str
    pixels: Pixels
    transform: Transform | None
    findings: tuple[Finding, ...]

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height."""
        return self.pixels.shape[1], self.pixels.shape[0]


def read_picture(
    path: Path, record_crs: str, crs: str | None = None, *, placed: bool = False
) -> Picture:
    """Read a PNG, JPEG or TIFF, with its place if the file or a world file beside it tells it.

    What lies in another coordinate system than the record is drawn anew in the record's metres.

    Args:
        path: the picture; a world file bears the same name and ends in .pgw, .jgw, .tfw or .wld.
        record_crs: the record's system.
        crs: the system a world file is in, "EPSG:n"; GeoTIFF usually says its own.
        placed: whether control points place it, so that what the file tells is left aside.

    Raises:
        UserError: not a picture, too large, or its coordinate system is not known.
    """
    _check_file(path)
    with _readable(path.name), rasterio.open(path, driver=_driver(path)) as source:
        _check_pixels(source.width, source.height, path.name)
        where = None if placed or source.transform.is_identity else source.transform
        system = None if where is None else _system(source.crs, crs, path.name)
        pixels = _tiff_pixels(source, path.name)
        findings: list[Finding] = []
        if pixels is not None and pixels.dtype != np.uint8:
            pixels, findings = _stretched(pixels, path.name)
    if pixels is None:
        pixels = _drawn_pixels(path, upright=where is None)
    if where is None or system is None:
        return Picture(path.name, pixels, None, tuple(findings))
    here = CRS.from_user_input(record_crs)
    if system != here:
        pixels, where = _drawn_anew(pixels, where, system, here, path.name)
        findings = [*findings, _moved_note(path.name, system.name, here.name)]
    return Picture(path.name, pixels, _affine(where), tuple(findings))


def _check_file(path: Path) -> None:
    if not path.is_file():
        raise UserError(f"There is no file {path}.")
    if path.suffix.lower() not in PICTURE_ENDINGS:
        known = ", ".join(PICTURE_ENDINGS)
        raise UserError(f"{path.name} is no picture that can be read. Known endings: {known}.")
    if path.stat().st_size > MAX_BYTES:
        size = path.stat().st_size / 1e6
        raise UserError(f"{path.name} has {size:.0f} MB; pictures up to 200 MB are read.")


def _driver(path: Path) -> str:
    with path.open("rb") as file:
        start = file.read(8)
    for mark, driver in _DRIVERS:
        if start.startswith(mark):
            return driver
    raise UserError(f"{path.name} is neither a PNG, nor a JPEG, nor a TIFF inside.")


def _check_pixels(width: int, height: int, name: str) -> None:
    if width * height > MAX_PIXELS:
        raise UserError(
            f"{name} has {width} × {height} pixels; up to {MAX_PIXELS // 1_000_000} million are "
            "read. Cut it to the course or save it with larger pixels."
        )


@contextmanager
def _readable(name: str) -> Iterator[None]:
    """Anything that the libraries say about a bad file, as a sentence."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # "not georeferenced" is no news here
            yield
    except (RasterioError, UnidentifiedImageError, OSError, ValueError, SyntaxError) as trouble:
        reason = " ".join(
            Path(word).name if word.startswith("/") else word for word in str(trouble).split()
        )[:160]
        raise UserError(f"{name} cannot be read as a picture: {reason}.") from None
    except MemoryError:
        raise UserError(f"{name} is too large for this machine.") from None


def _system(declared: Any, given: str | None, name: str) -> CRS:
    own = None if declared is None else CRS.from_user_input(declared.to_wkt())
    if given is None:
        if own is None:
            raise UserError(
                f"{name} has a place but does not say in which coordinate system. Say it, like "
                "EPSG:32612 (--crs)."
            )
        return own
    try:
        wanted = CRS.from_user_input(given)
    except CRSError:
        raise UserError(
            f"There is no coordinate system '{given}'. Write it like EPSG:32612."
        ) from None
    if own is not None and own != wanted:
        raise UserError(f"{name} says that it is in {own.name}, not {wanted.name}. Drop --crs.")
    return wanted


def _tiff_pixels(source: Any, name: str) -> NDArray[Any] | None:
    """What a TIFF shows, any type, shape (rows, columns, 4); None for PNG and JPEG."""
    if source.driver != "GTiff":
        return None
    if np.dtype(source.dtypes[0]).kind not in "uif":
        raise UserError(f"{name} holds {source.dtypes[0]} numbers, not a picture.")
    opacity = source.dataset_mask()
    if source.colorinterp[0] is ColorInterp.palette:
        return _from_palette(source.read(1), source.colormap(1), opacity)
    bands = source.read(_colour_bands(source))
    shape = (source.height, source.width, 4)
    pixels = np.empty(shape, dtype=bands.dtype if bands.dtype == np.uint8 else np.float32)
    pixels[..., :3] = np.moveaxis(bands, 0, -1)
    pixels[..., 3] = opacity
    return pixels


def _colour_bands(source: Any) -> list[int]:
    if source.count < 3:
        return [1]
    kinds = list(source.colorinterp)
    colours = (ColorInterp.red, ColorInterp.green, ColorInterp.blue)
    return [kinds.index(c) + 1 for c in colours] if set(colours) <= set(kinds) else [1, 2, 3]


def _from_palette(index: NDArray[Any], palette: Any, opacity: Pixels) -> Pixels:
    table = np.zeros((max(int(index.max()), *palette) + 1, 4), dtype=np.uint8)
    for entry, colour in palette.items():
        table[entry] = colour
    pixels: Pixels = table[index]
    pixels[..., 3] = np.minimum(pixels[..., 3], opacity)
    return pixels


def _stretched(values: NDArray[Any], name: str) -> tuple[Pixels, list[Finding]]:
    """Numbers wider than a byte as brightness, from their 2nd to their 98th percentile."""
    seen = (values[..., 3] > 0) & np.isfinite(values[..., :3]).all(axis=-1)
    if not seen.any():
        raise UserError(f"{name} shows nothing: no pixel has a value.")
    low, high = (float(v) for v in np.percentile(values[..., :3][seen], _STRETCH_PCT))
    scaled = (values[..., :3] - low) / max(high - low, 1e-12) * _OPAQUE
    pixels = np.zeros(values.shape, dtype=np.uint8)
    pixels[..., :3] = np.clip(np.nan_to_num(scaled), 0, _OPAQUE)
    pixels[..., 3] = np.where(seen, _OPAQUE, 0)
    doubt = note(
        "image-stretched",
        f"file:{name}",
        f"{name} holds numbers wider than a byte; {low:g} is shown black and {high:g} white.",
        "Nothing, if it is a picture; heights are read elsewhere.",
    )
    return pixels, [doubt]


def _drawn_pixels(path: Path, *, upright: bool) -> Pixels:
    """A PNG or JPEG; a photo turned as its camera says, unless a world file goes with it."""
    with _readable(path.name), Image.open(path) as opened:
        picture = ImageOps.exif_transpose(opened) if upright else opened
        return np.asarray(picture.convert("RGBA"))


def _affine(where: Affine) -> Transform:
    return transform_from(TransformKind.AFFINE, [*where[:6], 0.0, 0.0, 1.0])


def _drawn_anew(
    pixels: Pixels, where: Affine, system: CRS, here: CRS, name: str
) -> tuple[Pixels, Affine]:
    """The picture drawn north-up in another system, with about as many pixels."""
    height, width = pixels.shape[:2]
    systems = (rasterio.CRS.from_wkt(system.to_wkt()), rasterio.CRS.from_wkt(here.to_wkt()))
    edges = rasterio.transform.array_bounds(height, width, where)
    with _readable(name):
        target, columns, rows = calculate_default_transform(*systems, width, height, *edges)
        _check_pixels(columns or 0, rows or 0, name)
        drawn = np.zeros((4, rows or 0, columns or 0), dtype=np.uint8)
        reproject(
            np.ascontiguousarray(np.moveaxis(pixels, -1, 0)),
            drawn,
            src_transform=where,
            src_crs=systems[0],
            dst_transform=target,
            dst_crs=systems[1],
            resampling=Resampling.bilinear,
            src_alpha=4,
        )
    return np.ascontiguousarray(np.moveaxis(drawn, 0, -1)), target


def _moved_note(name: str, old: str, new: str) -> Finding:
    return note(
        "image-drawn-anew",
        f"file:{name}",
        f"{name} lies in {old}; it was drawn anew in the record's {new}.",
        "Nothing; keep the file if you need its own pixels.",
    )
