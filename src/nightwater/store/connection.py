"""One connection to a course file: how it is opened, read and written."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import URL
from sqlalchemy.exc import DatabaseError, IntegrityError

from nightwater.findings import ConflictError, UserError

WAIT_S: Final = 10.0
_PRAGMAS: Final = (
    "PRAGMA journal_mode = WAL",
    "PRAGMA synchronous = FULL",
    "PRAGMA foreign_keys = ON",
    "PRAGMA recursive_triggers = ON",
)


def connect(path: Path, wait_s: float = WAIT_S) -> Engine:
    """An engine on a file; nothing is read yet.

    Args:
        path: the SQLite file.
        wait_s: how long a deed waits for another program's write to end [s].
    """
    url = URL.create("sqlite", database=str(path))
    engine = create_engine(url, connect_args={"timeout": wait_s, "check_same_thread": False})
    event.listen(engine, "connect", _prepare)
    return engine


def _prepare(connection: Any, _record: Any) -> None:
    # None: we say BEGIN ourselves, so that a write takes its lock before it reads.
    connection.isolation_level = None
    for pragma in _PRAGMAS:
        connection.execute(pragma)


def _sentence(trouble: DatabaseError) -> UserError:
    words = str(trouble.orig)
    if "locked" in words or "busy" in words:
        return ConflictError(
            "Another program is writing to the course file; nothing was saved. "
            "Try again in a moment."
        )
    if isinstance(trouble, IntegrityError):
        return UserError(f"The course file refuses the rows: {words}. Nothing was saved.")
    if "readonly" in words or "unable to open" in words:
        return UserError("The course file cannot be written. Check the rights of file and folder.")
    if "full" in words:
        return UserError("The disk is full; nothing was saved. Make room and try again.")
    return UserError(
        f"The course file cannot be read ({words}). Restore a backup, or ask who made it."
    )


@contextmanager
def _transaction(engine: Engine, begin: str) -> Iterator[Connection]:
    try:
        with engine.connect() as connection:
            connection.exec_driver_sql(begin)
            yield connection
            connection.commit()
    except DatabaseError as trouble:
        raise _sentence(trouble) from trouble


def reading(engine: Engine) -> AbstractContextManager[Connection]:
    """A context in which everything read belongs to one moment."""
    return _transaction(engine, "BEGIN")


def writing(engine: Engine) -> AbstractContextManager[Connection]:
    """A context whose writes are saved whole at its end, or not at all.

    Raises:
        ConflictError: another program writes and does not end in time.
        UserError: the rows break a rule of the file, or the disk does not take them.
    """
    return _transaction(engine, "BEGIN IMMEDIATE")
