"""A limit on guessing passwords, kept in the access file so that a restart does not lift it."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

from nightwater.findings import UserError
from nightwater.web.access.file import AccessFile, instant

SPAN: Final = timedelta(minutes=15)
MOST_FOR_NAME_AND_ADDRESS: Final = 5
MOST_FOR_NAME: Final = 25
MOST_FOR_ADDRESS: Final = 25


class TooManyAttemptsError(UserError):
    """Too many wrong passwords in too short a time."""


def check_attempts(access: AccessFile, name: str, address: str, now: datetime) -> None:
    """Refuse a login after too many failures in the last quarter of an hour.

    Few are allowed for one name from one address; more in all for a name or an address,
    so that one guesser does not lock everybody out at the first go.

    Raises:
        TooManyAttemptsError: says how long to wait.
    """
    since = instant(now - SPAN)
    name = name.strip().lower()
    counts = access.rows(
        "SELECT sum(name = ? AND address = ?) AS both, sum(name = ?) AS name, "
        "sum(address = ?) AS address FROM attempts WHERE time > ?",
        name, address, name, address, since,
    )[0]  # fmt: skip
    over = (
        (counts["both"] or 0) >= MOST_FOR_NAME_AND_ADDRESS
        or (counts["name"] or 0) >= MOST_FOR_NAME
        or (counts["address"] or 0) >= MOST_FOR_ADDRESS
    )
    if over:
        minutes = int(SPAN.total_seconds() // 60)
        raise TooManyAttemptsError(
            f"Too many wrong passwords. Wait {minutes} minutes, or ask an owner for a new link."
        )


def note_failure(access: AccessFile, name: str, address: str, now: datetime) -> None:
    """Remember a wrong password; forget those of long ago."""
    with access.writing() as rows:
        rows.execute("DELETE FROM attempts WHERE time <= ?", [instant(now - SPAN)])
        rows.execute(
            "INSERT INTO attempts VALUES (?, ?, ?)", [name.strip().lower(), address, instant(now)]
        )


def forget_failures(access: AccessFile, name: str, address: str) -> None:
    """A right password clears the count of that name at that address."""
    with access.writing() as rows:
        rows.execute(
            "DELETE FROM attempts WHERE name = ? AND address = ?", [name.strip().lower(), address]
        )
