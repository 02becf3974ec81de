"""The things of a drawing that can be rows of a table, layer by layer, and what is left aside."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final, cast

import shapely
from ezdxf.entities.polygon import DXFPolygon
from shapely.geometry import MultiLineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from nightwater.ground.columns import Shape, Table
from nightwater.survey.drawing_curves import BadShapeError, NoLengthError
from nightwater.survey.drawing_file import FOREIGN_FAULTS, clean_text
from nightwater.survey.drawing_hatches import hatched_ground
from nightwater.survey.drawing_marks import Mark, marked_values
from nightwater.survey.drawing_outlines import closed_outlines, drawn_twice
from nightwater.survey.drawing_shapes import (
    LINE_KINDS,
    OUTLINE_KINDS,
    POINT_KINDS,
    encloses,
    marked_point,
    traced_line,
)
from nightwater.survey.drawing_walk import TEXTS, Piece

_HATCHES: Final = ("HATCH", "MPOLYGON")
OUTLINE: Final = "OUTLINE"  # our word for what loose lines close


@dataclass(frozen=True)
class Thing:
    """A row to be: its shape, where it stands, and what the drawing says of it.

    Attributes:
        kind: entity kind, or OUTLINE for what loose lines close.
        layer: its layer.
        place: where it stands, for messages.
        shape: point, line or polygon [m].
        told: what the drawing says of it, column by column.
        attributes: texts of its block, by tag.
        values: the row as our own export marked it, with its id.
    """

    kind: str
    layer: str
    place: str
    shape: BaseGeometry
    told: Mapping[str, Any] = field(default_factory=dict)
    attributes: Mapping[str, str] = field(default_factory=dict)
    values: Mapping[str, Any] | None = None


@dataclass
class Things:
    """Everything that fits a table, and everything that does not.

    Attributes:
        good: what can be a row.
        bad: layer, place and reason of what fits and is broken.
        other: pieces that cannot be of the wanted shape, by layer and kind.
        closed: outlines closed from loose lines, by layer.
        loose: lines that close none, by layer.
        twice: hatches left aside because their outline is there, by layer.
    """

    good: list[Thing] = field(default_factory=list)
    bad: list[tuple[str, str, str]] = field(default_factory=list)
    other: Counter[tuple[str, str]] = field(default_factory=Counter)
    closed: Counter[str] = field(default_factory=Counter)
    loose: Counter[str] = field(default_factory=Counter)
    twice: Counter[str] = field(default_factory=Counter)


def _colour(piece: Piece) -> int | None:
    index = piece.entity.dxf.get("color", 256)
    document = piece.entity.doc
    if index != 256 or document is None:
        return int(index)
    layer = piece.entity.dxf.get("layer", "0")
    known = document.layers.has_entry(layer)
    return int(document.layers.get(layer).color) if known else None


def _told(piece: Piece, radius_m: float | None = None, text: str | None = None) -> dict[str, Any]:
    return {
        "layer": piece.layer,
        "block": piece.block or None,
        "text": text,
        "colour": _colour(piece),
        "handle": piece.handle,
        "radius_m": radius_m,
    }


def _thing(piece: Piece, shape: BaseGeometry, **more: Any) -> Thing:
    told = _told(piece, **more)
    return Thing(piece.kind, piece.layer, piece.place, shape, told, piece.attributes)


def said_by(piece: Piece) -> str:
    """What a text says, without its formatting."""
    entity: Any = piece.entity
    return str(entity.plain_text())


class _Sorter:
    """Pieces made into things, one wanted shape at a time."""

    def __init__(self, shape: Shape, unit_m: float) -> None:
        self.found = Things()
        self._shape, self._unit_m = shape, unit_m
        self._loose: defaultdict[str, list[BaseGeometry]] = defaultdict(list)

    def add(self, piece: Piece) -> None:
        """Take a piece as a thing, a loose line, or something of another kind."""
        try:
            if not self._taken(piece):
                self.found.other[piece.layer, piece.kind] += 1
        except NoLengthError:
            self.found.other[piece.layer, f"{piece.kind} without length"] += 1
        except BadShapeError as reason:
            self.found.bad.append((piece.layer, piece.place, str(reason)))

    def _taken(self, piece: Piece) -> bool:
        if self._shape is Shape.POINT:
            return self._point(piece)
        if self._shape is Shape.LINE:
            return self._line(piece)
        return self._outline(piece)

    def _point(self, piece: Piece) -> bool:
        if piece.kind not in POINT_KINDS:
            return False
        spot, radius_m = marked_point(piece.entity, self._unit_m)
        self.found.good.append(_thing(piece, spot, radius_m=radius_m))
        return True

    def _line(self, piece: Piece) -> bool:
        if piece.kind not in LINE_KINDS:
            return False
        self.found.good.append(_thing(piece, traced_line(piece.entity, self._unit_m)))
        return True

    def _outline(self, piece: Piece) -> bool:
        if piece.kind in _HATCHES:
            ground = hatched_ground(cast("DXFPolygon", piece.entity), self._unit_m)
            self.found.good.append(_thing(piece, ground))
            return True
        if piece.kind not in (*LINE_KINDS, *OUTLINE_KINDS):
            return False
        line = traced_line(piece.entity, self._unit_m)
        if encloses(line):
            ring = Polygon(shapely.get_coordinates(line))
            radius = piece.entity.dxf.radius * self._unit_m if piece.kind == "CIRCLE" else None
            self.found.good.append(_thing(piece, ring, radius_m=radius))
        else:
            self._loose[piece.layer].append(line)
        return True

    def finish(self) -> Things:
        """Close what loose lines close, and leave aside hatches whose outline is there."""
        for layer, lines in self._loose.items():
            outlines = closed_outlines(lines)
            self.found.closed[layer] = len(outlines.polygons)
            self.found.loose[layer] = outlines.left
            for number, polygon in enumerate(outlines.polygons, 1):
                place = f"outline {number} closed from lines on layer {layer}"
                told = {"layer": layer}
                self.found.good.append(Thing(OUTLINE, layer, place, polygon, told))
        self._without_twins()
        return self.found

    def _without_twins(self) -> None:
        hatches = [thing for thing in self.found.good if thing.kind in _HATCHES]
        others = [thing for thing in self.found.good if thing.kind not in _HATCHES]
        twins = drawn_twice([each.shape for each in hatches], [each.shape for each in others])
        for hatch, twin in zip(hatches, twins, strict=True):
            self.found.twice[hatch.layer] += twin
        kept = [hatch for hatch, twin in zip(hatches, twins, strict=True) if not twin]
        self.found.good = others + kept


def fitting_things(pieces: Sequence[Piece], shape: Shape, unit_m: float) -> Things:
    """What of a drawing can be of the wanted shape.

    Texts stand as points only where nothing else does.

    Args:
        pieces: the drawing's things, one by one.
        shape: what the table wants.
        unit_m: length of a drawing unit [m].
    """
    sorter = _Sorter(shape, unit_m)
    for piece in pieces:
        sorter.add(piece)
    found = sorter.finish()
    if shape is Shape.POINT and not found.good:
        for piece, spot, said in texts_of(pieces, unit_m):
            found.good.append(_thing(piece, spot, text=said))
            found.other[piece.layer, piece.kind] -= 1
    return found


def texts_of(pieces: Sequence[Piece], unit_m: float) -> list[tuple[Piece, BaseGeometry, str]]:
    """Texts that say something: the piece, where it stands [m] and what it says."""
    found = []
    for piece in pieces:
        if piece.kind not in TEXTS:
            continue
        try:
            spot, _ = marked_point(piece.entity, unit_m)
            said = clean_text(said_by(piece))
        except (BadShapeError, *FOREIGN_FAULTS):
            continue
        if said:
            found.append((piece, spot, said))
    return found


def _assembled(parts: Mapping[tuple[int, int], Thing], shape: Shape) -> BaseGeometry:
    order = sorted(parts)
    if shape is Shape.POINT:
        return parts[order[0]].shape
    if shape is Shape.LINE:
        return MultiLineString([shapely.get_coordinates(parts[key].shape) for key in order])
    polygons = []
    for part in dict.fromkeys(part for part, _ in order):
        rings = [shapely.get_coordinates(parts[key].shape) for key in order if key[0] == part]
        polygons.append(Polygon(rings[0], rings[1:]))
    return MultiPolygon(polygons)


def marked_things(pieces: Sequence[tuple[Mark, Piece]], table: Table, unit_m: float) -> Things:
    """Rows that our own export drew, put together again from their parts.

    Args:
        pieces: entities that carry a mark of this table.
        table: the declaration.
        unit_m: length of a drawing unit [m].
    """
    shape = table.shape or Shape.POINT
    found = Things()
    rows: dict[tuple[str, int], dict[tuple[int, int], Thing]] = {}
    seen = Counter[tuple[str, int, int]]()
    for mark, piece in pieces:
        single = fitting_things([replace(piece, mark=None)], shape, unit_m)
        found.bad += single.bad or ([] if single.good else [_no_part(piece, shape)])
        copy = seen[mark.id, mark.part, mark.ring]  # a thing that somebody copied is another row
        seen[mark.id, mark.part, mark.ring] += 1
        for thing in single.good:
            own = replace(thing, values=marked_values(mark, piece.attributes))
            rows.setdefault((mark.id, copy), {})[mark.part, mark.ring] = own
    for (_, _), parts in rows.items():
        first = parts[min(parts)]
        found.good.append(replace(first, shape=_assembled(parts, shape)))
    return found


def _no_part(piece: Piece, shape: Shape) -> tuple[str, str, str]:
    return piece.layer, piece.place, f"it is no {shape.value} any more"
