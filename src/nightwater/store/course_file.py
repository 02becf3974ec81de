"""The course file: one SQLite file that is a valid OGC GeoPackage."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Final, Self, TypeVar

import pandas as pd
from sqlalchemy import Connection, Engine

from nightwater.findings import UserError
from nightwater.ground.changes import Changes, RowChange
from nightwater.ground.record import Ground
from nightwater.ground.settings import Settings
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.store import nights, photos, picture_tiles, running
from nightwater.store.backup import copy_course
from nightwater.store.connection import WAIT_S, connect, reading, writing
from nightwater.store.creating import made_file
from nightwater.store.history import PastChange, retired_ids, row_history
from nightwater.store.migrate import bring_up_to_date
from nightwater.store.opening import check_course_file
from nightwater.store.past import ground_after
from nightwater.store.revisions import (
    apply_changes,
    check_revision,
    revision_rows,
    undo_revision,
)
from nightwater.store.rows import frame
from nightwater.store.settings_checks import check_settings
from nightwater.store.settings_document import settings_from_document, settings_to_document

_Result = TypeVar("_Result")


class CourseFile:
    """A course file that is open. Close it, or use it as a context manager.

    Every deed reads one moment or saves one whole; several programs and threads may have
    the same file open.

    Attributes:
        path: the file.
        copied_to: the copy kept when opening brought an older file up to date, else None.
    """

    def __init__(self, path: Path, engine: Engine, copied_to: Path | None = None) -> None:
        self.path: Final = path
        self.copied_to: Final = copied_to
        self._engine: Final = engine

    @classmethod
    def create(cls, path: Path, settings: Settings) -> CourseFile:
        """Make an empty course; it appears under its name only when it is complete.

        Raises:
            UserError: the file exists, its folder does not, or the system is not metric.
        """
        made_file(path, settings)
        return cls.open(path)

    @classmethod
    def open(cls, path: Path, wait_s: float = WAIT_S) -> CourseFile:
        """Open a course; an older file is copied beside itself and brought up to date.

        Args:
            path: the file.
            wait_s: how long a deed waits for another program's write to end [s].

        Raises:
            NotFoundError: no such file.
            UserError: not a course file, or a newer one than this program knows.
        """
        check_course_file(path)
        engine = connect(path, wait_s)
        try:
            return cls(path, engine, bring_up_to_date(path, engine))
        except BaseException:
            engine.dispose()
            raise

    def close(self) -> None:
        """Let go of the file."""
        self._engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        value: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _read(self, deed: Callable[[Connection], _Result]) -> _Result:
        with reading(self._engine) as connection:
            return deed(connection)

    def _write(self, deed: Callable[[Connection], _Result]) -> _Result:
        with writing(self._engine) as connection:
            return deed(connection)

    def settings(self) -> Settings:
        """What the course chooses."""
        return self._read(_settings)

    def save_settings(self, settings: Settings, who: str, why: str, now: datetime) -> str | None:
        """Change settings as a revision.

        Returns:
            The id of the revision, or None where nothing is different.

        Raises:
            UserError: a setting that cannot be, or the coordinate system of the record would
                change; nothing was saved.
        """
        return self._write(lambda c: _save_settings(c, settings, who, why, now))

    def ground(self) -> Ground:
        """The record of what is in the ground, all tables of one moment."""
        return self._read(_ground)

    def ground_after(self, revision: str) -> Ground:
        """The record as it stood right after a revision; "0" is before the first.

        Raises:
            NotFoundError: no such revision.
        """
        return self._read(lambda c: _ground_after(c, revision))

    def running(self, table: str, **equals: Any) -> pd.DataFrame:
        """A running table, in the order in which its rows came.

        Args:
            table: its name.
            equals: values that columns must have, for instance `night="2026-07-14-1"`.

        Raises:
            UserError: no such running table or column.
        """
        return self._read(lambda c: running.rows(c, table, _settings(c).site.crs, equals))

    def append(self, table: str, rows: pd.DataFrame) -> None:
        """Add rows to a running table, whole or not at all.

        A row whose id is there already takes the values of the columns given; columns that
        are not given keep theirs.

        Args:
            table: a running table other than "nights".
            rows: index = id; any of the table's columns.

        Raises:
            UserError: unknown table or column, ids missing or twice, or a value the table
                refuses; nothing is saved.
        """
        self._write(lambda c: running.append(c, table, rows, _settings(c).site.crs))

    def replace_log(self, night_id: str, logs: Mapping[str, pd.DataFrame], *, origin: str) -> None:
        """Exchange a night's rows of one origin in the tables given, all or none.

        Rows of the other origin stay. An earlier proof of the night is dropped: its log changed.

        Args:
            night_id: which night.
            logs: rows by table, "commands" and "samples".
            origin: "field" or "rehearsal".

        Raises:
            NotFoundError: no such night.
            UserError: rows that the tables refuse.
        """
        self._write(lambda c: running.replace_log(c, night_id, logs, origin))

    def accept(self, changes: Changes, who: str, why: str, now: datetime) -> str:
        """Make changes part of the record, whole or not at all.

        Returns:
            The id of the revision.

        Raises:
            ConflictError: a row changed since the changes were made, or another program is
                writing; nothing was saved.
            UserError: nothing to change, or a row that may not stand; nothing was saved.
        """
        return self._write(lambda c: apply_changes(c, changes, who=who, why=why, now=now))

    def accept_picture(
        self,
        picture: str,
        tiles: Iterable[picture_tiles.Tile],
        changes: Changes,
        *,
        who: str,
        why: str,
        now: datetime,
    ) -> str:
        """Keep a picture's tiles together with the changes that name it, or neither.

        Returns, raises: see `accept`.
        """

        def deed(connection: Connection) -> str:
            picture_tiles.keep_picture(connection, picture, tiles)
            return apply_changes(connection, changes, who=who, why=why, now=now)

        return self._write(deed)

    def tiles(
        self, picture: str, level: int, first: tuple[int, int], last: tuple[int, int]
    ) -> list[tuple[int, int, bytes]]:
        """Column, row and content of a block of a picture's tiles; level 0 is full size."""
        return self._read(lambda c: picture_tiles.tiles_between(c, picture, level, first, last))

    def keep_photo(self, row: pd.DataFrame, contents: Mapping[str, bytes]) -> None:
        """Add a row of `photos` with its JPEG files by size, "whole" and "small", or neither.

        Raises:
            UserError: a row that the table refuses.
        """

        def deed(connection: Connection) -> None:
            photos.keep_contents(connection, str(row["digest"].iloc[0]), contents)
            running.append(connection, "photos", row, "")

        self._write(deed)

    def photo_content(self, digest: str, size: str) -> bytes | None:
        """The JPEG file of a photo in a size; None where there is none."""
        return self._read(lambda c: photos.content_of(c, digest, size))

    def revisions(self) -> pd.DataFrame:
        """Every accepted change, oldest first.

        Returns:
            Index "revision" (text); columns time, who, why, kind, summary, undoes.
        """
        return self._read(revision_rows)

    def row_history(self, table: str, identity: str) -> list[PastChange]:
        """Every revision that touched a row of the record, the newest first."""
        return self._read(lambda c: row_history(c, table, identity))

    def retired_ids(self) -> dict[str, frozenset[str]]:
        """Ids that revisions took out of the record, by table; new rows do not get them."""
        return self._read(retired_ids)

    def undo(self, revision: str, who: str, why: str, now: datetime) -> str:
        """Take an accepted change back, as a new revision.

        Raises:
            NotFoundError: no such revision.
            ConflictError: later revisions, named, touch the same rows; nothing was saved.
        """
        return self._write(lambda c: undo_revision(c, revision, who=who, why=why, now=now))

    def save_night(self, night: date, document: dict[str, Any], now: datetime) -> str:
        """Keep a plan as the next draft edition of its date; gives its id."""
        return self._write(lambda c: nights.save_night(c, night, document, now))

    def approve_night(self, night_id: str, who: str, now: datetime) -> None:
        """Freeze a draft; the edition approved before for its date becomes replaced.

        Raises:
            NotFoundError: no such night.
            UserError: it is not a draft.
        """
        self._write(lambda c: nights.approve_night(c, night_id, who, now))

    def save_proof(self, night_id: str, document: dict[str, Any]) -> None:
        """Keep what log and meters say of an approved night.

        Raises:
            NotFoundError: no such night.
            UserError: it is a draft.
        """
        self._write(lambda c: nights.save_proof(c, night_id, document))

    def nights(self) -> pd.DataFrame:
        """Every edition of every night: index id, columns of the table; plan and proof as JSON."""
        return self.running("nights")

    def backup(self, target: Path) -> None:
        """Write a complete copy while others go on working; it appears only when whole.

        Raises:
            UserError: the target cannot be written, or is the course file itself.
        """
        copy_course(self.path, target)


