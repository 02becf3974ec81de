"""Areas may be paths and buildings."""

from __future__ import annotations

from typing import Final

from alembic import op
from sqlalchemy import text

revision = "0008"
down_revision = "0007"

_OLD: Final = "'native', 'bunker', 'water')"
_NEW: Final = "'native', 'bunker', 'water', 'path', 'building')"
_LISTED: Final = (
    "A piece of turf with one need, or a bunker, water, native ground, path or building."
)


def upgrade() -> None:
    """Widen the check of the column; rows, index and triggers stay as they are.

    SQLite's own page on ALTER TABLE (section 7) allows this way for a constraint that only
    becomes wider: no row on disk can break it, so the table need not be written anew.
    """
    connection = op.get_bind()
    version = connection.execute(text("PRAGMA schema_version")).scalar_one()
    connection.execute(text("PRAGMA writable_schema = ON"))
    widened = text(
        "UPDATE sqlite_master SET sql = replace(sql, :old, :new) "
        "WHERE type = 'table' AND name = 'areas'"
    )
    connection.execute(widened, {"old": _OLD, "new": _NEW})
    connection.execute(text(f"PRAGMA schema_version = {version + 1}"))
    connection.execute(text("PRAGMA writable_schema = RESET"))
    listing = "SELECT 1 FROM sqlite_master WHERE name = 'gpkg_contents'"
    if connection.execute(text(listing)).scalar():  # a bare database has no such list
        told = text("UPDATE gpkg_contents SET description = :told WHERE table_name = 'areas'")
        connection.execute(told, {"told": _LISTED})
