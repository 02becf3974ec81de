"""Photos of what is in the ground, kept for good: a photo is withdrawn, not removed."""

from __future__ import annotations

from typing import Final

from alembic import op

revision = "0007"
down_revision = "0006"

_PHOTOS: Final = """CREATE TABLE photos (
    fid INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL,
    subject TEXT NOT NULL,
    text TEXT NOT NULL,
    author TEXT NOT NULL,
    time TEXT NOT NULL,
    digest TEXT NOT NULL,
    width_px INTEGER NOT NULL,
    height_px INTEGER NOT NULL,
    withdrawn_by TEXT,
    withdrawn TEXT,
    withdrawn_why TEXT,
    UNIQUE (id)
)"""
_CONTENTS: Final = """CREATE TABLE photo_contents (
    fid INTEGER NOT NULL,
    digest TEXT NOT NULL,
    size TEXT NOT NULL CHECK (size IN ('whole', 'small')),
    content BLOB NOT NULL,
    PRIMARY KEY (fid),
    UNIQUE (digest, size)
)"""
_FROZEN: Final = """CREATE TRIGGER photos_frozen BEFORE UPDATE ON photos
WHEN OLD.withdrawn IS NOT NULL OR NEW.id IS NOT OLD.id OR NEW.subject IS NOT OLD.subject
OR NEW.text IS NOT OLD.text OR NEW.author IS NOT OLD.author OR NEW.time IS NOT OLD.time
OR NEW.digest IS NOT OLD.digest OR NEW.width_px IS NOT OLD.width_px
OR NEW.height_px IS NOT OLD.height_px
BEGIN SELECT RAISE(ABORT, 'a photo is withdrawn once and not changed'); END"""
_KEPT: Final = """CREATE TRIGGER photos_kept BEFORE DELETE ON photos
BEGIN SELECT RAISE(ABORT, 'a photo is withdrawn, not removed'); END"""
_INDEX: Final = "CREATE INDEX photos_subject ON photos (subject)"
_LISTED: Final = """INSERT OR IGNORE INTO gpkg_contents
    (table_name, identifier, data_type, description, last_change, srs_id)
    SELECT 'photos', 'photos', data_type,
    'A photo of something in the ground; one that is withdrawn stays, with who and why.',
    last_change, srs_id FROM gpkg_contents WHERE table_name = 'commands'"""


def upgrade() -> None:
    """Make the tables with what guards them, and list the photos among the file's contents."""
    for statement in (_PHOTOS, _CONTENTS, _FROZEN, _KEPT, _INDEX):
        op.execute(statement)
    contents = "SELECT 1 FROM sqlite_master WHERE name = 'gpkg_contents'"
    if op.get_bind().exec_driver_sql(contents).scalar():
        op.execute(_LISTED)
