"""Split an area, a pipe or a line of play by a drawn line."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any, Final

import shapely
from shapely.geometry.base import BaseGeometry

from nightwater.findings import UserError
from nightwater.ground.changes import GEOMETRY
from nightwater.ground.edits.geometry import drawn_line, mended
from nightwater.ground.edits.pieces import area_pieces, line_pieces
from nightwater.ground.edits.rows import free_ids, rows_of, with_rows, with_values
from nightwater.ground.record import Ground

SPLIT_TABLES: Final = ("areas", "pipes", "holes")
# What a whole has and a part does not: a name, a number on the card, a sum of ground.
_OF_THE_WHOLE: Final[Mapping[str, tuple[str, ...]]] = {
    "areas": ("wetted_m2",),
    "pipes": (),
    "holes": (),
}
_OF_ITS_OWN: Final[Mapping[str, tuple[str, ...]]] = {
    "areas": ("label",),
    "pipes": ("label",),
    "holes": ("label", "number", "par"),
}


def _nearer_heads(
    ground: Ground, area: str, kept: BaseGeometry, parts: Mapping[str, BaseGeometry]
) -> Ground:
    """Heads that declare a split area declare the part that they stand nearest to."""
    heads = ground.heads[ground.heads["area"] == area]
    changed: dict[str, dict[str, Any]] = {}
    for head, point in heads.geometry.items():
        if point is None:
            continue
        apart = {name: shapely.distance(point, part) for name, part in parts.items()}
        nearest = min(apart, key=lambda name: apart[name])
        if apart[nearest] < shapely.distance(point, kept):
            changed[str(head)] = {"area": nearest}
    return with_values(ground, "heads", changed) if changed else ground


def split(
    ground: Ground,
    table: str,
    identity: str,
    line: Sequence[tuple[float, float]],
    retired: Collection[str] = (),
) -> Ground:
    """The ground with one row cut in two or more; the largest piece keeps the id.

    A new piece takes over every value except what only the whole had: label, a hole's number
    and par, an area's declared wetted ground (which the piece that stays loses, too). Heads that
    declare the area declare the piece that they stand nearest to.

    Args:
        ground: the record.
        table: "areas" (cut from edge to edge), "pipes" or "holes" (cut where the line crosses).
        identity: which row.
        line: x and y of the drawn line's points [m].
        retired: ids of this table that the record had once.

    Raises:
        UserError: no such row, it has no place yet, or the line does not cut it.
    """
    if table not in SPLIT_TABLES:
        raise UserError(f"{table} cannot be split; {', '.join(SPLIT_TABLES)} can.")
    row = rows_of(ground, table, [identity])[identity]
    if row[GEOMETRY] is None:
        raise UserError(f"{identity} has no place on the map yet, so there is nothing to split.")
    cut = area_pieces if table == "areas" else line_pieces
    pieces = cut(mended(row[GEOMETRY]), drawn_line(line))
    lost = dict.fromkeys(_OF_THE_WHOLE[table])
    own = lost | dict.fromkeys(_OF_ITS_OWN[table])
    parts = dict(zip(free_ids(ground, table, retired), pieces.others, strict=False))
    rows = {name: {**row, **own, GEOMETRY: part} for name, part in parts.items()}
    rows[identity] = {**row, **lost, GEOMETRY: pieces.kept}
    ground = with_rows(ground, table, rows)
    return _nearer_heads(ground, identity, pieces.kept, parts) if table == "areas" else ground
