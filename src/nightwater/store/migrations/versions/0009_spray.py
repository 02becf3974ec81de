"""How nozzles spread their water, what was measured at heads, audits, and trims on the map."""

from __future__ import annotations

from typing import Final

from alembic import op
from sqlalchemy import text

revision = "0009"
down_revision = "0008"

_NOZZLES: Final = (
    'profile TEXT CHECK ("profile" IN '
    "('triangle', 'ellipse', 'doughnut', 'trapezoid', 'uniform', 'measured'))",
    "leg TEXT",
    "performance TEXT",
    "trajectory_deg DOUBLE",
    "height_m DOUBLE",
)
_OLD_HEADS: Final = (
    "fid, id, label, station, nozzle, area, arc_deg, bearing_deg, spacing_m, row_m, pressure_kpa, "
    "measured_flow_l_s, elevation_m, condition, evidence, geom"
)
_HEADS: Final = """CREATE TABLE heads (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    station TEXT,
    nozzle TEXT,
    area TEXT,
    arc_deg DOUBLE,
    bearing_deg DOUBLE,
    spacing_m DOUBLE,
    row_m DOUBLE,
    pressure_kpa DOUBLE,
    measured_flow_l_s DOUBLE,
    elevation_m DOUBLE,
    condition TEXT CHECK ("condition" IN ('good', 'low', 'tilted', 'worn', 'broken', 'unknown')),
    measured_radius_m DOUBLE,
    tilt_deg DOUBLE,
    tilt_towards_deg DOUBLE,
    evidence TEXT CHECK ("evidence" IN ('surveyed', 'drawing', 'guessed')),
    geom POINT,
    UNIQUE (id)
)"""
_AUDITS: Final = """CREATE TABLE audits (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    area TEXT,
    stations TEXT,
    state TEXT NOT NULL CHECK ("state" IN ('planned', 'measured', 'used')),
    time TEXT,
    run_min DOUBLE,
    throat_m2 DOUBLE,
    wind_m_s DOUBLE,
    wind_from_deg DOUBLE,
    pressure_kpa DOUBLE,
    author TEXT NOT NULL,
    text TEXT,
    earlier TEXT,
    used_in TEXT,
    UNIQUE (id)
)"""
_CANS: Final = """CREATE TABLE cans (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    label TEXT,
    audit TEXT NOT NULL,
    caught_ml DOUBLE,
    left_out TEXT,
    earlier TEXT,
    geom POINT,
    UNIQUE (id)
)"""
_LISTED: Final = """INSERT OR IGNORE INTO gpkg_contents
    (table_name, identifier, data_type, description, last_change, srs_id)
    SELECT '{name}', '{name}', data_type, '{meaning}', last_change, srs_id
    FROM gpkg_contents WHERE table_name = '{like}'"""
_LOCATED: Final = """INSERT OR IGNORE INTO gpkg_geometry_columns
    SELECT '{name}', column_name, '{shape}', srs_id, z, m
    FROM gpkg_geometry_columns WHERE table_name = 'heads'"""
_TRIMS_LISTED: Final = """UPDATE gpkg_contents SET data_type = 'features',
    srs_id = (SELECT srs_id FROM gpkg_contents WHERE table_name = 'heads')
    WHERE table_name = 'trims'"""


def _rebuild_heads() -> None:
    """New columns stand before the shape, as in a new file."""
    op.execute("ALTER TABLE heads RENAME TO heads_before")
    op.execute(_HEADS)
    op.execute(f"INSERT INTO heads ({_OLD_HEADS}) SELECT {_OLD_HEADS} FROM heads_before")
    op.execute("DROP TABLE heads_before")


def _list_contents() -> None:
    op.execute(
        _LISTED.format(
            name="audits",
            like="commands",
            meaning="A catch-can audit: cans set out while heads ran.",
        )
    )
    op.execute(_LISTED.format(name="cans", like="heads", meaning="One can of an audit."))
    op.execute(_TRIMS_LISTED)
    for name, shape in (("cans", "POINT"), ("trims", "MULTIPOLYGON")):
        op.execute(_LOCATED.format(name=name, shape=shape))


def upgrade() -> None:
    """Add the columns, the tables of audits and cans, and the patch of a trim."""
    for column in _NOZZLES:
        op.execute(f"ALTER TABLE nozzles ADD COLUMN {column}")
    _rebuild_heads()
    op.execute("ALTER TABLE trims ADD COLUMN geom MULTIPOLYGON")
    op.execute(_AUDITS)
    op.execute(_CANS)
    listing = "SELECT 1 FROM sqlite_master WHERE name = 'gpkg_contents'"
    if op.get_bind().execute(text(listing)).scalar():  # a bare database has no such list
        _list_contents()
