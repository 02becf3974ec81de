"""The access file beside a course: people, sessions, links and login attempts.

It is a file of its own so that a course file can be handed out without credentials
(docs/decisions/0005-accounts-beside-the-course-file.md).
"""

from __future__ import annotations

import os
import secrets
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

_SCHEMA: Final = """
CREATE TABLE IF NOT EXISTS secrets (name TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS users (
    id TEXT PRIMARY KEY,
    name TEXT NOT NULL UNIQUE COLLATE NOCASE,
    role TEXT NOT NULL CHECK (role IN ('owner', 'planner', 'crew', 'viewer')),
    password_hash TEXT,
    made TEXT NOT NULL
);
CREATE TABLE IF NOT EXISTS links (
    token_hash TEXT PRIMARY KEY,
    user TEXT REFERENCES users(id) ON DELETE CASCADE,
    expires TEXT NOT NULL
);
CREATE TABLE IF NOT EXISTS sessions (
    id_hash TEXT PRIMARY KEY,
    user TEXT NOT NULL REFERENCES users(id) ON DELETE CASCADE,
    expires TEXT NOT NULL
);
CREATE TABLE IF NOT EXISTS attempts (name TEXT NOT NULL, address TEXT NOT NULL, time TEXT NOT NULL);
CREATE INDEX IF NOT EXISTS attempts_by_time ON attempts (time);
"""
_BUSY_S: Final = 10.0


def access_path(course: Path) -> Path:
    """Where the access file of a course lies."""
    return course.with_name(f"{course.name}.access.sqlite")


def instant(moment: datetime) -> str:
    """An instant as the file keeps it; sorts as text."""
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


class AccessFile:
    """The access file of one course, readable by its owner alone."""

    def __init__(self, path: Path) -> None:
        """Open, or make with mode 0600 and a fresh signing secret."""
        self.path = path
        os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
        path.chmod(0o600)
        with self.writing() as rows:
            rows.executescript(_SCHEMA)
            rows.execute(
                "INSERT OR IGNORE INTO secrets VALUES ('signing', ?)", [secrets.token_hex(32)]
            )

    def _connected(self) -> sqlite3.Connection:
        connection = sqlite3.connect(self.path, timeout=_BUSY_S)
        connection.row_factory = sqlite3.Row
        connection.execute("PRAGMA foreign_keys = ON")
        return connection

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """A connection whose changes are kept together or not at all."""
        connection = self._connected()
        try:
            with connection:
                yield connection
        finally:
            connection.close()

    def rows(self, query: str, *values: Any) -> list[sqlite3.Row]:
        """What a query finds."""
        connection = self._connected()
        try:
            return connection.execute(query, values).fetchall()
        finally:
            connection.close()

    def signing_secret(self) -> str:
        """The secret that signs cookies and form tokens."""
        return str(self.rows("SELECT value FROM secrets WHERE name = 'signing'")[0]["value"])
