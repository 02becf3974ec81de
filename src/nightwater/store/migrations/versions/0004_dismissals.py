"""Findings that somebody lets be, with the reason."""

from __future__ import annotations

from alembic import op
from sqlalchemy import text

revision = "0004"
down_revision = "0003"

TABLE = """CREATE TABLE dismissals (
	fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	id TEXT NOT NULL,
	code TEXT NOT NULL,
	subject TEXT NOT NULL,
	message_digest TEXT NOT NULL,
	reason TEXT NOT NULL,
	author TEXT NOT NULL,
	time TEXT NOT NULL,
	restored_by TEXT,
	restored TEXT,
	UNIQUE (id)
)"""
LISTED = """INSERT INTO gpkg_contents (table_name, identifier, data_type, description, last_change)
VALUES ('dismissals', 'dismissals', 'attributes',
'A finding that somebody has looked at and lets be, until what it says changes.',
'2000-01-01T00:00:00.000Z')"""


def upgrade() -> None:
    """Make the table, and list it among the file's contents."""
    op.execute(TABLE)
    listing = "SELECT 1 FROM sqlite_master WHERE name = 'gpkg_contents'"
    if op.get_bind().execute(text(listing)).scalar():  # a bare database has no such list
        op.execute(LISTED)
