"""Points, lines and outlines out of open map data's nodes, ways and relations."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

import shapely

from nightwater.survey.osm_elements import Elements, Member, Place, Relation

_LINE_GOLF: Final = ("hole", "cartpath", "path")
_LINE_KEYS: Final = ("highway", "barrier", "railway", "aerialway", "power", "route")
_LINE_NATURAL: Final = ("coastline", "cliff", "tree_row", "ridge", "valley")
_AREA_KEYS: Final = ("natural", "landuse", "leisure", "building", "amenity", "water", "tourism")
AREA_RELATIONS: Final = ("multipolygon", "boundary")
_OUTER, _INNER = ("outer", ""), ("inner",)


class OpenRingError(Exception):
    """Why the outlines of a relation give no area, in words that follow 'because'."""


def is_area(tags: Mapping[str, str]) -> bool:
    """Whether a closed way with these tags is meant as an area, as the open tagging has it."""
    if tags.get("area") in ("yes", "no"):
        return tags["area"] == "yes"
    if "golf" in tags:
        return tags["golf"] not in _LINE_GOLF
    if any(key in tags for key in _LINE_KEYS) or tags.get("natural") in _LINE_NATURAL:
        return False
    return any(key in tags for key in _AREA_KEYS)


def _node_place(node: int | None, elements: Elements) -> Place | None:
    return None if node is None else elements.places.get(node)


def way_places(key: int, elements: Elements) -> tuple[Place, ...] | None:
    """Where a way runs, None where the file lacks the way or one of its nodes."""
    way = elements.ways.get(key)
    if way is None:
        return None
    spots = way.places or tuple(_node_place(node, elements) for node in way.nodes)
    whole = tuple(spot for spot in spots if spot is not None)
    return whole if len(whole) == len(spots) and len(whole) > 1 else None


def way_shape(key: int, elements: Elements) -> Any:
    """A way as a polygon or a line, or None where the file does not draw it wholly."""
    spots = way_places(key, elements)
    if spots is None:
        return None
    closed = spots[0] == spots[-1] and len(spots) > 3
    if closed and is_area(elements.ways[key].tags):
        return shapely.Polygon(spots)
    return shapely.LineString(spots)


def _member_line(member: Member, elements: Elements) -> Any:
    if member.key is None:
        raise OpenRingError("it has a member without a number")
    spots: Sequence[Place] | None = way_places(member.key, elements)
    if spots is None and member.places and None not in member.places:
        spots = [place for place in member.places if place is not None]
    if spots is None or len(spots) < 2:
        raise OpenRingError(f"the file does not draw its member way/{member.key}")
    return shapely.LineString(spots)


def _rings(lines: Iterable[Any]) -> list[Any]:
    """Closed rings out of pieces that meet end to end, in any order and direction."""
    merged = shapely.get_parts(shapely.line_merge(shapely.multilinestrings(list(lines))))
    for piece in merged:
        if not shapely.is_closed(piece) or shapely.get_num_points(piece) < 4:
            lon, lat = piece.coords[0]
            raise OpenRingError(
                f"an outline of it is not closed: it begins at {lat:.5f}, {lon:.5f} and does not "
                "come back there"
            )
    return [shapely.Polygon(piece.coords) for piece in merged]


def _with_holes(outers: Sequence[Any], inners: Sequence[Any]) -> Any:
    holes: list[list[Any]] = [[] for _ in outers]
    for inner in inners:
        spot = shapely.point_on_surface(shapely.make_valid(inner))
        around = [n for n, outer in enumerate(outers) if shapely.make_valid(outer).covers(spot)]
        if not around:
            raise OpenRingError("an inner outline of it lies in none of the outer ones")
        holes[around[0]].append(inner.exterior)
    return shapely.multipolygons(
        [shapely.Polygon(o.exterior, h) for o, h in zip(outers, holes, strict=True)]
    )


def relation_shape(relation: Relation, elements: Elements) -> Any:
    """The area of a relation, its outlines put together from as many ways as they have.

    Raises:
        OpenRingError: an outline is not closed, or the file lacks a part of it.
    """
    single = {m.key: m for m in relation.members if m.kind == "way"}.values()
    outer, inner = (
        [_member_line(m, elements) for m in single if m.role in roles] for roles in (_OUTER, _INNER)
    )
    if not outer:
        raise OpenRingError("it has no outer outline")
    return _with_holes(_rings(outer), _rings(inner) if inner else [])
