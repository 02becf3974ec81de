"""A shape cut by a drawn line: the pieces, and the parts that the line leaves alone."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import shapely
from shapely.geometry.base import BaseGeometry
from shapely.ops import split as cut_apart

from nightwater.findings import UserError
from nightwater.ground.columns import Shape
from nightwater.ground.edits.geometry import shaped

LEAST_AREA_M2: Final = 0.01  # less is a slip of the hand along an edge
LEAST_LENGTH_M: Final = 0.01


@dataclass(frozen=True)
class Pieces:
    """What a cut makes of a shape.

    Attributes:
        kept: what keeps the id: the largest piece, and every part that the line leaves alone.
        others: the other pieces, the largest first.
    """

    kept: BaseGeometry
    others: tuple[BaseGeometry, ...]


def _sorted_out(cut: list[BaseGeometry], whole: list[BaseGeometry]) -> Pieces:
    area = bool(shapely.area(cut[0]))
    size = shapely.area if area else shapely.length
    least, unit = (LEAST_AREA_M2, "m²") if area else (LEAST_LENGTH_M, "m")
    first, *others = sorted(cut, key=size, reverse=True)
    if size(others[-1]) < least:
        raise UserError(
            f"The line would cut off {size(others[-1]):.1g} {unit}. Draw it farther inside."
        )
    shape = Shape.POLYGON if area else Shape.LINE
    kept = shaped(shapely.GeometryCollection([first, *whole]), shape)
    return Pieces(kept, tuple(shaped(piece, shape) for piece in others))


def area_pieces(area: BaseGeometry, line: shapely.LineString) -> Pieces:
    """An area cut by a line from edge to edge.

    Args:
        area: valid polygons.
        line: may reach beyond; ends that stop inside cut nothing.

    Raises:
        UserError: the line does not cross the area, or cuts off less than 0.01 m².
    """
    cut: list[BaseGeometry] = []
    whole: list[BaseGeometry] = []
    for part in shapely.get_parts(area):
        pieces = [p for p in shapely.get_parts(cut_apart(part, line)) if p.geom_type == "Polygon"]
        if len(pieces) > 1:
            cut += pieces
        else:
            whole.append(part)
    if not cut:
        raise UserError("The line does not cross the area from edge to edge.")
    return _sorted_out(cut, whole)


def line_pieces(shape: BaseGeometry, line: shapely.LineString) -> Pieces:
    """A pipe or line of play cut where a drawn line crosses it, once.

    Args:
        shape: one or more lines.
        line: what crosses it.

    Raises:
        UserError: no crossing, several, or one that only touches.
    """
    parts = list(shapely.get_parts(shape))
    crossed = [part for part in parts if shapely.intersects(part, line)]
    crossings = [shapely.intersection(part, line) for part in crossed]
    if not crossed:
        raise UserError("The drawn line does not cross it.")
    if len(crossed) > 1 or crossings[0].geom_type != "Point":
        raise UserError("The drawn line must cross it once, at one point.")
    pieces = list(shapely.get_parts(cut_apart(crossed[0], line)))
    if len(pieces) < 2:
        raise UserError("The drawn line only touches it. Draw it across.")
    return _sorted_out(pieces, [part for part in parts if part is not crossed[0]])
