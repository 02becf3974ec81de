"""Files that people sent, kept while they look at what they would change."""

from __future__ import annotations

import re
import secrets
import shutil
import tempfile
from pathlib import Path
from typing import Final

from nightwater.findings import NotFoundError, UserError
from nightwater.survey.sources import ENDINGS

_SAFE: Final = re.compile(r"[^\w. -]")
_TOKEN: Final = re.compile(r"[0-9a-f]{32}")
_LONGEST_NAME: Final = 80


class Uploads:
    """A folder of the server's own, gone when the server is."""

    def __init__(self) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="nightwater-survey-")

    def _place(self, person: str, token: str) -> Path:
        return Path(self._folder.name) / f"{person}-{token}"

    def keep(self, person: str, name: str, content: bytes) -> str:
        """Keep a file under a token that nobody can guess.

        Raises:
            UserError: no file was chosen, or its ending is none that is read.
        """
        plain = _SAFE.sub("_", Path(name.replace("\\", "/")).name)[-_LONGEST_NAME:].strip()
        if not plain or not content:
            raise UserError("No file was chosen, or it is empty.")
        if Path(plain).suffix.lower() not in ENDINGS:
            raise UserError(
                f"{plain}: files with this ending are not read. Known: {', '.join(ENDINGS)}."
            )
        token = secrets.token_hex(16)
        place = self._place(person, token)
        place.mkdir(parents=True)
        (place / plain).write_bytes(content)
        return token

    def path(self, person: str, token: str) -> Path:
        """The file of a token, for the person who sent it.

        Raises:
            NotFoundError: there is none, or another person sent it.
        """
        place = self._place(person, token) if _TOKEN.fullmatch(token) else None
        files = sorted(place.iterdir()) if place is not None and place.is_dir() else []
        if not files:
            raise NotFoundError("This file is no longer here. Send it again.")
        return files[0]

    def forget(self, person: str, token: str) -> None:
        """Remove a file that is no longer needed."""
        if _TOKEN.fullmatch(token):
            shutil.rmtree(self._place(person, token), ignore_errors=True)
