"""The course file's tables, derived from `ground.tables` and the GeoPackage standard."""

from __future__ import annotations

from typing import Any, Final

from sqlalchemy import (
    CheckConstraint,
    Column,
    Double,
    ForeignKey,
    Integer,
    MetaData,
    Table,
    Text,
)
from sqlalchemy.types import TypeEngine, UserDefinedType

from nightwater.ground.columns import Column as Declared
from nightwater.ground.columns import Kind
from nightwater.ground.columns import Table as Declaration
from nightwater.ground.tables import TABLES

APPLICATION_ID: Final = 0x47504B47  # "GPKG", OGC 12-128r17 requirement 2
GEOPACKAGE_VERSION: Final = 10300
_ENFORCED: Final = ("nights",)  # links that a running row cannot do without


class Geometry(UserDefinedType[bytes]):
    """A GeoPackage geometry column."""

    cache_ok = True

    def __init__(self, name: str) -> None:
        self.name = name

    def get_col_spec(self, **_kw: Any) -> str:
        """The column's type as the standard writes it."""
        return self.name


class Boolean(UserDefinedType[int]):
    """A GeoPackage BOOLEAN: 0, 1 or NULL."""

    cache_ok = True

    def get_col_spec(self, **_kw: Any) -> str:
        """The column's type as the standard writes it."""
        return "BOOLEAN"


_TYPES: Final[dict[Kind, type[TypeEngine[Any]]]] = {
    Kind.TEXT: Text,
    Kind.INTEGER: Integer,
    Kind.NUMBER: Double,
    Kind.YES_NO: Boolean,
    Kind.DATE: Text,
    Kind.INSTANT: Text,
    Kind.DOCUMENT: Text,
}


def _check(column: Declared) -> str | None:
    if column.choices:
        listed = ", ".join(f"'{choice}'" for choice in column.choices)
        return f'"{column.name}" IN ({listed})'
    if column.lowest is not None and column.highest is not None:
        return f'"{column.name}" BETWEEN {column.lowest:g} AND {column.highest:g}'
    return None


def _column(column: Declared) -> Column[Any]:
    links = [ForeignKey(f"{column.refers_to}.id")] if column.refers_to in _ENFORCED else []
    return Column(column.name, _TYPES[column.kind](), *links, nullable=not column.required)


def _table(metadata: MetaData, declared: Declaration) -> Table:
    columns: list[Any] = [
        Column("fid", Integer, primary_key=True, autoincrement=True),
        Column("id", Text, nullable=False, unique=True),
        *(_column(column) for column in declared.columns),
    ]
    if declared.shape is not None:
        columns.append(Column("geometry", Geometry(declared.shape.value.upper())))
    checks = [CheckConstraint(text) for c in declared.columns if (text := _check(c)) is not None]
    return Table(declared.name, metadata, *columns, *checks, sqlite_autoincrement=True)


METADATA: Final = MetaData()
RECORD: Final = {name: _table(METADATA, declared) for name, declared in TABLES.items()}
SETTINGS: Final = Table(
    "settings",
    METADATA,
    Column("fid", Integer, primary_key=True),
    Column("id", Text, nullable=False, unique=True),
    Column("document", Text, nullable=False),
)
REVISIONS: Final = Table(
    "revisions",
    METADATA,
    Column("fid", Integer, primary_key=True, autoincrement=True),
    Column("id", Text, nullable=False, unique=True),
    Column("time", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("why", Text, nullable=False),
    Column("summary", Text, nullable=False),
    Column("undoes", Text),
    Column("changes", Text, nullable=False),
    sqlite_autoincrement=True,
)
SRS: Final = Table(
    "gpkg_spatial_ref_sys",
    METADATA,
    Column("srs_name", Text, nullable=False),
    Column("srs_id", Integer, primary_key=True, autoincrement=False),
    Column("organization", Text, nullable=False),
    Column("organization_coordsys_id", Integer, nullable=False),
    Column("definition", Text, nullable=False),
    Column("description", Text),
)
CONTENTS: Final = Table(
    "gpkg_contents",
    METADATA,
    Column("table_name", Text, primary_key=True),
    Column("data_type", Text, nullable=False),
    Column("identifier", Text, unique=True),
    Column("description", Text, default=""),
    Column("last_change", Text, nullable=False),
    Column("min_x", Double),
    Column("min_y", Double),
    Column("max_x", Double),
    Column("max_y", Double),
    Column("srs_id", Integer, ForeignKey("gpkg_spatial_ref_sys.srs_id")),
)
GEOMETRY_COLUMNS: Final = Table(
    "gpkg_geometry_columns",
    METADATA,
    Column("table_name", Text, ForeignKey("gpkg_contents.table_name"), primary_key=True),
    Column("column_name", Text, primary_key=True),
    Column("geometry_type_name", Text, nullable=False),
    Column("srs_id", Integer, ForeignKey("gpkg_spatial_ref_sys.srs_id"), nullable=False),
    Column("z", Integer, nullable=False),
    Column("m", Integer, nullable=False),
)

# What an approved night must never lose: only its state and its proof may still change.
TRIGGERS: Final = (
    """CREATE TRIGGER nights_frozen BEFORE UPDATE ON nights
WHEN OLD.state <> 'draft' AND (NEW.plan <> OLD.plan OR NEW.night <> OLD.night
  OR NEW.edition <> OLD.edition OR NEW.id <> OLD.id OR NEW.state = 'draft'
  OR NEW.approved_by IS NOT OLD.approved_by OR NEW.approved IS NOT OLD.approved)
BEGIN SELECT RAISE(ABORT, 'an approved night is immutable'); END""",
    """CREATE TRIGGER nights_kept BEFORE DELETE ON nights WHEN OLD.state <> 'draft'
BEGIN SELECT RAISE(ABORT, 'an approved night is immutable'); END""",
    """CREATE TRIGGER revisions_kept BEFORE DELETE ON revisions
BEGIN SELECT RAISE(ABORT, 'history is kept'); END""",
)
