"""Open map data as rows: each tagged thing with its tags as columns."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import pandas as pd
import shapely

from nightwater.findings import Finding, note, warning
from nightwater.survey.osm_elements import Elements, Relation, answer_in, from_answer, from_markup
from nightwater.survey.osm_shapes import AREA_RELATIONS, OpenRingError, relation_shape, way_shape
from nightwater.survey.source_files import SourceRows

OSM_ENDINGS: Final = (".osm",)
_Row = tuple[str, Mapping[str, str], Any]
# Tags that would be taken for columns of ours, which they are not.
_NOT_OURS: Final = ("id", "@id", "osm_id", "kind")


def _own_tags(tags: Mapping[str, str]) -> dict[str, str]:
    return {key: value for key, value in tags.items() if key != "type"}


def _outer_ways(relation: Relation) -> list[int]:
    outer = [m.key for m in relation.members if m.kind == "way" and m.role in ("outer", "")]
    return [key for key in outer if key is not None]


def _areas(elements: Elements) -> dict[int, Relation]:
    """Relations that are areas, each with its tags.

    Where the tags stand on the one outer way, as was the habit once, they are the relation's.
    """
    found = {}
    for key, relation in elements.relations.items():
        if relation.tags.get("type") not in AREA_RELATIONS:
            continue
        outers, tags = _outer_ways(relation), _own_tags(relation.tags)
        if not tags and len(outers) == 1 and outers[0] in elements.ways:
            tags = dict(elements.ways[outers[0]].tags)
        if tags:
            found[key] = replace(relation, tags=tags)
    return found


def _doubled(areas: Mapping[int, Relation], elements: Elements) -> set[int]:
    """Outer ways that say again what their relation says: the same ground, without its holes."""
    return {
        way
        for relation in areas.values()
        for way in _outer_ways(relation)
        if way in elements.ways
        and (golf := elements.ways[way].tags.get("golf")) is not None
        and golf == relation.tags.get("golf")
    }


def _relation_rows(
    areas: Mapping[int, Relation], elements: Elements, doubts: list[Finding], name: str
) -> Iterator[_Row]:
    for key, relation in areas.items():
        shape = None
        try:
            shape = relation_shape(relation, elements)
        except OpenRingError as reason:
            doubts.append(_open_ring(key, str(reason), name))
        yield f"relation/{key}", relation.tags, shape


def _rows(elements: Elements, doubts: list[Finding], name: str) -> Iterator[_Row]:
    areas = _areas(elements)
    doubled = _doubled(areas, elements)
    if doubled:
        doubts.append(_said_twice(doubled, name))
    for key, tags in elements.node_tags.items():
        place = elements.places.get(key)
        yield f"node/{key}", tags, None if place is None else shapely.Point(place)
    for key, way in elements.ways.items():
        if way.tags and key not in doubled:
            yield f"way/{key}", way.tags, way_shape(key, elements)
    yield from _relation_rows(areas, elements, doubts, name)


def _open_ring(key: int, reason: str, name: str) -> Finding:
    return warning(
        "ring-not-closed",
        f"file:{name}",
        f"{name}: relation/{key} was not read as an area, because {reason}.",
        "Ask for the data again with all members and their nodes, or mend the outline.",
    )


def _said_twice(ways: set[int], name: str) -> Finding:
    return note(
        "outline-twice",
        f"file:{name}",
        f"{name}: {len(ways)} outer ways bear the golf tag that their relation bears too; the "
        "relation was taken.",
        "Nothing.",
    )


def _cut_short(remark: str, name: str) -> Finding:
    return warning(
        "answer-cut-short",
        f"file:{name}",
        f"{name}: the server that answered the query remarks: {remark[:160]}",
        "Ask again if it says that something is missing.",
    )


def _not_drawn(rows: list[_Row], doubts: list[Finding], name: str) -> tuple[Finding, ...]:
    told = {finding.message.split()[1] for finding in doubts if finding.code == "ring-not-closed"}
    bare = [key for key, _, shape in rows if shape is None and key not in told]
    if not bare:
        return ()
    found = warning(
        "not-drawn",
        f"file:{name}",
        f"{name}: of {len(bare)} tagged elements the file does not say where they lie, the first "
        f"is {bare[0]}.",
        "Ask for the data again with geometry (out geom, or with all nodes).",
    )
    return (found,)


def osm_rows(elements: Elements, name: str) -> SourceRows:
    """Each tagged node and way, and each relation that is an area; ids as "way/123"."""
    doubts: list[Finding] = []
    rows = list(_rows(elements, doubts, name))
    cells = pd.DataFrame(
        [
            {"id": key, **{k: v for k, v in tags.items() if k.lower() not in _NOT_OURS}}
            for key, tags, _ in rows
        ],
        columns=None if rows else ["id"],
        dtype=object,
    )
    findings = (*doubts, *_not_drawn(rows, doubts, name))
    if elements.remark:
        findings += (_cut_short(elements.remark, name),)
    places = tuple(f"element {number}" for number in range(1, len(rows) + 1))
    shapes = tuple(shape for _, _, shape in rows)
    return SourceRows(cells, places, shapes, "EPSG:4326", False, findings)


def markup_rows(path: Path) -> SourceRows:
    """Rows of an .osm file.

    Raises:
        UserError: no such XML.
    """
    return osm_rows(from_markup(path.read_bytes(), path.name), path.name)


def answer_rows(path: Path) -> SourceRows | None:
    """Rows of a query's JSON answer; None where the file is other JSON.

    Raises:
        UserError: more than a million elements.
    """
    answer = answer_in(path.read_bytes())
    return None if answer is None else osm_rows(from_answer(answer, path.name), path.name)
