"""Nodes, ways and relations of open map data, out of XML or of a query's JSON answer."""

from __future__ import annotations

import io
import json
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, TypeAlias
from xml.etree import ElementTree

from nightwater.findings import UserError
from nightwater.survey.markup import check_root

MAX_ELEMENTS: Final = 1_000_000
Place: TypeAlias = tuple[float, float]  # longitude, latitude


@dataclass(frozen=True)
class Member:
    """One member of a relation; `places` only where the file draws it there.

    A number that cannot be read is None: what is not understood is missing, not absent.
    """

    kind: str
    key: int | None
    role: str
    places: tuple[Place | None, ...] = ()


@dataclass(frozen=True)
class Way:
    """A line of nodes; `places` only where the file draws it there."""

    tags: Mapping[str, str]
    nodes: tuple[int | None, ...] = ()
    places: tuple[Place | None, ...] = ()


@dataclass(frozen=True)
class Relation:
    """Members under common tags."""

    tags: Mapping[str, str]
    members: tuple[Member, ...] = ()


@dataclass
class Elements:
    """Everything a file holds, by number; `remark` is what the server says went wrong."""

    places: dict[int, Place] = field(default_factory=dict)
    node_tags: dict[int, Mapping[str, str]] = field(default_factory=dict)
    ways: dict[int, Way] = field(default_factory=dict)
    relations: dict[int, Relation] = field(default_factory=dict)
    remark: str = ""


def _place(lon: Any, lat: Any) -> Place | None:
    try:
        across, up = float(lon), float(lat)
    except (TypeError, ValueError, OverflowError):
        return None
    sound = math.isfinite(across) and math.isfinite(up) and abs(across) <= 180 and abs(up) <= 90
    return (across, up) if sound else None


def _key(value: Any) -> int | None:
    try:
        return int(value)
    except (TypeError, ValueError, OverflowError):
        return None


def _add(elements: Elements, kind: str, raw: Mapping[str, Any]) -> None:
    """One element in the shape that JSON gives it; a later one with tags wins."""
    key, tags = _key(raw.get("id")), _tags(raw.get("tags"))
    if key is None:
        return
    if kind == "node":
        place = _place(raw.get("lon"), raw.get("lat"))
        elements.places |= {} if place is None else {key: place}
        elements.node_tags |= {key: tags} if tags else {}
    elif kind == "way":
        way = Way(tags, tuple(map(_key, _listed(raw.get("nodes")))), _drawn(raw.get("geometry")))
        known = elements.ways.get(key)
        if known is None or not known.tags:
            elements.ways[key] = way
    elif kind == "relation":
        members = tuple(map(_member, _listed(raw.get("members"))))
        known_relation = elements.relations.get(key)
        if known_relation is None or not known_relation.members:
            elements.relations[key] = Relation(tags, members)


def _listed(value: Any) -> Sequence[Any]:
    return value if isinstance(value, list) else ()


def _tags(value: Any) -> Mapping[str, str]:
    if not isinstance(value, dict):
        return {}
    return {str(k): str(v) for k, v in value.items() if not isinstance(v, (dict, list))}


def _drawn(value: Any) -> tuple[Place | None, ...]:
    spots = _listed(value)
    return tuple(
        _place(spot.get("lon"), spot.get("lat")) if isinstance(spot, dict) else None
        for spot in spots
    )


def _member(raw: Any) -> Member:
    if not isinstance(raw, dict):
        return Member("way", None, "")
    kind, role = str(raw.get("type")), str(raw.get("role") or "")
    return Member(kind, _key(raw.get("ref")), role, _drawn(raw.get("geometry")))


def _too_many(name: str) -> UserError:
    return UserError(
        f"{name} holds more than {MAX_ELEMENTS:,} elements. Cut out the course and try again."
    )


def answer_in(content: bytes) -> Mapping[str, Any] | None:
    """The answer of a map query, None where a JSON file is something else (as GeoJSON)."""
    if b'"elements"' not in content:
        return None
    try:
        whole = json.loads(content)
    except (ValueError, RecursionError):
        return None
    answer = isinstance(whole, dict) and isinstance(whole.get("elements"), list)
    return whole if answer and "features" not in whole else None


def from_answer(answer: Mapping[str, Any], name: str) -> Elements:
    """Elements of a query's answer, whether it draws them in place or node by node.

    Raises:
        UserError: more than a million elements.
    """
    if len(answer["elements"]) > MAX_ELEMENTS:
        raise _too_many(name)
    elements = Elements(remark=str(answer.get("remark") or ""))
    for raw in answer["elements"]:
        if isinstance(raw, dict):
            _add(elements, str(raw.get("type")), raw)
    return elements


def _spots(element: ElementTree.Element) -> list[dict[str, Any] | None]:
    """Places written on the `nd` children themselves; none where they only refer."""
    children = element.findall("nd")
    drawn = any("lat" in child.attrib for child in children)
    return [dict(child.attrib) for child in children] if drawn else []


def _raw(element: ElementTree.Element) -> dict[str, Any]:
    raw: dict[str, Any] = {"id": element.get("id")}
    raw |= {"lon": element.get("lon"), "lat": element.get("lat")}
    raw["tags"] = {tag.get("k", ""): tag.get("v", "") for tag in element.findall("tag")}
    raw["nodes"] = [child.get("ref") for child in element.findall("nd")]
    raw["geometry"] = _spots(element)
    raw["members"] = [
        {**member.attrib, "geometry": _spots(member)} for member in element.findall("member")
    ]
    return raw


def _living(element: ElementTree.Element) -> bool:
    return element.get("visible") != "false" and element.get("action") != "delete"


def _parsed(content: bytes) -> Iterator[ElementTree.Element]:
    """Each whole element in turn; the tree behind it is let go."""
    depth = 0
    for event, element in ElementTree.iterparse(io.BytesIO(content), events=("start", "end")):
        depth += 1 if event == "start" else -1
        if event == "end" and depth == 1:
            yield element
            element.clear()


def from_markup(content: bytes, name: str) -> Elements:
    """Elements of an .osm file. What an editor has marked as deleted is left out.

    Raises:
        UserError: no such XML, or more than a million elements.
    """
    check_root(content, "osm", name)
    elements = Elements()
    try:
        for count, element in enumerate(_parsed(content)):
            if count >= MAX_ELEMENTS:
                raise _too_many(name)
            if element.tag == "remark":
                elements.remark = str(element.text or "").strip()
            elif _living(element):
                _add(elements, element.tag, _raw(element))
    except (ElementTree.ParseError, LookupError, ValueError) as problem:
        raise UserError(f"{name} is not sound XML: {problem}.") from None
    return elements
