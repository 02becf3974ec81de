"""The map of one hole as SVG, at a true scale, in millimetres of paper."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from html import escape
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely

from nightwater.desk.as_built_parts import HoleParts
from nightwater.desk.as_built_scale import MM_PER_M, Scale
from nightwater.desk.map_labels import Box, Placed, Wanted, place_labels
from nightwater.desk.map_marks import (
    GROUND_ORDER,
    INK,
    PAPER,
    PATTERNS,
    SOFT,
    ground_style,
    head_mark,
    pipe_style,
    throw_mark,
    valve_mark,
)

FONT: Final = "DejaVu Sans Mono"  # comes with the printing library, so widths are known
_ADVANCE: Final = 0.602  # of the font's size, every letter
_MARK_MM: Final = 1.1  # half of the box that a head's mark keeps free
_VALVE_MM: Final = 1.7
_MIN_PIPE_LABEL_MM: Final = 14.0
_FIRST_PART: Final = re.compile(r"[^-./ ]+[-./ ](?=.)")
_SOUND: Final = ("good", "unknown")


@dataclass(frozen=True)
class Frame:
    """A window of paper onto the ground; y runs down on paper, north is up."""

    parts: HoleParts
    scale: Scale
    width_mm: float
    height_mm: float
    text_mm: float

    @property
    def mm_per_m(self) -> float:
        """Paper to ground."""
        return MM_PER_M / self.scale.one_to

    def on_paper(self, shape: Any) -> Any:
        """A shape in millimetres of paper."""
        left, bottom, right, top = self.parts.extent
        x0, y0, k = (left + right) / 2, (bottom + top) / 2, self.mm_per_m

        def moved(points: Any) -> Any:
            x = (points[:, 0] - x0) * k + self.width_mm / 2
            return np.column_stack((x, self.height_mm / 2 - (points[:, 1] - y0) * k))

        return shapely.transform(shape, moved)

    @property
    def box(self) -> Any:
        """The whole frame."""
        return shapely.box(0, 0, self.width_mm, self.height_mm)


@dataclass(frozen=True)
class HoleMap:
    """A drawn map, and what a reader must be told of it.

    Attributes:
        svg: the drawing.
        left_out: labels for which there was no room.
        prefix: what the labels of heads leave out because all begin with it.
        placed: where labels stand, in millimetres.
    """

    svg: str
    left_out: tuple[str, ...]
    prefix: str
    placed: tuple[Placed, ...]


def _path(shape: Any) -> str:
    """Path data of lines or of outlines with holes."""
    pieces = []
    for part in shapely.get_parts(shape):
        polygon = part.geom_type == "Polygon"
        rings = [part.exterior, *part.interiors] if polygon else [part]
        for ring in rings:
            points = shapely.get_coordinates(ring)[: -1 if polygon else None]
            pieces.append("M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in points))
            pieces.append("Z" if polygon else "")
    return "".join(pieces)


def _visible(frame: Frame, shapes: Iterable[Any]) -> Iterator[tuple[int, Any]]:
    """Place and paper shape of what lies in the frame."""
    for place, shape in enumerate(shapes):
        if shape is not None and not shape.is_empty:
            seen = shapely.intersection(shapely.make_valid(frame.on_paper(shape)), frame.box)
            if not seen.is_empty:
                yield place, seen


def _grounds(frame: Frame) -> Iterator[str]:
    everything = frame.parts.ground.areas
    others = everything[~everything.index.isin(frame.parts.areas.index)]
    for _, shape in _visible(frame, others.geometry):
        yield f'<path d="{_path(shape)}" fill="none" stroke="#c3ccc8" stroke-width="0.15"/>'
    own = frame.parts.areas
    rank = {kind: place for place, kind in enumerate(GROUND_ORDER)}
    own = own.iloc[np.argsort(own["kind"].map(rank).fillna(-1).to_numpy(), kind="stable")]
    for place, shape in _visible(frame, own.geometry):
        yield f'<path d="{_path(shape)}" {ground_style(str(own["kind"].iloc[place]))}/>'


def _play(frame: Frame) -> Iterator[str]:
    line = frame.parts.ground.holes.geometry[frame.parts.hole]
    for _, shape in _visible(frame, [line]):
        style = f'fill="none" stroke="{INK}" stroke-width="0.2" stroke-dasharray="0.4 2.2"'
        yield f'<path d="{_path(shape)}" {style}/>'


def _pipes(frame: Frame) -> Iterator[str]:
    pipes = frame.parts.ground.pipes
    for place, shape in _visible(frame, pipes.geometry):
        kind = pipes["kind"].iloc[place]
        yield f'<path d="{_path(shape)}" {pipe_style(kind if isinstance(kind, str) else None)}/>'


def _number(value: Any) -> float | None:
    return None if pd.isna(value) else float(value)


def _at(frame: Frame, shape: Any) -> tuple[float, float]:
    point = frame.on_paper(shape)
    return float(point.x), float(point.y)


def _placed_mark(frame: Frame, shape: Any, mark: str) -> str:
    x, y = _at(frame, shape)
    return f'<g transform="translate({x:.2f} {y:.2f})">{mark}</g>'


def _throws(frame: Frame) -> Iterator[str]:
    for row in frame.parts.heads.itertuples():
        if row.geometry is not None and not pd.isna(row.throw_m):
            radius = float(row.throw_m) * frame.mm_per_m
            mark = throw_mark(radius, _number(row.arc_deg), _number(row.bearing_deg))
            yield _placed_mark(frame, row.geometry, mark)


def _marks(frame: Frame) -> Iterator[str]:
    heads = frame.parts.ground.heads
    others = heads[~heads.index.isin(frame.parts.heads.index)]
    for _, shape in _visible(frame, others.geometry):
        yield f'<circle cx="{shape.x:.2f}" cy="{shape.y:.2f}" r="0.35" fill="#b4bfbb"/>'
    for row in frame.parts.heads.itertuples():
        if row.geometry is not None:
            sound = not isinstance(row.condition, str) or row.condition in _SOUND
            mark = head_mark(_number(row.arc_deg), _number(row.bearing_deg), sound=sound)
            yield _placed_mark(frame, row.geometry, mark)
    for row in frame.parts.valves.itertuples():
        is_open = None if pd.isna(row.open) else bool(row.open)
        yield _placed_mark(frame, row.geometry, valve_mark(str(row.kind), is_open))


def common_prefix(labels: Sequence[str]) -> str:
    """What four of five labels or more begin with, up to their first dash, dot, slash or blank."""
    heads = [found[0] for label in labels if (found := _FIRST_PART.match(label))]
    if not heads:
        return ""
    prefix, count = Counter(heads).most_common(1)[0]
    return prefix if count >= 0.8 * len(labels) else ""


def _wanted(frame: Frame, text: str, x: float, y: float, *, size: float = 1.0) -> Wanted:
    height = frame.text_mm * size
    return Wanted(text, x, y, len(text) * height * _ADVANCE + 0.3, height * 0.95)


def _point_labels(frame: Frame, prefix: str) -> tuple[list[Wanted], list[Box]]:
    wanted, covered = [], []
    tables = (("heads", frame.parts.heads, _MARK_MM), ("valves", frame.parts.valves, _VALVE_MM))
    for table, rows, half in tables:
        for identity, shape in rows.geometry.items():
            if shape is None:
                continue
            x, y = _at(frame, shape)
            name = frame.parts.name(table, identity)
            text = name.removeprefix(prefix) if table == "heads" else name
            wanted.append(_wanted(frame, text, x, y))
            covered.append((x - half * 0.8, y - half * 0.8, x + half * 0.8, y + half * 0.8))
    return wanted, covered


def _pipe_labels(frame: Frame) -> list[Wanted]:
    """One label for each name in the frame, at the longest piece that bears it."""
    pipes = frame.parts.ground.pipes
    longest: dict[str, Any] = {}
    for place, shape in _visible(frame, pipes.geometry):
        label = pipes["label"].iloc[place]
        if pipes["kind"].iloc[place] == "lateral" or not isinstance(label, str):
            continue
        parts = [part for part in shapely.get_parts(shape) if part.geom_type == "LineString"]
        for part in parts:
            if part.length > max(_MIN_PIPE_LABEL_MM, getattr(longest.get(label), "length", 0.0)):
                longest[label] = part
    middles = {label: line.interpolate(0.5, normalized=True) for label, line in longest.items()}
    return [_wanted(frame, label, p.x, p.y, size=0.85) for label, p in middles.items()]


def _label(placed: Placed, size: float, *, weight: str = "normal", colour: str = INK) -> str:
    wanted = placed.wanted
    x, y = placed.x - wanted.width / 2 + 0.15, placed.y + size * 0.36
    text = (
        f'<text x="{x:.2f}" y="{y:.2f}" font-family="{FONT}" font-size="{size:.2f}" '
        f'font-weight="{weight}" fill="{colour}" stroke="{PAPER}" stroke-width="0.5" '
        f'stroke-linejoin="round" paint-order="stroke">{escape(wanted.text)}</text>'
    )
    return _leader(placed) + text if placed.led else text


def _along_pipe(placed: Placed, size: float) -> str:
    """A pipe's label on a patch of paper, since it may stand on the pipe."""
    left, top, right, bottom = placed.box
    return (
        f'<rect x="{left - 0.2:.2f}" y="{top - 0.1:.2f}" width="{right - left + 0.4:.2f}" '
        f'height="{bottom - top + 0.2:.2f}" fill="{PAPER}" fill-opacity="0.85"/>'
        + _label(placed, size, colour=SOFT)
    )


