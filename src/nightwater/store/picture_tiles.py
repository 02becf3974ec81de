"""Pictures in the course file: tiles that are written once and never changed."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import Connection

Tile = tuple[int, int, int, bytes]  # level, column, row, content


def keep_picture(connection: Connection, picture: str, tiles: Iterable[Tile]) -> None:
    """Keep a picture's tiles under its digest; one that is there already is left as it is."""
    if has_picture(connection, picture):
        return
    for level, column, row, content in tiles:
        connection.exec_driver_sql(
            "INSERT INTO image_tiles (picture, level, tile_column, tile_row, content)"
            " VALUES (?, ?, ?, ?, ?)",
            (picture, level, column, row, content),
        )


def has_picture(connection: Connection, picture: str) -> bool:
    """Whether the file holds tiles of this digest."""
    found = connection.exec_driver_sql(
        "SELECT 1 FROM image_tiles WHERE picture = ? LIMIT 1", (picture,)
    ).scalar()
    return found is not None


def tiles_between(
    connection: Connection, picture: str, level: int, first: tuple[int, int], last: tuple[int, int]
) -> list[tuple[int, int, bytes]]:
    """Column, row and content of the tiles of a level in a block, both ends included.

    Args:
        connection: reading.
        picture: its digest.
        level: 0 is full size.
        first, last: column and row of the block's corners.
    """
    rows = connection.exec_driver_sql(
        "SELECT tile_column, tile_row, content FROM image_tiles WHERE picture = ? AND level = ?"
        " AND tile_column BETWEEN ? AND ? AND tile_row BETWEEN ? AND ?",
        (picture, level, first[0], last[0], first[1], last[1]),
    )
    return [(int(column), int(row), bytes(content)) for column, row, content in rows]
