"""Files that people sent, kept under a token while they look at what would come of them."""

from __future__ import annotations

import re
import secrets
import shutil
import tempfile
from pathlib import Path
from typing import Final

from nightwater.findings import NotFoundError

_SAFE: Final = re.compile(r"[^\w. -]")
_TOKEN: Final = re.compile(r"[0-9a-f]{32}")
_LONGEST_NAME: Final = 80


def safe_name(name: str) -> str:
    """The last part of a name, without what could lead elsewhere; may be empty."""
    return _SAFE.sub("_", Path(name.replace("\\", "/")).name)[-_LONGEST_NAME:].strip()


class SentFiles:
    """A folder of the server's own, gone when the server is; a place for each sending."""

    def __init__(self, prefix: str) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix=prefix)

    def _place(self, person: str, token: str) -> Path:
        return Path(self._folder.name) / person / token

    def new_place(self, person: str) -> tuple[str, Path]:
        """A token that nobody can guess, and its empty folder."""
        token = secrets.token_hex(16)
        place = self._place(person, token)
        place.mkdir(parents=True)
        return token, place

    def files(self, person: str, token: str, what: str) -> list[Path]:
        """The files of a token, by name, for the person who sent them; at least one.

        Args:
            person: who asks.
            token: as `new_place` gave it.
            what: for the message, like "file".

        Raises:
            NotFoundError: there are none, or another person sent them.
        """
        place = self._place(person, token) if _TOKEN.fullmatch(token) else None
        found = sorted(place.iterdir()) if place is not None and place.is_dir() else []
        if not found:
            raise NotFoundError(f"This {what} is no longer here. Send it again.")
        return found

    def forget(self, person: str, token: str) -> None:
        """Remove what was sent under a token."""
        if _TOKEN.fullmatch(token):
            shutil.rmtree(self._place(person, token), ignore_errors=True)

    def forget_all(self, person: str) -> None:
        """Remove whatever a person sent."""
        shutil.rmtree(Path(self._folder.name) / person, ignore_errors=True)
