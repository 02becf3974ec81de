"""Survey files that people sent, kept while they look at what they would change."""

from __future__ import annotations

from pathlib import Path

from nightwater.findings import UserError
from nightwater.survey.sources import ENDINGS
from nightwater.web.sent_files import SentFiles, safe_name


class Uploads:
    """Files of an ending that survey reads."""

    def __init__(self) -> None:
        self._sent = SentFiles("nightwater-survey-")

    def keep(self, person: str, name: str, content: bytes) -> str:
        """Keep a file under a token that nobody can guess.

        Raises:
            UserError: no file was chosen, or its ending is none that is read.
        """
        plain = safe_name(name)
        if not plain or not content:
            raise UserError("No file was chosen, or it is empty.")
        if Path(plain).suffix.lower() not in ENDINGS:
            raise UserError(
                f"{plain}: files with this ending are not read. Known: {', '.join(ENDINGS)}."
            )
        token, place = self._sent.new_place(person)
        (place / plain).write_bytes(content)
        return token

    def path(self, person: str, token: str) -> Path:
        """The file of a token, for the person who sent it.

        Raises:
            NotFoundError: there is none, or another person sent it.
        """
        return self._sent.files(person, token, "file")[0]

    def forget(self, person: str, token: str) -> None:
        """Remove a file that is no longer needed."""
        self._sent.forget(person, token)
