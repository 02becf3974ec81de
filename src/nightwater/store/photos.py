"""Photos in the course file: pixels that are written once, with the row that names them."""

from __future__ import annotations

from collections.abc import Mapping

from sqlalchemy import Connection


def keep_contents(connection: Connection, digest: str, contents: Mapping[str, bytes]) -> None:
    """Keep a photo's JPEG files by size under its digest; what is there stays as it is."""
    for size, content in contents.items():
        connection.exec_driver_sql(
            "INSERT INTO photo_contents (digest, size, content) VALUES (?, ?, ?)"
            " ON CONFLICT (digest, size) DO NOTHING",
            (digest, size, content),
        )


def content_of(connection: Connection, digest: str, size: str) -> bytes | None:
    """The JPEG file of a photo in a size, "whole" or "small"; None where there is none."""
    found = connection.exec_driver_sql(
        "SELECT content FROM photo_contents WHERE digest = ? AND size = ?", (digest, size)
    ).scalar()
    return None if found is None else bytes(found)
