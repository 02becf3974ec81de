"""Pictures that people sent, kept while they look at where they would lie."""

from __future__ import annotations

import re
import secrets
import shutil
import tempfile
from pathlib import Path
from typing import BinaryIO, Final

from nightwater.findings import NotFoundError, UserError
from nightwater.survey.picture_files import SENT_ENDINGS, keep_world_file
from nightwater.survey.source_files import MAX_BYTES

_SAFE: Final = re.compile(r"[^\w. -]")
_TOKEN: Final = re.compile(r"[0-9a-f]{32}")
_LONGEST_NAME: Final = 80
_MOST_WORLD_BYTES: Final = 65_536


def plain_name(name: str) -> str:
    """The last part of a name, without what could lead elsewhere."""
    return _SAFE.sub("_", Path(name.replace("\\", "/")).name)[-_LONGEST_NAME:].strip()


class SentPictures:
    """A folder of the server's own, gone when the server is; one picture a person."""

    def __init__(self) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="nightwater-pictures-")

    def _place(self, person: str, token: str) -> Path:
        return Path(self._folder.name) / person / token

    def keep(self, person: str, name: str, file: BinaryIO, world: BinaryIO | None) -> str:
        """Keep a picture, with a world file beside it, under a token that nobody can guess.

        What the person sent before is removed: they were not asked to keep two.

        Raises:
            UserError: no file, one of an ending that is not read, more than 200 MB, or a world
                file that is none.
        """
        plain = plain_name(name)
        if not plain:
            raise UserError("No picture was chosen.")
        if Path(plain).suffix.lower() not in SENT_ENDINGS:
            known = ", ".join(SENT_ENDINGS)
            raise UserError(f"{plain} is no picture that can be read. Known endings: {known}.")
        shutil.rmtree(Path(self._folder.name) / person, ignore_errors=True)
        token = secrets.token_hex(16)
        place = self._place(person, token)
        place.mkdir(parents=True)
        try:
            _write(place / plain, file)
            if world is not None:
                keep_world_file(place / plain, world.read(_MOST_WORLD_BYTES), "The world file")
        except BaseException:
            shutil.rmtree(place, ignore_errors=True)
            raise
        return token

    def path(self, person: str, token: str) -> Path:
        """The picture of a token, for the person who sent it.

        Raises:
            NotFoundError: there is none, or another person sent it.
        """
        place = self._place(person, token) if _TOKEN.fullmatch(token) else None
        files = sorted(place.iterdir()) if place is not None and place.is_dir() else []
        for file in files:
            if file.suffix.lower() in SENT_ENDINGS:
                return file
        raise NotFoundError("This picture is no longer here. Send it again.")

    def forget(self, person: str) -> None:
        """Remove what a person sent."""
        shutil.rmtree(Path(self._folder.name) / person, ignore_errors=True)


def _write(target: Path, file: BinaryIO) -> None:
    with target.open("wb") as kept:
        shutil.copyfileobj(file, kept, 1_048_576)
    size = target.stat().st_size
    if size == 0:
        raise UserError(f"{target.name} is empty.")
    if size > MAX_BYTES:
        raise UserError(f"{target.name} has {size / 1e6:.0f} MB; pictures up to 200 MB are read.")
