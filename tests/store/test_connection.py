"""How a file is opened, and what is said when it cannot be written."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from sqlalchemy.exc import IntegrityError, OperationalError

from nightwater.findings import ConflictError, UserError
from nightwater.store.connection import connect, reading, writing


def pragma(path: Path, name: str) -> object:
    engine = connect(path)
    try:
        with reading(engine) as connection:
            return connection.exec_driver_sql(f"PRAGMA {name}").scalar()
    finally:
        engine.dispose()


@pytest.mark.parametrize(
    ("name", "expected"),
    [("journal_mode", "wal"), ("foreign_keys", 1), ("synchronous", 2), ("recursive_triggers", 1)],
)
def test_every_connection_is_safe(course_path: Path, name: str, expected: object) -> None:
    assert pragma(course_path, name) == expected


def test_waiting_is_as_long_as_asked(course_path: Path) -> None:
    engine = connect(course_path, wait_s=2.5)
    with reading(engine) as connection:
        assert connection.exec_driver_sql("PRAGMA busy_timeout").scalar() == 2500
    engine.dispose()


@pytest.mark.parametrize(
    ("words", "kind", "said"),
    [
        ("database is locked", ConflictError, "Another program is writing"),
        ("database table is locked", ConflictError, "nothing was saved"),
        ("attempt to write a readonly database", UserError, "Check the rights"),
        ("unable to open database file", UserError, "Check the rights"),
        ("database or disk is full", UserError, "disk is full; nothing was saved"),
        ("database disk image is malformed", UserError, "Restore a backup"),
    ],
)
def test_every_trouble_is_one_sentence(
    course_path: Path, words: str, kind: type[UserError], said: str
) -> None:
    engine = connect(course_path)
    trouble = OperationalError("SELECT 1", None, sqlite3.OperationalError(words))
    with pytest.raises(kind, match=said) as refusal, reading(engine):
        raise trouble
    assert "SELECT" not in str(refusal.value)
    assert refusal.value.__cause__ is trouble
    engine.dispose()


def test_broken_rules_are_told_in_the_files_words(course_path: Path) -> None:
    engine = connect(course_path)
    inner = sqlite3.IntegrityError("NOT NULL constraint failed: weather.time")
    said = r"refuses the rows: NOT NULL.*weather\.time.*Nothing"
    with pytest.raises(UserError, match=said), writing(engine):
        raise IntegrityError("INSERT", None, inner)
    engine.dispose()


def test_a_bug_inside_a_write_passes_and_saves_nothing(course_path: Path) -> None:
    engine = connect(course_path)

    def bug() -> None:
        with writing(engine) as connection:
            connection.exec_driver_sql("DELETE FROM settings")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        bug()
    with reading(engine) as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM settings").scalar() == 1
    engine.dispose()


def test_reading_never_writes(course_path: Path) -> None:
    """A reader does not take the lock that a writer needs."""
    engine = connect(course_path, wait_s=0.05)
    with reading(engine) as reader:
        reader.exec_driver_sql("SELECT * FROM settings").fetchall()
        with writing(engine) as writer:
            writer.exec_driver_sql("UPDATE settings SET document = document")
        assert reader.exec_driver_sql("SELECT count(*) FROM settings").scalar() == 1
    engine.dispose()
