"""Break here: what to close, what loses water, what to open, in the words of the record."""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from nightwater.findings import Finding, UserError
from nightwater.ground.links import head_areas
from nightwater.ground.record import Ground
from nightwater.pipes.filling import FillPlan, fill_plan
from nightwater.pipes.isolation import Isolation, dry_length_m, isolate
from nightwater.pipes.segments import Segments, build_segments

CAUTIONS: Final = (
    "A jet at working pressure injures. Close slowly, open a drain or coupler, and see the "
    "pressure fall to nothing before anybody opens, cuts or stands over the pipe.",
    "Lock out and tag the pump station and the controllers of the dry stations; pump panels are "
    "work for a licensed electrician.",
    "The record says where valves stand, not whether they hold. Where one turns and does not "
    "close, ask again with it named as stuck; the next ones are told.",
    "A trench wants shoring and located cables before anybody goes in. The tool advises; local "
    "codes and the person on site decide.",
)
_DIRECTIONS: Final = ("north", "north-east", "east", "south-east", "south", "south-west", "west",
                      "north-west")  # fmt: skip
_POINT: Final = re.compile(r"\s*(-?\d+(?:\.\d+)?)\s*,\s*(-?\d+(?:\.\d+)?)\s*")


@dataclass(frozen=True)
class Thing:
    """A row of the record that somebody walks to.

    Attributes:
        subject: "valves:V-01".
        label, kind: what people call it, and what it is.
        x_m, y_m: its place in the course's metres; NaN where it has none.
        away_m, direction: how far from the break, and where to ("north-east").
        on: the pipe it stands on, in words; "" where it stands on none.
    """

    subject: str
    label: str
    kind: str
    x_m: float
    y_m: float
    away_m: float
    direction: str
    on: str


@dataclass(frozen=True)
class DryStation:
    """A station that loses water: how many of its heads, and which area most of them water."""

    station: str
    label: str
    controller: str
    dry_heads: int
    heads: int
    area: str
    area_label: str
    kind: str


@dataclass(frozen=True)
class Part:
    """A part of the pipe between its valves, and a place on it to ask about."""

    x_m: float
    y_m: float
    length_m: float


@dataclass(frozen=True)
class Way:
    """Another way: valves to close first, what to open, and how many heads are dry or wet by it."""

    close: tuple[str, ...]
    open: tuple[str, ...]
    heads: int


@dataclass(frozen=True)
class ShutOff:
    """The answer to "break here".

    Attributes:
        at: what was asked: "pipes:ID" or "x,y".
        pipe, pipe_words: id of the broken pipe, and the pipe in words.
        x_m, y_m: the break, or the middle of the pipe.
        close, stands_closed, fittings: valves.
        stop: ids of the pumps that must stand still.
        stations: what loses water, the most heads first; areas: their areas, as id and label.
        dry_heads, dry_m: heads and length of pipe without water.
        parts: of a pipe with valves on it, where the whole of it was asked.
        fewer, detours: other ways.
        refill: how to fill it again, through the valves that were closed.
        stuck: valves that were said not to close.
        unfed: whether the record has no water there anyway.
        findings: doubts about valves.
        answer: the graph's own answer, for drawing it.
    """

    at: str
    pipe: str
    pipe_words: str
    x_m: float
    y_m: float
    close: tuple[Thing, ...]
    stands_closed: tuple[Thing, ...]
    stop: tuple[str, ...]
    fittings: tuple[Thing, ...]
    stations: tuple[DryStation, ...]
    areas: tuple[tuple[str, str], ...]
    dry_heads: int
    dry_m: float
    parts: tuple[Part, ...]
    fewer: Way | None
    detours: tuple[Way, ...]
    refill: FillPlan
    stuck: tuple[str, ...]
    unfed: bool
    findings: tuple[Finding, ...]
    answer: Isolation


@dataclass(frozen=True)
class _Break:
    """Where it is: pieces, pipe and place."""

    pieces: NDArray[np.int64]
    pipe: str
    place: Any