def _settings(connection: Connection) -> Settings:
    text = connection.exec_driver_sql("SELECT document FROM settings").scalar()
    if text is None:
        raise UserError("The course file holds no settings. Restore a backup.")
    return settings_from_document(json.loads(text))


def _save_settings(
    connection: Connection, settings: Settings, who: str, why: str, now: datetime
) -> str | None:
    before = _settings(connection)
    if settings == before:
        return None
    check_settings(settings)
    if settings.site.crs != before.site.crs:
        raise UserError(
            f"The record lies in {before.site.crs}; its coordinate system cannot be changed. "
            "Make a new course and survey it again."
        )
    old = connection.exec_driver_sql("SELECT document FROM settings").scalar_one()
    new = json.dumps(settings_to_document(settings), ensure_ascii=False)
    row = RowChange("settings", "settings", {"document": old}, {"document": new})
    changes = Changes((row,), _settings_summary(before, settings))
    return apply_changes(connection, changes, who=who, why=why, now=now, kind="settings")


def _settings_summary(before: Settings, after: Settings) -> str:
    old, new = (_flat(settings_to_document(settings)) for settings in (before, after))
    return "settings: " + ", ".join(name for name in new if new[name] != old.get(name))


def _flat(document: dict[str, Any]) -> dict[str, Any]:
    flat: dict[str, Any] = {}
    for name, value in document.items():
        inner = value.items() if isinstance(value, dict) else [("", value)]
        flat |= {f"{name}.{key}" if key else name: entry for key, entry in inner}
    return flat


def _ground(connection: Connection) -> Ground:
    crs = _settings(connection).site.crs
    tables: dict[str, Any] = {
        name: frame(connection, TABLES[name], crs, {}) for name in GROUND_TABLES
    }
    return Ground(crs=crs, **tables)


def _ground_after(connection: Connection, revision: str) -> Ground:
    if revision != "0":
        check_revision(connection, revision)
    return ground_after(connection, _ground(connection), int(revision))
