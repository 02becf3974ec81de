"""What was said of a file's columns is kept for the next file with the same header."""

from __future__ import annotations

from alembic import op

revision = "0005"
down_revision = "0004"

TABLE = """CREATE TABLE column_matches (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    source TEXT NOT NULL,
    fills TEXT NOT NULL,
    columns TEXT NOT NULL,
    units TEXT NOT NULL,
    fixed TEXT NOT NULL,
    author TEXT NOT NULL,
    time TEXT NOT NULL,
    UNIQUE (id)
)"""
LISTED = """INSERT OR IGNORE INTO gpkg_contents
    (table_name, identifier, data_type, description, last_change, srs_id)
    SELECT 'column_matches', 'column_matches', data_type,
    'What was said of the columns of a file, kept for the next file with the same header.',
    last_change, srs_id FROM gpkg_contents WHERE table_name = 'commands'"""


def upgrade() -> None:
    """Make the table and list it among the GeoPackage's contents."""
    op.execute(TABLE)
    contents = "SELECT 1 FROM sqlite_master WHERE name = 'gpkg_contents'"
    if op.get_bind().exec_driver_sql(contents).scalar():
        op.execute(LISTED)
