"""The tables of a course file, derived from the record's declaration."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from sqlalchemy import (
    CheckConstraint,
    Column,
    Connection,
    Double,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
    event,
)
from sqlalchemy.types import UserDefinedType

from nightwater.ground.columns import Column as RecordColumn
from nightwater.ground.columns import Kind
from nightwater.ground.columns import Table as RecordTable
from nightwater.ground.tables import TABLES

GEOMETRY_COLUMN: Final = "geom"
METADATA: Final = MetaData()


class Declared(UserDefinedType[Any]):
    """A column whose declared type GeoPackage prescribes; values pass through as they are."""

    cache_ok = True

    def __init__(self, name: str) -> None:
        self.name = name

    def get_col_spec(self, **_keywords: Any) -> str:
        """The declared type."""
        return self.name


def _column_type(kind: Kind) -> Any:
    if kind is Kind.NUMBER:
        return Double()
    if kind is Kind.INTEGER:
        return Declared("INTEGER")
    if kind is Kind.YES_NO:
        return Declared("BOOLEAN")
    return Declared("DATE") if kind is Kind.DATE else Text()


def _quoted(word: str) -> str:
    return "'" + word.replace("'", "''") + "'"


def _check(column: RecordColumn) -> CheckConstraint | None:
    if column.choices:
        listed = ", ".join(map(_quoted, column.choices))
        return CheckConstraint(f'"{column.name}" IN ({listed})')
    if column.kind is Kind.YES_NO:
        return CheckConstraint(f'"{column.name}" IN (0, 1)')
    return None


def _column(column: RecordColumn) -> Column[Any]:
    # Surveys arrive in any order, so links between surveyed tables are checked by
    # `ground/checks.py`; only a log must belong to a night that exists.
    extra: list[Any] = [ForeignKey("nights.id")] if column.refers_to == "nights" else []
    check = _check(column)
    if check is not None:
        extra.append(check)
    return Column(column.name, _column_type(column.kind), *extra, nullable=not column.required)


def _columns(table: RecordTable) -> Iterator[Column[Any]]:
    yield Column("fid", Integer, primary_key=True, autoincrement=True)
    yield Column("id", Text, nullable=False, unique=True)
    yield from map(_column, table.columns)
    if table.shape is not None:
        yield Column(GEOMETRY_COLUMN, Declared(table.shape.value.upper()))


def _record_table(table: RecordTable) -> Table:
    extra = [UniqueConstraint("night", "edition")] if table.name == "nights" else []
    return Table(table.name, METADATA, *_columns(table), *extra, sqlite_autoincrement=True)


RECORD: Final[dict[str, Table]] = {name: _record_table(table) for name, table in TABLES.items()}

SETTINGS: Final = Table(
    "settings",
    METADATA,
    Column("fid", Integer, primary_key=True),
    Column("id", Text, nullable=False, unique=True),
    Column("document", Text, nullable=False),
    CheckConstraint("fid = 1"),
)
REVISIONS: Final = Table(
    "revisions",
    METADATA,
    Column("fid", Integer, primary_key=True, autoincrement=True),
    Column("time", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("why", Text, nullable=False),
    Column("kind", Text, CheckConstraint("kind IN ('change', 'settings', 'undo')"), nullable=False),
    Column("summary", Text, nullable=False),
    Column("undoes", Integer, ForeignKey("revisions.fid")),
    Column("change_set", Text, nullable=False),
    sqlite_autoincrement=True,
)

IMAGE_TILES: Final = Table(
    "image_tiles",
    METADATA,
    Column("fid", Integer, primary_key=True),
    Column("picture", Text, nullable=False),
    Column("level", Declared("INTEGER"), nullable=False),
    Column("tile_column", Declared("INTEGER"), nullable=False),
    Column("tile_row", Declared("INTEGER"), nullable=False),
    Column("content", LargeBinary, nullable=False),
    UniqueConstraint("picture", "level", "tile_column", "tile_row"),
)

PHOTO_CONTENTS: Final = Table(
    "photo_contents",
    METADATA,
    Column("fid", Integer, primary_key=True),
    Column("digest", Text, nullable=False),
    Column("size", Text, CheckConstraint("size IN ('whole', 'small')"), nullable=False),
    Column("content", LargeBinary, nullable=False),
    UniqueConstraint("digest", "size"),
)

_FROZEN_COLUMNS: Final = ("id", "night", "edition", "made", "approved_by", "approved", "plan")
_CHANGED: Final = " OR ".join(f"NEW.{name} IS NOT OLD.{name}" for name in _FROZEN_COLUMNS)
FROZEN_NIGHTS: Final = (
    f"""CREATE TRIGGER nights_frozen BEFORE UPDATE ON nights
WHEN OLD.state <> 'draft' AND ({_CHANGED} OR (NEW.state IS NOT OLD.state
  AND NOT (OLD.state = 'approved' AND NEW.state = 'replaced')))
BEGIN SELECT RAISE(ABORT, 'an approved night is not changed'); END""",
    """CREATE TRIGGER nights_kept BEFORE DELETE ON nights
WHEN OLD.state <> 'draft'
BEGIN SELECT RAISE(ABORT, 'an approved night is not removed'); END""",
)
KEPT_REVISIONS: Final = tuple(
    f"CREATE TRIGGER revisions_no_{deed.lower()} BEFORE {deed} ON revisions "
    "BEGIN SELECT RAISE(ABORT, 'history is not changed'); END"
    for deed in ("UPDATE", "DELETE")
)
_ADDED: Final = ("id", "subject", "text", "author", "time", "digest", "width_px", "height_px")
_OTHER: Final = " OR ".join(f"NEW.{name} IS NOT OLD.{name}" for name in _ADDED)
KEPT_PHOTOS: Final = (
    f"""CREATE TRIGGER photos_frozen BEFORE UPDATE ON photos
WHEN OLD.withdrawn IS NOT NULL OR {_OTHER}
BEGIN SELECT RAISE(ABORT, 'a photo is withdrawn once and not changed'); END""",
    """CREATE TRIGGER photos_kept BEFORE DELETE ON photos
BEGIN SELECT RAISE(ABORT, 'a photo is withdrawn, not removed'); END""",
)

INDEXES: Final = (
    Index("photos_subject", RECORD["photos"].c.subject),
    Index("commands_night", RECORD["commands"].c.night),
    Index("samples_night", RECORD["samples"].c.night),
    Index("weather_step_time", RECORD["weather"].c.step, RECORD["weather"].c.time),
)


def _with_triggers(table: Table, statements: tuple[str, ...]) -> None:
    def made(_table: Table, connection: Connection, **_more: Any) -> None:
        for statement in statements:
            connection.exec_driver_sql(statement)

    event.listen(table, "after_create", made)


_with_triggers(RECORD["nights"], FROZEN_NIGHTS)
_with_triggers(REVISIONS, KEPT_REVISIONS)
_with_triggers(RECORD["photos"], KEPT_PHOTOS)