def _text(value: Any, otherwise: str) -> str:
    return otherwise if value is None or pd.isna(value) or value == "" else str(value)


def _label(ground: Ground, table: str, name: str) -> str:
    return _text(ground.table(table)["label"].get(name), name)


def pipe_words(ground: Ground, pipe: str) -> str:
    """A pipe by its part in the network and its name, for instance "main M-05 8 in"."""
    kind = _text(ground.pipes["kind"].get(pipe), "pipe")
    return f"{kind} {_label(ground, 'pipes', pipe)}"


def _break(segments: Segments, at: str) -> _Break:
    """Where somebody points: "pipes:ID" or "x,y" in the course's metres.

    Raises:
        UserError: neither, no such pipe, or no pipe near.
    """
    match = _POINT.fullmatch(at)
    if match:
        x, y = float(match.group(1)), float(match.group(2))
        piece = segments.piece_at(x, y)
        line = segments.pieces.lines[piece]
        place = line.interpolate(line.project(shapely.Point(x, y)))
        name = segments.pipe_ids[segments.pieces.pipe[piece]]
        return _Break(np.array([piece], dtype=np.int64), name, place)
    table, _, name = at.partition(":")
    if table != "pipes" or not name:
        raise UserError(
            f"'{at}' is no place to shut off. Write pipes:ID, or x,y in the course's metres."
        )
    pieces = segments.pieces_of(name)
    longest = segments.pieces.lines[
        pieces[np.argmax(shapely.length(segments.pieces.lines[pieces]))]
    ]
    return _Break(pieces, name, longest.interpolate(0.5, normalized=True))


def _direction(dx: float, dy: float) -> str:
    return _DIRECTIONS[round(math.degrees(math.atan2(dx, dy)) / 45) % 8]


def _thing(ground: Ground, segments: Segments, name: str, place: Any) -> Thing:
    row = ground.valves.loc[[name]].iloc[0]
    shape = row["geometry"]
    known = shape is not None and not shape.is_empty
    x, y = (float(shape.x), float(shape.y)) if known else (math.nan, math.nan)
    near = int(shapely.STRtree(segments.pieces.lines).nearest(shape)) if known else -1
    on = segments.pipe_ids[segments.pieces.pipe[near]] if known else ""
    return Thing(
        subject=f"valves:{name}",
        label=_text(row["label"], name),
        kind=_text(row["kind"], "valve").replace("_", " "),
        x_m=x,
        y_m=y,
        away_m=math.hypot(x - place.x, y - place.y),
        direction=_direction(x - place.x, y - place.y) if known else "",
        on=pipe_words(ground, on) if on else "",
    )


def _things(ground: Ground, segments: Segments, names: Sequence[str], place: Any) -> list[Thing]:
    found = [_thing(ground, segments, name, place) for name in names]
    return sorted(found, key=lambda thing: (thing.away_m, thing.label))


def _dry_stations(ground: Ground, heads: Sequence[str]) -> list[DryStation]:
    """Stations of dry heads, by how many heads they lose."""
    table = pd.DataFrame({"station": ground.heads["station"], "area": head_areas(ground)})
    dry = table.loc[list(heads)].dropna(subset=["station"])
    whole = table["station"].value_counts()
    found = []
    for station, rows in dry.groupby("station", sort=False):
        name, known = str(station), rows["area"].dropna()
        area = str(known.mode().iloc[0]) if len(known) else ""
        control = ground.stations["controller"].get(name)
        found.append(
            DryStation(
                station=name,
                label=_label(ground, "stations", name),
                controller=_text(control, ""),
                dry_heads=len(rows),
                heads=int(whole[name]),
                area=area,
                area_label=_label(ground, "areas", area) if area else "",
                kind=_text(ground.areas["kind"].get(area), "") if area else "",
            )
        )
    return sorted(found, key=lambda one: (one.kind, one.area_label, one.label))


def _areas(ground: Ground, heads: Sequence[str]) -> tuple[tuple[str, str], ...]:
    """Every area that a dry head waters."""
    names = head_areas(ground).reindex(list(heads)).dropna().unique()
    return tuple(sorted((str(name), _label(ground, "areas", str(name))) for name in names))


