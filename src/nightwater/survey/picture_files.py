"""A picture with what says its place, however it comes: alone, with a world file, or zipped."""

from __future__ import annotations

import math
import shutil
import tempfile
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Final

from nightwater.findings import UserError
from nightwater.survey.archives import ARCHIVE_ERRORS, checked_members
from nightwater.survey.pictures import PICTURE_ENDINGS

WORLD_ENDINGS: Final = (
    ".wld", ".pgw", ".jgw", ".tfw", ".pngw", ".jpgw", ".jpegw", ".tifw", ".tiffw",
)  # fmt: skip
SENT_ENDINGS: Final = (*PICTURE_ENDINGS, ".zip")
_SYSTEM_ENDING: Final = ".prj"
_MAX_BESIDE_BYTES: Final = 16_384
_WORLD_NUMBERS: Final = 6


@dataclass(frozen=True)
class PictureFile:
    """A picture on the disk.

    Attributes:
        path: of the picture, its world file beside it where there is one.
        system: what a `.prj` of an archive says its coordinate system is, or None.
    """

    path: Path
    system: str | None


@contextmanager
def picture_file(path: Path) -> Iterator[PictureFile]:
    """The picture of a file; that of an archive is unpacked while the context lasts.

    Raises:
        UserError: an archive that is broken, too large, or does not hold exactly one picture.
    """
    if path.suffix.lower() != ".zip":
        yield PictureFile(path, None)
        return
    with tempfile.TemporaryDirectory() as folder:
        yield _unpacked(path, Path(folder))


def keep_world_file(picture: Path, content: bytes, name: str) -> None:
    """Put a world file beside its picture, under the name that every reader finds.

    Raises:
        UserError: it does not hold six numbers, of which a pixel's size is none.
    """
    if len(content) > _MAX_BESIDE_BYTES or not _is_world(content):
        raise UserError(
            f"{name} is no world file: it must hold six numbers, one a line (size and turn of a "
            "pixel, then the place of the first)."
        )
    picture.with_suffix(".wld").write_bytes(content)


def _is_world(content: bytes) -> bool:
    try:
        numbers = [float(word) for word in content.decode("ascii").split()]
    except ValueError:  # UnicodeDecodeError is one
        return False
    if len(numbers) != _WORLD_NUMBERS or not all(map(math.isfinite, numbers)):
        return False
    a, d, b, e, _, _ = numbers
    return a * e != b * d


def _unpacked(path: Path, folder: Path) -> PictureFile:
    members = [m for m in checked_members(path) if not _is_hidden(m.filename)]
    member = _picture(members, path.name)
    # The name inside is somebody else's: of it only the ending is used.
    target = folder / f"{path.stem}{_ending(member)}"
    try:
        with zipfile.ZipFile(path) as archive:
            with archive.open(member) as packed, target.open("wb") as file:
                shutil.copyfileobj(packed, file)
            world = _beside(archive, members, member, WORLD_ENDINGS)
            system = _beside(archive, members, member, (_SYSTEM_ENDING,))
    except ARCHIVE_ERRORS as problem:
        reason = " ".join(str(problem).split())[:160] or type(problem).__name__
        raise UserError(f"{path.name} cannot be unpacked: {reason}. Write it anew.") from None
    if world is not None:
        keep_world_file(target, world, f"The world file in {path.name}")
    text = None if system is None or world is None else system.decode("utf-8", "replace")
    return PictureFile(target, text)


def _is_hidden(name: str) -> bool:
    """Folders, and what a desktop adds of its own."""
    parts = PurePosixPath(name).parts
    return name.endswith("/") or any(part.startswith((".", "__MACOSX")) for part in parts)


def _ending(member: zipfile.ZipInfo) -> str:
    return PurePosixPath(member.filename).suffix.lower()


def _picture(members: Sequence[zipfile.ZipInfo], name: str) -> zipfile.ZipInfo:
    found = [member for member in members if _ending(member) in PICTURE_ENDINGS]
    if len(found) != 1:
        count = f"{len(found)} pictures" if found else "no picture"
        raise UserError(
            f"{name} holds {count}; one is wanted ({', '.join(PICTURE_ENDINGS)}), with its world "
            "file where it has one."
        )
    return found[0]


def _beside(
    archive: zipfile.ZipFile,
    members: Sequence[zipfile.ZipInfo],
    picture: zipfile.ZipInfo,
    endings: tuple[str, ...],
) -> bytes | None:
    """What bears the picture's name and one of these endings."""
    stem = PurePosixPath(picture.filename).with_suffix("")
    for member in members:
        same = PurePosixPath(member.filename).with_suffix("") == stem
        if same and _ending(member) in endings and member.file_size <= _MAX_BESIDE_BYTES:
            return archive.read(member)
    return None
