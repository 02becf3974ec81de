"""A complete copy of a course file, while others go on working."""

from __future__ import annotations

import os
import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path

from nightwater.findings import UserError


def _copied(source: Path, target: Path) -> None:
    with (
        closing(sqlite3.connect(f"{source.absolute().as_uri()}?mode=ro", uri=True)) as old,
        closing(sqlite3.connect(target)) as new,
    ):
        old.backup(new)
        # One file that can be mailed: no write-ahead log beside it.
        new.execute("PRAGMA journal_mode = DELETE")
        trouble = new.execute("PRAGMA quick_check").fetchone()[0]
    if trouble != "ok":
        raise UserError(f"{source.name} is damaged ({trouble}); no backup was made.")


def _flushed(path: Path) -> None:
    with path.open("rb") as file:
        os.fsync(file.fileno())


def copy_course(source: Path, target: Path) -> None:
    """Copy a SQLite file whole, under its final name only when it is complete and sound.

    Args:
        source: the course file; it may be in use.
        target: where the copy goes; an older file there is replaced.

    Raises:
        UserError: the target is the source, its folder is missing or cannot be written, or
            the source is damaged.
    """
    if target.absolute() == source.absolute() or (target.exists() and target.samefile(source)):
        raise UserError("A backup needs another name than the course file itself.")
    if not target.parent.is_dir():
        raise UserError(f"There is no folder {target.parent}. Make it first.")
    try:
        handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}-")
        os.close(handle)
    except OSError as trouble:
        raise UserError(f"{target.parent} cannot be written: {trouble.strerror}.") from trouble
    part = Path(name)
    try:
        _copied(source, part)
        _flushed(part)
        part.replace(target)
    except (OSError, sqlite3.Error) as trouble:
        raise UserError(f"No backup was made: {trouble}.") from trouble
    finally:
        part.unlink(missing_ok=True)
