"""The course file: one SQLite file, a valid OGC GeoPackage, holding a whole course."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import date, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import pandas as pd
from sqlalchemy import Engine, select

from nightwater.findings import UserError
from nightwater.ground.changes import Changes, RowChange
from nightwater.ground.record import Ground, ground_from
from nightwater.ground.settings import Settings
from nightwater.ground.tables import GROUND_TABLES, RUNNING_TABLES
from nightwater.store import history, nights
from nightwater.store.backup import copy_whole
from nightwater.store.connection import engine_for, reading, writing
from nightwater.store.creation import check_is_course, make_file
from nightwater.store.migrate import bring_up_to_date
from nightwater.store.rows import table_frame, upsert_rows
from nightwater.store.schema import SETTINGS
from nightwater.store.settings_document import settings_from_document, settings_to_document


class CourseFile:
    """An open course file. Every writing method saves all or nothing."""

    def __init__(self, path: Path, engine: Engine) -> None:
        """Use `create` or `open`."""
        self.path = path
        self._engine = engine

    @classmethod
    def create(cls, path: Path, settings: Settings) -> Self:
        """Make an empty course file and open it.

        Raises:
            UserError: the file exists, or its folder cannot be written.
        """
        make_file(path, settings)
        return cls.open(path)

    @classmethod
    def open(cls, path: Path) -> Self:
        """Open a course file; an older one is brought up to date, a copy kept beside it.

        Raises:
            UserError: no such file, not a course file, or written by a newer nightwater.
        """
        check_is_course(path)
        engine = engine_for(path)
        bring_up_to_date(engine, path)
        return cls(path, engine)

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

    def _settings_text(self) -> str:
        with reading(self._engine) as connection:
            return str(connection.execute(select(SETTINGS.c.document)).scalar_one())

    def settings(self) -> Settings:
        """What the course chooses."""
        return settings_from_document(json.loads(self._settings_text()))

    def save_settings(self, settings: Settings, who: str, why: str, now: datetime) -> str:
        """Change what the course chooses, as a revision; its id."""
        before = {"document": self._settings_text()}
        after = {"document": json.dumps(settings_to_document(settings))}
        table = history.SETTINGS_TABLE
        return self.accept((RowChange(table, table, before, after),), who, why, now)

    def _crs(self) -> str:
        return self.settings().site.crs

    def ground(self) -> Ground:
        """The whole record, from one consistent view of the file."""
        crs = self._crs()
        with reading(self._engine) as connection:
            tables = {name: table_frame(connection, name, crs) for name in GROUND_TABLES}
        return ground_from(crs, tables)

    def running(self, table: str, **equals: Any) -> pd.DataFrame:
        """Rows of a running table, in the order of entry; only those that match `equals`.

        Raises:
            UserError: no such running table.
        """
        self._check_running(table)
        crs = self._crs()
        with reading(self._engine) as connection:
            return table_frame(connection, table, crs, equals)

    def append(self, table: str, rows: pd.DataFrame) -> None:
        """Add rows to a running table, index = id; a row whose id is known is replaced.

        Raises:
            UserError: no such running table or column.
        """
        self._check_running(table)
        crs = self._crs()
        with writing(self._engine, self.path) as connection:
            upsert_rows(connection, table, rows, crs)

    @staticmethod
    def _check_running(table: str) -> None:
        if table not in RUNNING_TABLES:
            raise UserError(f"'{table}' is not one of {', '.join(RUNNING_TABLES)}.")

    def accept(self, changes: Changes, who: str, why: str, now: datetime) -> str:
        """Make changes part of the record as one revision; its id.

        Raises:
            ConflictError: rows changed since the changes were made; nothing was saved.
        """
        crs = self._crs()
        with writing(self._engine, self.path) as connection:
            return history.apply(connection, crs, changes, who=who, why=why, now=now)

    def revisions(self) -> pd.DataFrame:
        """Every revision, oldest first: time, who, why, summary, undoes; index = id."""
        with reading(self._engine) as connection:
            return history.revisions_frame(connection)

    def undo(self, revision: str, who: str, why: str, now: datetime) -> str:
        """Take a revision back with a new one; its id.

        Raises:
            NotFoundError: no such revision.
            ConflictError: undone already, or later revisions changed the same rows.
        """
        crs = self._crs()
        with writing(self._engine, self.path) as connection:
            return history.undo(connection, crs, revision, who=who, why=why, now=now)

    def save_night(self, night: date, document: Mapping[str, Any], now: datetime) -> str:
        """Keep a night as a draft, the next edition of its date; its id."""
        with writing(self._engine, self.path) as connection:
            return nights.save_draft(connection, night, document, now)

    def approve_night(self, night_id: str, who: str, now: datetime) -> None:
        """Freeze a draft; what was approved for the same date becomes replaced.

        Raises:
            NotFoundError: no such night.
            ConflictError: it is not a draft any more.
        """
        with writing(self._engine, self.path) as connection:
            nights.approve(connection, night_id, who, now)

    def save_proof(self, night_id: str, document: Mapping[str, Any]) -> None:
        """Keep what log and meters say of a night.

        Raises:
            NotFoundError: no such night.
        """
        with writing(self._engine, self.path) as connection:
            nights.save_proof(connection, night_id, document)

    def replace_log(self, night_id: str, commands: pd.DataFrame, samples: pd.DataFrame) -> None:
        """Put a rehearsal's log in place of an earlier rehearsal's; the proof is dropped.

        Raises:
            NotFoundError: no such night.
        """
        crs = self._crs()
        with writing(self._engine, self.path) as connection:
            nights.replace_rehearsal(connection, night_id, commands, samples, crs)

    def nights(self) -> pd.DataFrame:
        """Every edition of every night: the columns of the table `nights`; index = id."""
        return self.running("nights")

    def backup(self, target: Path) -> None:
        """Copy the file whole while others go on using it.

        Raises:
            UserError: the target exists or cannot be written.
        """
        copy_whole(self.path, target)