def _parts(segments: Segments, where: _Break) -> tuple[Part, ...]:
    """Parts of the pipe between its own valves; none where it has no valve on it."""
    label = segments.labels(np.ones(len(segments.valves.ids), dtype=bool))
    names = label[segments.pieces.one[where.pieces]]
    if len(np.unique(names)) < 2:
        return ()
    parts = []
    for name in dict.fromkeys(names.tolist()):
        lines = segments.pieces.lines[where.pieces[names == name]]
        longest = lines[np.argmax(shapely.length(lines))]
        middle = longest.interpolate(0.5, normalized=True)
        parts.append(Part(float(middle.x), float(middle.y), float(shapely.length(lines).sum())))
    return tuple(parts)


def _refill(ground: Ground, segments: Segments, answer: Isolation) -> FillPlan:
    """Fill what was dry again, through a valve that was closed, else from the pumps."""
    at = [segments.valves.ids.index(name) for name in answer.close]
    ends = np.concatenate([segments.valves.one[at], segments.valves.other[at]])
    pieces = segments.pieces
    inside = np.isin(ends, np.concatenate([pieces.one[answer.dry], pieces.other[answer.dry]]))
    starts = ends[inside] if answer.close else segments.feed_nodes
    return fill_plan(
        segments, ground.pipes, ground.valves["kind"], pieces=answer.dry, starts=starts
    )


def _labels(ground: Ground, names: Sequence[str]) -> tuple[str, ...]:
    return tuple(_label(ground, "valves", name) for name in names)


def shut_off(
    ground: Ground, at: str, stuck: Collection[str] = (), segments: Segments | None = None
) -> ShutOff:
    """What shuts off a break at a pipe or a place.

    Args:
        ground: the record.
        at: "pipes:ID" for a whole pipe, "x,y" in the course's metres for a place on one.
        stuck: ids or labels of valves that do not close.
        segments: the network parted by its valves, where it is known already.

    Raises:
        UserError: no such pipe, place or valve; no pipes or feeds in the record.
    """
    segments = segments or build_segments(ground)
    where = _break(segments, at)
    jammed = _stuck_ids(ground, segments, stuck)
    answer = isolate(segments, where.pieces, jammed)
    fewer = answer.fewer
    return ShutOff(
        at=at,
        pipe=where.pipe,
        pipe_words=pipe_words(ground, where.pipe),
        x_m=float(where.place.x),
        y_m=float(where.place.y),
        close=tuple(_things(ground, segments, answer.close, where.place)),
        stands_closed=tuple(_things(ground, segments, answer.stands_closed, where.place)),
        stop=answer.stop,
        fittings=tuple(_things(ground, segments, answer.fittings, where.place)),
        stations=tuple(_dry_stations(ground, answer.heads)),
        areas=_areas(ground, answer.heads),
        dry_heads=len(answer.heads),
        dry_m=dry_length_m(segments, answer),
        parts=_parts(segments, where),
        fewer=Way(_labels(ground, fewer.close), (), len(fewer.dry_heads)) if fewer else None,
        detours=tuple(
            Way(_labels(ground, one.close), _labels(ground, one.open), len(one.heads))
            for one in answer.detours
        ),
        refill=_refill(ground, segments, answer),
        stuck=jammed,
        unfed=answer.unfed,
        findings=segments.findings,
        answer=answer,
    )


def _stuck_ids(ground: Ground, segments: Segments, stuck: Collection[str]) -> tuple[str, ...]:
    """Ids of the valves that are named by id or label.

    Raises:
        UserError: no isolation valve of the network is called so.
    """
    by_label = {_label(ground, "valves", name): name for name in segments.valves.ids}
    found = []
    for text in stuck:
        name = text.removeprefix("valves:")
        known = name if name in segments.valves.ids else by_label.get(name)
        if known is None:
            raise UserError(f"No isolation valve on a pipe is called '{text}'.")
        found.append(known)
    return tuple(dict.fromkeys(found))
