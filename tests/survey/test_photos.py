"""Photos: turned upright, stripped to their pixels, bounded, or refused with a sentence."""

from __future__ import annotations

import io
import struct
import zlib
from typing import Any

import numpy as np
import pytest
from PIL import Image, PngImagePlugin

from nightwater.findings import UserError
from nightwater.survey.photos import LONGEST_PX, MAX_PHOTO_BYTES, SMALL_PX, read_photo

SECRET = b"Pilar's telephone"


def written(picture: Image.Image, kind: str = "JPEG", **more: Any) -> bytes:
    target = io.BytesIO()
    picture.save(target, kind, **more)
    return target.getvalue()


def halves(width: int = 80, height: int = 40) -> Image.Image:
    """Red at the left, blue at the right."""
    pixels = np.zeros((height, width, 3), dtype=np.uint8)
    pixels[:, : width // 2, 0] = 255
    pixels[:, width // 2 :, 2] = 255
    return Image.fromarray(pixels)


def whole(content: bytes) -> Image.Image:
    kept = read_photo(content, "head.jpg")
    picture = Image.open(io.BytesIO(kept.contents["whole"]))
    assert picture.size == kept.size_px
    assert picture.format == "JPEG"
    return picture


def exif(orientation: int = 1) -> Image.Exif:
    kept = Image.Exif()
    kept[0x0112] = orientation
    kept[0x013B] = SECRET.decode()  # artist
    kept.get_ifd(0x8825)[1] = "N"
    kept.get_ifd(0x8825)[2] = (39.0, 12.0, 34.5)
    return kept


def test_place_person_and_comment_stay_behind() -> None:
    content = written(halves(), exif=exif(), comment=SECRET, icc_profile=SECRET * 20)
    assert SECRET in content
    for size, kept in read_photo(content, "head.jpg").contents.items():
        picture = Image.open(io.BytesIO(kept))
        assert SECRET not in kept, size
        assert dict(picture.getexif()) == {}
        assert set(picture.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}


def test_text_of_a_png_stays_behind() -> None:
    text = PngImagePlugin.PngInfo()
    text.add_text("Author", SECRET.decode())
    content = written(halves(), "PNG", pnginfo=text, exif=exif())
    assert SECRET in content
    assert all(SECRET not in kept for kept in read_photo(content, "a.png").contents.values())


# Where red must be: after EXIF 2.3, table 6 ("the 0th row is at the … of the scene").
@pytest.mark.parametrize(
    ("orientation", "size", "red"),
    [
        (1, (80, 40), (5, 20)),
        (2, (80, 40), (75, 20)),
        (3, (80, 40), (75, 20)),
        (4, (80, 40), (5, 20)),
        (5, (40, 80), (20, 5)),
        (6, (40, 80), (20, 5)),
        (7, (40, 80), (20, 75)),
        (8, (40, 80), (20, 75)),
    ],
)
@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_it_is_turned_as_its_camera_says(
    orientation: int, size: tuple[int, int], red: tuple[int, int], kind: str
) -> None:
    picture = whole(written(halves(), kind, exif=exif(orientation)))
    assert picture.size == size
    shown = picture.getpixel(red)
    assert isinstance(shown, tuple)
    assert shown[0] > 200
    assert shown[2] < 60


@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_both_sizes_keep_their_proportion(kind: str) -> None:
    kept = read_photo(written(halves(4000, 3000), kind), "big")
    assert kept.size_px == (LONGEST_PX, LONGEST_PX * 3 // 4)
    assert Image.open(io.BytesIO(kept.contents["small"])).size == (SMALL_PX, SMALL_PX * 3 // 4)


def test_a_small_photo_is_not_blown_up() -> None:
    kept = read_photo(written(halves(20, 10)), "tiny")
    assert kept.size_px == (20, 10)
    assert Image.open(io.BytesIO(kept.contents["small"])).size == (20, 10)


@pytest.mark.parametrize("mode", ["L", "P", "1", "LA", "RGBA", "I;16"])
def test_every_kind_of_png_is_drawn_as_colours(mode: str) -> None:
    assert whole(written(Image.new(mode, (30, 20)), "PNG")).mode == "RGB"


def test_what_is_see_through_becomes_white() -> None:
    shown = whole(written(Image.new("RGBA", (30, 20), (0, 0, 0, 0)), "PNG")).getpixel((5, 5))
    assert shown == (255, 255, 255)


def png_of(width: int, height: int) -> bytes:
    """A PNG that declares a size and holds next to nothing."""

    def chunk(kind: bytes, content: bytes) -> bytes:
        check = zlib.crc32(kind + content)
        return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", check)

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    packed = zlib.compress(b"\0" * 1000)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", packed)


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "No photo was chosen"),
        (b"hello", "neither a JPEG nor a PNG inside"),
        (b"GIF89a" + bytes(40), "neither a JPEG nor a PNG"),
        (written(halves(), "TIFF"), "neither a JPEG nor a PNG"),
        (written(halves(400, 400))[:700], "cannot be read as a photo"),
        (png_of(100, 100), "cannot be read as a photo"),
        (png_of(9000, 9000), r"9000 × 9000 pixels; photos of up to 64 million are taken"),
        (png_of(60_000, 60_000), "more pixels than a photo has"),
        (b"\xff\xd8\xff" + bytes(MAX_PHOTO_BYTES), "photos of up to 20 MB are taken"),
    ],
)
def test_what_is_no_photo_or_too_much_is_refused_with_a_sentence(
    content: bytes, sentence: str
) -> None:
    with pytest.raises(UserError, match=sentence):
        read_photo(content, "head.jpg")


def test_broken_files_are_photos_or_refused() -> None:
    chance = np.random.default_rng(7)
    seeds = [written(halves(), "JPEG", exif=exif(6)), written(halves(), "PNG", exif=exif(6))]
    refused = 0
    for number in range(600):
        content = bytearray(seeds[number % 2])
        for place in chance.integers(0, len(content), 4):
            content[place] = chance.integers(0, 256)
        try:
            assert max(read_photo(bytes(content), "x").size_px) <= LONGEST_PX
        except UserError:
            refused += 1
    assert 0 < refused < 600
