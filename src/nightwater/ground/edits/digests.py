"""A short mark of what a row holds, so that a change of it can be told."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any, Final

import shapely

from nightwater.ground.changes import GEOMETRY, Values, plain_rows
from nightwater.ground.columns import Table
from nightwater.ground.record import Ground
from nightwater.ground.tables import TABLES

_LETTERS: Final = 16  # 64 bits: rows of one course never meet by chance


def _digest(plain: Mapping[str, Any], wkb: bytes | None) -> str:
    text = json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode() + b"\x00" + (wkb or b"")).hexdigest()[:_LETTERS]


def row_digest(values: Values) -> str:
    """The mark of a row's plain values, empty columns left out.

    The same values give the same mark, in any order of columns, on any machine.

    Args:
        values: as `ground.changes.plain_rows` gives them.
    """
    plain = {k: v for k, v in values.items() if k != GEOMETRY and v is not None}
    shape = values.get(GEOMETRY)
    return _digest(plain, None if shape is None else shapely.to_wkb(shape, byte_order=1))


def digests(rows: Mapping[str, Values]) -> dict[str, str]:
    """The marks of plain rows, by id."""
    return {identity: row_digest(values) for identity, values in rows.items()}


def digest_of(ground: Ground, subject: str) -> str | None:
    """The mark of one row, None where the record has no such row.

    Args:
        ground: the record as it is kept.
        subject: table:id.
    """
    name, _, identity = subject.partition(":")
    table: Table | None = TABLES.get(name)
    if table is None or table.running or identity not in ground.table(name).index:
        return None
    return row_digest(plain_rows(ground.table(name).loc[[identity]], table)[identity])
