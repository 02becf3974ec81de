"""Pictures lie in the course file as tiles, with the points they were placed by."""

from __future__ import annotations

from typing import Final

from alembic import op

revision = "0006"
down_revision = "0005"

_COLUMNS: Final = (
    "picture TEXT",
    "width_px INTEGER",
    "height_px INTEGER",
    "transform_kind TEXT CHECK (\"transform_kind\" IN ('similarity', 'affine', 'projective'))",
    "control_points TEXT",
    "placed_by TEXT",
    "placed TEXT",
)
_TILES: Final = """CREATE TABLE image_tiles (
    fid INTEGER NOT NULL,
    picture TEXT NOT NULL,
    level INTEGER NOT NULL,
    tile_column INTEGER NOT NULL,
    tile_row INTEGER NOT NULL,
    content BLOB NOT NULL,
    PRIMARY KEY (fid),
    UNIQUE (picture, level, tile_column, tile_row)
)"""


def upgrade() -> None:
    """Add the columns of a placed picture, and the table of its tiles."""
    for column in _COLUMNS:
        op.execute(f"ALTER TABLE images ADD COLUMN {column}")
    op.execute(_TILES)
