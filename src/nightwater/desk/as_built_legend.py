"""What the marks of an as-built map mean: only those that stand on it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from nightwater.desk.as_built_parts import HoleParts
from nightwater.desk.map_marks import (
    GROUND_ORDER,
    PIPE_STROKE,
    STAND_OPEN,
    ground_style,
    head_mark,
    pipe_style,
    sample,
    throw_mark,
    valve_mark,
)
from nightwater.units import UnitSystem, shown

_SHOWN_DIAMETERS: Final = 4
_VALVE_WORDS: Final = {
    "isolation": "isolation valve",
    "drain": "drain",
    "air": "air valve",
    "pressure_reducing": "pressure-reducing valve",
    "quick_coupler": "quick coupler",
}

Item = dict[str, str]


def _item(svg: str, text: str) -> Item:
    return {"svg": svg, "text": text}


def _grounds(parts: HoleParts) -> Iterator[Item]:
    present = set(parts.areas["kind"])
    for kind in reversed(GROUND_ORDER):
        if kind in present:
            mark = f'<rect x="-4" y="-1.7" width="8" height="3.4" {ground_style(kind)}/>'
            yield _item(sample(mark), kind)


def _heads(parts: HoleParts) -> Iterator[Item]:
    arcs = parts.heads["arc_deg"]
    if (arcs.isna() | arcs.ge(360)).any():
        yield _item(sample(throw_mark(1.9, 360, None) + head_mark(360, None)), "head, full circle")
    if arcs.lt(360).any():
        mark = throw_mark(3.6, 180, 90) + head_mark(180, 90)
        yield _item(sample(f'<g transform="translate(-1.5 0)">{mark}</g>'), "head, part circle")
    if not parts.heads["condition"].dropna().isin(("good", "unknown")).all():
        yield _item(sample(head_mark(360, None, sound=False)), "head to look at: see its condition")


def _valves(parts: HoleParts) -> Iterator[Item]:
    valves = parts.valves
    for kind, words in _VALVE_WORDS.items():
        own = valves[valves["kind"].eq(kind)]
        if len(own):
            yield _item(sample(valve_mark(kind, True)), words)
    shut = valves["open"].eq(False).fillna(False) & valves["kind"].isin(STAND_OPEN)
    if shut.any():
        yield _item(sample(valve_mark("isolation", False)), "filled: valve that stands shut")


def _diameters(sizes_mm: Any, units: UnitSystem) -> str:
    sizes = sorted(set(sizes_mm.dropna()), reverse=True)
    if not sizes or len(sizes) > _SHOWN_DIAMETERS:
        return ""
    return " " + ", ".join(shown(size, "mm", units) for size in sizes) + " inside"


def _pipes(parts: HoleParts, units: UnitSystem) -> Iterator[Item]:
    pipes = parts.ground.pipes
    near = pipes[pipes.geometry.notna() & pipes.geometry.intersects(parts.zone)]
    for kind in PIPE_STROKE:
        own = near[near["kind"].eq(kind)]
        if len(own):
            mark = f'<path d="M-4.4 0H4.4" {pipe_style(kind)}/>'
            yield _item(sample(mark), kind + _diameters(own["diameter_mm"], units))


def legend(parts: HoleParts, units: UnitSystem) -> list[Item]:
    """Mark (SVG) and words of everything that is drawn of a hole."""
    found = [*_grounds(parts), *_heads(parts), *_pipes(parts, units), *_valves(parts)]
    return [
        *found,
        _item(
            sample(
                '<path d="M-4.4 0H4.4" fill="none" stroke="#16302b" '
                'stroke-width="0.2" stroke-dasharray="0.4 2.2"/>'
            ),
            "line of play",
        ),
    ]
