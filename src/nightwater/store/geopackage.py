"""What makes a SQLite file a GeoPackage: OGC 12-128r17, version 1.3."""

from __future__ import annotations

from datetime import datetime
from typing import Any, Final

from pyproj import CRS
from sqlalchemy import Connection

from nightwater.findings import UserError
from nightwater.ground.tables import TABLES
from nightwater.store.schema import GEOMETRY_COLUMN

APPLICATION_ID: Final = 0x47504B47  # "GPKG"
USER_VERSION: Final = 10300  # GeoPackage 1.3.0
_OWN_SRS_ID: Final = 100001  # for a system without an EPSG code
_PLAIN_TABLES: Final = ("settings", "revisions")

_TABLES: Final = (
    """CREATE TABLE gpkg_spatial_ref_sys (
  srs_name TEXT NOT NULL, srs_id INTEGER NOT NULL PRIMARY KEY, organization TEXT NOT NULL,
  organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT)""",
    """CREATE TABLE gpkg_contents (
  table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE,
  description TEXT DEFAULT '',
  last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
  min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER,
  CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id))""",
    """CREATE TABLE gpkg_geometry_columns (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL,
  srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL,
  CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
  CONSTRAINT uk_gc_table_name UNIQUE (table_name),
  CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
  CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id))""",
)


def gpkg_time(now: datetime) -> str:
    """An instant as GeoPackage writes it, UTC with milliseconds."""
    return now.strftime("%Y-%m-%dT%H:%M:%S.") + f"{now.microsecond // 1000:03d}Z"


def _system(crs_text: str) -> tuple[str, int, str, int, str, str]:
    crs = CRS.from_user_input(crs_text)
    authority = crs.to_authority(min_confidence=100)
    definition = crs.to_wkt("WKT1_GDAL")
    if authority and authority[0] == "EPSG":
        code = int(authority[1])
        return crs.name, code, "EPSG", code, definition, "metres of the record"
    return crs.name, _OWN_SRS_ID, "NONE", _OWN_SRS_ID, definition, "metres of the record"


def _systems(crs_text: str) -> list[tuple[str, int, str, int, str, str]]:
    wgs84 = CRS.from_epsg(4326).to_wkt("WKT1_GDAL")
    return [
        ("Undefined Cartesian SRS", -1, "NONE", -1, "undefined", "undefined Cartesian"),
        ("Undefined geographic SRS", 0, "NONE", 0, "undefined", "undefined geographic"),
        ("WGS 84 geodetic", 4326, "EPSG", 4326, wgs84, "longitude and latitude on WGS 84"),
        _system(crs_text),
    ]


def lay_out(connection: Connection, crs_text: str, now: datetime) -> None:
    """Make the tables every GeoPackage has and register ours in them."""
    connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.exec_driver_sql(f"PRAGMA user_version = {USER_VERSION}")
    for statement in _TABLES:
        connection.exec_driver_sql(statement)
    connection.exec_driver_sql(
        "INSERT INTO gpkg_spatial_ref_sys VALUES (?, ?, ?, ?, ?, ?)", _systems(crs_text)
    )
    srs_id = _system(crs_text)[1]
    contents = [_contents(name, srs_id, gpkg_time(now)) for name in (*TABLES, *_PLAIN_TABLES)]
    connection.exec_driver_sql(
        "INSERT INTO gpkg_contents (table_name, identifier, data_type, description, last_change,"
        " srs_id) VALUES (?, ?, ?, ?, ?, ?)",
        contents,
    )
    connection.exec_driver_sql(
        "INSERT INTO gpkg_geometry_columns VALUES (?, ?, ?, ?, 0, 0)",
        [
            (table.name, GEOMETRY_COLUMN, table.shape.value.upper(), srs_id)
            for table in TABLES.values()
            if table.shape is not None
        ],
    )


def _contents(name: str, srs_id: int, time: str) -> tuple[Any, ...]:
    table = TABLES.get(name)
    located = table is not None and table.shape is not None
    meaning = table.meaning if table is not None else ""
    kind = "features" if located else "attributes"
    return name, name, kind, meaning, time, srs_id if located else None


def srs_id_of(connection: Connection) -> int:
    """The number under which the file lists the record's system.

    Raises:
        UserError: the file lists none.
    """
    found = connection.exec_driver_sql(
        "SELECT srs_id FROM gpkg_geometry_columns WHERE table_name = 'heads'"
    ).scalar()
    if found is None:
        raise UserError("The course file does not say its coordinate system. Restore a backup.")
    return int(found)


def note_change(
    connection: Connection,
    name: str,
    extent: tuple[float, float, float, float] | None,
    now: datetime | None,
) -> None:
    """Keep the layer's extent and the time of its last change true.

    Args:
        connection: inside the transaction that changed the layer.
        name: the table.
        extent: left, bottom, right, top [m]; None for a layer without shapes.
        now: the time of the change, or None to leave the last one.
    """
    corners = extent or (None, None, None, None)
    connection.exec_driver_sql(
        "UPDATE gpkg_contents SET last_change = coalesce(?, last_change),"
        " min_x = ?, min_y = ?, max_x = ?, max_y = ? WHERE table_name = ?",
        (gpkg_time(now) if now else None, *corners, name),
    )
