"""What the shut-off page shows of an answer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, Literal
from urllib.parse import urlencode

import numpy as np
import shapely

from nightwater.desk.isolating import DryStation, ShutOff, Thing
from nightwater.desk.isolation_card import place_words, way_words
from nightwater.ground.record import Ground
from nightwater.pipes.segments import Segments
from nightwater.units import UnitSystem

Document = dict[str, Any]
_DECIMALS: Final = 2
PATH: Final = "/ground/shut-off"


@dataclass(frozen=True)
class Row:
    """A valve to walk to, and the address that says it does not close."""

    thing: Thing
    where: str
    stuck_address: str


@dataclass(frozen=True)
class Group:
    """The dry stations of one area."""

    area: str
    area_label: str
    kind: str
    stations: tuple[DryStation, ...]


def address(answer: ShutOff, *, at: str | None = None, stuck: tuple[str, ...] | None = None) -> str:
    """The page's address, with another place or other stuck valves."""
    pairs = [("at", at or answer.at)]
    pairs += [("stuck", name) for name in (answer.stuck if stuck is None else stuck)]
    return f"{PATH}?{urlencode(pairs)}"


def rows(answer: ShutOff, things: tuple[Thing, ...], units: UnitSystem) -> list[Row]:
    """Valves with where they stand, the nearest first."""
    return [
        Row(
            thing,
            place_words(thing, units),
            address(answer, stuck=(*answer.stuck, thing.subject.removeprefix("valves:"))),
        )
        for thing in things
    ]


def groups(answer: ShutOff) -> list[Group]:
    """Dry stations by area, in the order of the answer."""
    found: dict[str, list[DryStation]] = {}
    for one in answer.stations:
        found.setdefault(one.area, []).append(one)
    return [Group(area, s[0].area_label, s[0].kind, tuple(s)) for area, s in found.items()]


def page_values(answer: ShutOff, units: UnitSystem) -> Document:
    """Everything that the page's template reads."""
    return {
        "answer": answer,
        "close": rows(answer, answer.close, units),
        "holding": rows(answer, answer.stands_closed, units),
        "fittings": rows(answer, answer.fittings, units),
        "groups": groups(answer),
        "pipe_parts": [(address(answer, at=f"{p.x_m:.1f},{p.y_m:.1f}"), p) for p in answer.parts],
        "detours": [way_words(way) for way in answer.detours],
        "query": address(answer).partition("?")[2],
        "all_close": address(answer, stuck=()),
    }


def _places(line: Any) -> list[list[float]]:
    listed: list[list[float]] = np.round(shapely.get_coordinates(line), _DECIMALS).tolist()
    return listed


Role = Literal["close", "holds", "drain"]


def _points(things: tuple[Thing, ...], role: Role) -> list[Document]:
    return [
        {"role": role, "subject": t.subject, "label": t.label, "point": [t.x_m, t.y_m]}
        for t in things
        if t.direction
    ]


def marks_document(answer: ShutOff, segments: Segments, ground: Ground) -> Document:
    """What the map draws over the course: dry pipe, broken pipe, valves, dry heads, the break."""
    broken = set(answer.answer.broken.tolist())
    lines = [
        {
            "role": "broken" if piece in broken else "dry",
            "line": _places(segments.pieces.lines[piece]),
        }
        for piece in sorted(broken | set(answer.answer.dry.tolist()))
    ]
    heads = [
        {"role": "dry-head", "point": [round(shape.x, _DECIMALS), round(shape.y, _DECIMALS)]}
        for shape in ground.heads.geometry.loc[list(answer.answer.heads)]
    ]
    return {
        "marks": [
            *lines,
            *heads,
            *_points(answer.fittings, "drain"),
            *_points(answer.stands_closed, "holds"),
            *_points(answer.close, "close"),
            {"role": "break", "point": [answer.x_m, answer.y_m]},
        ]
    }