def _leader(placed: Placed) -> str:
    left, top, right, bottom = placed.box
    x = min(max(placed.wanted.x, left), right)
    y = min(max(placed.wanted.y, top), bottom)
    return (
        f'<path d="M{placed.wanted.x:.2f} {placed.wanted.y:.2f}L{x:.2f} {y:.2f}" '
        f'stroke="{INK}" stroke-width="0.12" fill="none"/>'
    )


def hole_map(frame: Frame) -> HoleMap:
    """Draw a hole: its ground, what is buried in it, and a label for every head and valve.

    What belongs to other holes is drawn faintly. Labels of pipes give way to the others.
    """
    parts = frame.parts
    prefix = common_prefix([parts.name("heads", key) for key in parts.heads.index])
    wanted, covered = _point_labels(frame, prefix)
    edge = (0.5, 0.5, frame.width_mm - 0.5, frame.height_mm - 0.5)
    placed, left = place_labels(wanted, edge, covered)
    along, _ = place_labels(_pipe_labels(frame), edge, [*covered, *(each.box for each in placed)])
    drawn = [*_grounds(frame), *_play(frame), *_throws(frame), *_pipes(frame), *_marks(frame)]
    drawn += [_along_pipe(each, frame.text_mm * 0.85) for each in along]
    drawn += [_label(each, frame.text_mm, weight="bold") for each in placed]
    width, height = f"{frame.width_mm:.2f}", f"{frame.height_mm:.2f}"
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}">{PATTERNS}<clipPath id="frame">'
        f'<rect width="{width}" height="{height}"/></clipPath>'
        f'<g clip-path="url(#frame)">{"".join(drawn)}</g></svg>'
    )
    return HoleMap(svg, tuple(each.text for each in left), prefix, (*placed, *along))
