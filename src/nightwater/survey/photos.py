"""Somebody's photo as the course keeps it: upright, smaller, and without what the camera wrote."""

from __future__ import annotations

import io
import struct
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Final

from PIL import Image, UnidentifiedImageError

from nightwater.findings import UserError

MAX_PHOTO_BYTES: Final = 20 * 1024 * 1024
MAX_PHOTO_PIXELS: Final = 64_000_000  # what phones take; more is a panorama or a trap
LONGEST_PX: Final = 2048  # enough to read the stamp on a nozzle
SMALL_PX: Final = 320
_QUALITY: Final = {"whole": 85, "small": 75}
_FORMATS: Final = ("JPEG", "PNG")
# What the library raises on broken files.
_BROKEN: Final = (
    OSError, ValueError, SyntaxError, EOFError, struct.error, LookupError, TypeError,
    ArithmeticError,
)  # fmt: skip
_ORIENTATION: Final = 0x0112  # EXIF 2.3, table 6
_TURNS: Final = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}


@dataclass(frozen=True)
class KeptPhoto:
    """A photo drawn anew.

    Attributes:
        contents: JPEG files by size: "whole", at most `LONGEST_PX` long, and "small".
        size_px: width and height of the whole.
    """

    contents: dict[str, bytes]
    size_px: tuple[int, int]


def read_photo(content: bytes, name: str) -> KeptPhoto:
    """A JPEG or PNG turned upright as its camera says, drawn anew as JPEG in two sizes.

    Only pixels are taken over: place, camera, person, comments and an embedded preview stay
    behind. What is see-through becomes white; of several pictures in a file the first is taken.

    Raises:
        UserError: neither JPEG nor PNG, broken, more than 20 MB, or more than 64 million pixels.
    """
    if not content:
        raise UserError("No photo was chosen, or the file is empty.")
    if len(content) > MAX_PHOTO_BYTES:
        raise UserError(
            f"{name} has {len(content) / 1048576:.0f} MB; photos of up to "
            f"{MAX_PHOTO_BYTES // 1048576} MB are taken. Send it in a smaller size."
        )
    with _readable(name), Image.open(io.BytesIO(content), formats=_FORMATS) as opened:
        _check_pixels(opened.size, name)
        opened.draft("RGB", (LONGEST_PX, LONGEST_PX))  # a JPEG is unpacked no larger than needed
        whole = _plain(opened)
    small = whole.copy()
    small.thumbnail((SMALL_PX, SMALL_PX))
    contents = {"whole": _jpeg(whole, "whole"), "small": _jpeg(small, "small")}
    return KeptPhoto(contents, whole.size)


def _check_pixels(size_px: tuple[int, int], name: str) -> None:
    width, height = size_px
    if width * height > MAX_PHOTO_PIXELS:
        raise UserError(
            f"{name} has {width} × {height} pixels; photos of up to "
            f"{MAX_PHOTO_PIXELS // 1_000_000} million are taken. Send it in a smaller size."
        )


def _plain(opened: Image.Image) -> Image.Image:
    """The pixels alone, upright and small enough, on white."""
    turn = _turn(opened)
    opened.thumbnail((LONGEST_PX, LONGEST_PX))
    seen = opened.convert("RGBA")
    if turn is not None:
        seen = seen.transpose(turn)
    plain = Image.new("RGB", seen.size, "white")
    plain.paste(seen, mask=seen.getchannel("A"))
    return plain


def _turn(opened: Image.Image) -> Image.Transpose | None:
    """What brings a photo upright; nothing where the camera did not say, or said it brokenly."""
    try:
        return _TURNS.get(opened.getexif().get(_ORIENTATION, 1))
    except _BROKEN:
        return None


def _jpeg(picture: Image.Image, size: str) -> bytes:
    target = io.BytesIO()
    picture.save(target, "JPEG", quality=_QUALITY[size], optimize=True)
    return target.getvalue()


@contextmanager
def _readable(name: str) -> Iterator[None]:
    """Anything that the library says about a bad file, as a sentence."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # our own bound on pixels is the stricter one
            yield
    except Image.DecompressionBombError:
        raise UserError(
            f"{name} would unpack to more pixels than a photo has. Send it in a smaller size."
        ) from None
    except UnidentifiedImageError:
        raise UserError(
            f"{name} is neither a JPEG nor a PNG inside. Set the camera to JPEG, or save the "
            "photo as one."
        ) from None
    except _BROKEN as trouble:
        reason = " ".join(str(trouble).split())[:120] or type(trouble).__name__
        raise UserError(f"{name} cannot be read as a photo: {reason}. Send it again.") from None
    except MemoryError:
        raise UserError(f"{name} is too large for this machine.") from None
