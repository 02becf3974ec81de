"""Is this file a course file?"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Final

from nightwater.findings import NotFoundError, UserError
from nightwater.store.geopackage import APPLICATION_ID

_SQLITE: Final = b"SQLite format 3\x00"
_OURS: Final = {"settings", "revisions", "heads", "areas", "stations", "nights", "alembic_version"}


def _looked_at(path: Path) -> tuple[int, set[str]]:
    with closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as connection:
        application = int(connection.execute("PRAGMA application_id").fetchone()[0])
        names = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        return application, {str(row[0]) for row in names}


def _first_bytes(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(len(_SQLITE))
    except OSError as trouble:
        raise UserError(f"{path} cannot be read: {trouble.strerror}.") from trouble


def check_course_file(path: Path) -> None:
    """Refuse what is not a course file; nothing is written.

    Raises:
        NotFoundError: no such file.
        UserError: not SQLite, not a GeoPackage, or not one of ours.
    """
    if not path.exists():
        raise NotFoundError(f"There is no file {path}. 'nightwater new' makes a course.")
    if path.is_dir() or _first_bytes(path) != _SQLITE:
        raise UserError(f"{path.name} is not a course file (it is no SQLite database).")
    try:
        application, names = _looked_at(path)
    except sqlite3.DatabaseError as trouble:
        raise UserError(f"{path.name} cannot be read ({trouble}). Restore a backup.") from trouble
    if application != APPLICATION_ID or "gpkg_contents" not in names:
        raise UserError(f"{path.name} is an SQLite database, but not a course file.")
    if not names >= _OURS:
        raise UserError(
            f"{path.name} is a GeoPackage, but not a course file. Make a course with "
            "'nightwater new' and read this file with 'nightwater survey'."
        )
