"""Pictures that people sent, kept while they look at where they would lie."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import BinaryIO, Final

from nightwater.findings import UserError
from nightwater.survey.picture_files import SENT_ENDINGS, keep_world_file
from nightwater.survey.source_files import MAX_BYTES
from nightwater.web.sent_files import SentFiles, safe_name

_MOST_WORLD_BYTES: Final = 65_536


class SentPictures:
    """One picture a person, with the world file beside it."""

    def __init__(self) -> None:
        self._sent = SentFiles("nightwater-pictures-")

    def keep(self, person: str, name: str, file: BinaryIO, world: BinaryIO | None) -> str:
        """Keep a picture, with a world file beside it, under a token that nobody can guess.

        What the person sent before is removed: they were not asked to keep two.

        Raises:
            UserError: no file, one of an ending that is not read, more than 200 MB, or a world
                file that is none.
        """
        plain = safe_name(name)
        if not plain:
            raise UserError("No picture was chosen.")
        if Path(plain).suffix.lower() not in SENT_ENDINGS:
            known = ", ".join(SENT_ENDINGS)
            raise UserError(f"{plain} is no picture that can be read. Known endings: {known}.")
        self.forget(person)
        token, place = self._sent.new_place(person)
        try:
            _write(place / plain, file)
            if world is not None:
                keep_world_file(place / plain, world.read(_MOST_WORLD_BYTES), "The world file")
        except BaseException:
            self._sent.forget(person, token)
            raise
        return token

    def path(self, person: str, token: str) -> Path:
        """The picture of a token, for the person who sent it.

        Raises:
            NotFoundError: there is none, or another person sent it.
        """
        files = self._sent.files(person, token, "picture")
        return next(file for file in files if file.suffix.lower() in SENT_ENDINGS)

    def forget(self, person: str) -> None:
        """Remove what a person sent."""
        self._sent.forget_all(person)


def _write(target: Path, file: BinaryIO) -> None:
    with target.open("wb") as kept:
        shutil.copyfileobj(file, kept, 1_048_576)
    size = target.stat().st_size
    if size == 0:
        raise UserError(f"{target.name} is empty.")
    if size > MAX_BYTES:
        raise UserError(f"{target.name} has {size / 1e6:.0f} MB; pictures up to 200 MB are read.")
