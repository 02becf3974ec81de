"""Make a course file, and recognise one."""

from __future__ import annotations

import json
import sqlite3
from pathlib import Path
from typing import Any

from pyproj import CRS
from sqlalchemy import Connection, Engine, insert, text
from sqlalchemy.exc import DatabaseError

from nightwater.findings import UserError
from nightwater.ground.settings import Settings
from nightwater.ground.tables import TABLES
from nightwater.store.connection import engine_for
from nightwater.store.migrate import stamp
from nightwater.store.rows import pragma, srs_number
from nightwater.store.schema import (
    APPLICATION_ID,
    CONTENTS,
    GEOMETRY_COLUMNS,
    GEOPACKAGE_VERSION,
    METADATA,
    SETTINGS,
    SRS,
    TRIGGERS,
)
from nightwater.store.settings_document import settings_to_document

_EPOCH = "1970-01-01T00:00:00Z"  # nothing has changed yet in a new file


def _systems(crs: str) -> list[dict[str, Any]]:
    """The rows that OGC 12-128r17 requirement 11 asks for, and the course's own system."""
    wgs84, own = CRS.from_epsg(4326), CRS.from_user_input(crs)
    number, code = srs_number(crs), own.to_epsg()
    rows = [
        (-1, "Undefined Cartesian", "NONE", -1, "undefined"),
        (0, "Undefined geographic", "NONE", 0, "undefined"),
        (4326, wgs84.name, "EPSG", 4326, wgs84.to_wkt("WKT1_GDAL")),
        (number, own.name, "EPSG" if code else "NONE", code or number, own.to_wkt("WKT1_GDAL")),
    ]
    keys = ("srs_id", "srs_name", "organization", "organization_coordsys_id", "definition")
    return [dict(zip(keys, row, strict=True)) for row in rows]


def _contents(crs: str) -> list[dict[str, Any]]:
    return [
        {
            "table_name": name,
            "identifier": name,
            "description": table.meaning,
            "data_type": "features" if table.shape else "attributes",
            "last_change": _EPOCH,
            "srs_id": srs_number(crs) if table.shape else None,
        }
        for name, table in TABLES.items()
    ]


def _geometry_columns(crs: str) -> list[dict[str, Any]]:
    return [
        {
            "table_name": name,
            "column_name": "geometry",
            "geometry_type_name": table.shape.value.upper(),
            "srs_id": srs_number(crs),
            "z": 0,
            "m": 0,
        }
        for name, table in TABLES.items()
        if table.shape
    ]


def fill_new(connection: Connection, settings: Settings) -> None:
    """Everything an empty course file holds beside its tables."""
    crs = settings.site.crs
    connection.execute(text(f"PRAGMA application_id = {APPLICATION_ID}"))
    connection.execute(text(f"PRAGMA user_version = {GEOPACKAGE_VERSION}"))
    connection.execute(insert(SRS), _systems(crs))
    connection.execute(insert(CONTENTS), _contents(crs))
    connection.execute(insert(GEOMETRY_COLUMNS), _geometry_columns(crs))
    document = json.dumps(settings_to_document(settings))
    connection.execute(insert(SETTINGS).values(id="settings", document=document))


def make_file(path: Path, settings: Settings) -> None:
    """Make an empty course file; it appears whole or not at all.

    Raises:
        UserError: the file exists, or its folder cannot be written.
    """
    if path.exists():
        raise UserError(f"{path} exists already; it was not touched.")
    part = path.with_name(f".{path.name}.part")
    part.unlink(missing_ok=True)
    engine = engine_for(part)
    try:
        with engine.execution_options(write=True).begin() as connection:
            METADATA.create_all(connection)
            for trigger in TRIGGERS:
                connection.execute(text(trigger))
            fill_new(connection, settings)
            stamp(connection)
    except DatabaseError as problem:
        raise UserError(f"{path} cannot be made: {problem.orig}.") from None
    finally:
        engine.dispose()
    part.replace(path)


def check_is_course(path: Path) -> None:
    """Refuse what is not a course file, without touching it.

    Raises:
        UserError: no such file, not SQLite, or a GeoPackage of another kind.
    """
    if not path.is_file():
        raise UserError(f"There is no course file {path}. Make one with 'nightwater new'.")
    try:
        with sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True) as connection:
            names = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
            kind = connection.execute("PRAGMA application_id").fetchone()[0]
    except sqlite3.DatabaseError:
        raise UserError(f"{path} is not a course file: it is not a SQLite file.") from None
    if kind != APPLICATION_ID or not {"settings", "revisions", "alembic_version"} <= names:
        raise UserError(
            f"{path} is not a course file. To read its layers use 'nightwater survey COURSE {path}'."
        )


def is_consistent(engine: Engine) -> bool:
    """Whether every enforced link of the file leads somewhere."""
    with engine.connect() as connection:
        return not connection.execute(text("PRAGMA foreign_key_check")).fetchall() and bool(
            pragma(connection, "foreign_keys")
        )
