"""A complete copy of a course file, whole or not at all."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from nightwater.findings import UserError


def copy_whole(path: Path, target: Path) -> None:
    """Copy a course file while others go on using it; an existing target is kept.

    Raises:
        UserError: the target exists or cannot be written.
    """
    if target.exists():
        raise UserError(f"{target} exists already. Choose another name; it was not touched.")
    part = target.with_name(f".{target.name}.part")
    try:
        with closing(sqlite3.connect(path)) as source, closing(sqlite3.connect(part)) as copy:
            source.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")
        part.replace(target)
    except (OSError, sqlite3.Error) as problem:
        part.unlink(missing_ok=True)
        raise UserError(f"{target} cannot be written: {problem}.") from None
