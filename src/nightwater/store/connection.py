"""One SQLite connection policy: write-ahead log, foreign keys, one writer at a time."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.exc import OperationalError

from nightwater.findings import ConflictError, UserError

BUSY_TIMEOUT_MS: Final = 5000


def _prepare(connection: Any, _record: Any) -> None:
    connection.isolation_level = None  # we say BEGIN ourselves, see `_begin`
    for pragma in (
        f"busy_timeout = {BUSY_TIMEOUT_MS}",
        "journal_mode = WAL",
        "synchronous = FULL",
        "foreign_keys = ON",
    ):
        connection.execute(f"PRAGMA {pragma}")


def _begin(connection: Connection) -> None:
    write = connection.get_execution_options().get("write", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if write else "BEGIN")


def engine_for(path: Path) -> Engine:
    """An engine for a course file."""
    engine = create_engine(f"sqlite:///{path}")
    event.listen(engine, "connect", _prepare)
    event.listen(engine, "begin", _begin)
    return engine


def _told(problem: OperationalError, path: Path) -> UserError | None:
    text = str(problem.orig)
    if "locked" in text or "busy" in text:
        return ConflictError(
            f"{path.name} is being written by somebody else. Nothing was saved; try again."
        )
    if "readonly" in text:
        return UserError(f"{path.name} may not be written. Check the file's permissions.")
    if "full" in text:
        return UserError(f"The disk is full; nothing was saved in {path.name}.")
    return None


@contextmanager
def writing(engine: Engine, path: Path) -> Iterator[Connection]:
    """A transaction that saves all or nothing.

    Raises:
        ConflictError: another process is writing.
        UserError: the file may not be written, or the disk is full.
    """
    try:
        with engine.execution_options(write=True).begin() as connection:
            yield connection
    except OperationalError as problem:
        told = _told(problem, path)
        if told is None:
            raise
        raise told from None


@contextmanager
def reading(engine: Engine) -> Iterator[Connection]:
    """A consistent view of the file."""
    with engine.connect() as connection:
        yield connection
