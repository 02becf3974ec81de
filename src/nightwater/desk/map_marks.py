"""Marks of a printed map as SVG, in millimetres: grounds, heads, valves, pipes.

Told apart by form, pattern and lightness, so that they hold on grey paper and for
colour-blind people. All are drawn with their middle at 0, 0.
"""

from __future__ import annotations

import math
from typing import Final

INK: Final = "#16302b"
SOFT: Final = "#5b6f6a"
PAPER: Final = "#ffffff"
# Lightness falls from rough to green in even steps; pattern and edge do the rest.
GROUND_FILL: Final = {
    "rough": "#f1f3ee",
    "native": "url(#native)",
    "grounds": "#f1f3ee",
    "fairway": "#dde6ee",
    "approach": "#c9dccf",
    "practice": "#e6dbe3",
    "path": "url(#path)",
    "tee": "#e3cfa4",
    "green": "#9cc3ab",
    "bunker": "url(#sand)",
    "water": "url(#waves)",
    "building": "url(#building)",
}
GROUND_ORDER: Final = tuple(GROUND_FILL)  # what is drawn later lies on top
EDGE_MM: Final = {"green": 0.45, "tee": 0.35, "bunker": 0.25, "building": 0.5}
PIPE_STROKE: Final = {
    "header": (1.5, ""),
    "main": (1.1, ""),
    "loop": (1.1, "5 0.9"),
    "spur": (0.7, ""),
    "lateral": (0.35, "1.6 0.8"),
}
STAND_OPEN: Final = ("isolation", "pressure_reducing")  # in normal running
PATTERNS: Final = f"""<defs>
<pattern id="sand" width="1.5" height="1.5" patternUnits="userSpaceOnUse">
<rect width="1.5" height="1.5" fill="#fbf7e8"/>
<circle cx="0.4" cy="0.4" r="0.16" fill="{SOFT}"/>
<circle cx="1.15" cy="1.15" r="0.16" fill="{SOFT}"/>
</pattern>
<pattern id="waves" width="3" height="1.6" patternUnits="userSpaceOnUse">
<rect width="3" height="1.6" fill="#e8f0f4"/>
<path d="M0 0.8q0.75 -0.7 1.5 0t1.5 0" fill="none" stroke="{SOFT}" stroke-width="0.18"/>
</pattern>
<pattern id="native" width="2.4" height="2.4" patternUnits="userSpaceOnUse">
<path d="M0.5 1.6l0.3 -0.9l0.3 0.9" fill="none" stroke="{SOFT}" stroke-width="0.15"/>
</pattern>
<pattern id="path" width="1" height="1" patternUnits="userSpaceOnUse">
<rect width="1" height="1" fill="#e9e6e2"/>
<path d="M0 0.5h1" fill="none" stroke="{SOFT}" stroke-width="0.2"/>
</pattern>
<pattern id="building" width="1.4" height="1.4" patternUnits="userSpaceOnUse">
<rect width="1.4" height="1.4" fill="#c8c4cb"/>
<path d="M0 1.4l1.4 -1.4" fill="none" stroke="{INK}" stroke-width="0.2"/>
</pattern>
</defs>"""


def sector_path(radius: float, arc_deg: float, bearing_deg: float) -> str:
    """Outline of a wetted sector around 0, 0 as SVG path data; north is up.

    Args:
        radius: of the throw, in the drawing's unit.
        arc_deg: width of the sector, below 360.
        bearing_deg: its middle, clockwise from north.
    """
    ends = [math.radians(bearing_deg + half * arc_deg / 2) for half in (-1, 1)]
    (x0, y0), (x1, y1) = ((radius * math.sin(a), -radius * math.cos(a)) for a in ends)
    large = int(arc_deg > 180)
    return f"M0 0L{x0:.3f} {y0:.3f}A{radius:.3f} {radius:.3f} 0 {large} 1 {x1:.3f} {y1:.3f}Z"


def throw_mark(radius: float, arc_deg: float | None, bearing_deg: float | None) -> str:
    """What a head wets: a thin circle, or a tinted sector.

    A part circle whose bearing nobody knows is drawn as a broken circle.
    """
    known = arc_deg is None or arc_deg >= 360 or bearing_deg is not None
    if arc_deg is None or arc_deg >= 360 or bearing_deg is None:
        dash = "" if known else ' stroke-dasharray="1.2 1"'
        return f'<circle r="{radius:.3f}" fill="none" stroke="{SOFT}" stroke-width="0.09"{dash}/>'
    path = sector_path(radius, arc_deg, bearing_deg)
    return (
        f'<path d="{path}" fill="{INK}" fill-opacity="0.05" stroke="{SOFT}" stroke-width="0.12"/>'
    )


def head_mark(arc_deg: float | None, bearing_deg: float | None, *, sound: bool = True) -> str:
    """A head: a full dot for a full circle, a ring with a hand for a part circle.

    A head that is worn, low, tilted or broken has a square around it.
    """
    part = arc_deg is not None and arc_deg < 360
    fill = PAPER if part else INK
    mark = f'<circle r="0.62" fill="{fill}" stroke="{INK}" stroke-width="0.28"/>'
    if part and bearing_deg is not None:
        turn = math.radians(bearing_deg)
        x, y = 1.9 * math.sin(turn), -1.9 * math.cos(turn)
        mark = f'<path d="M0 0L{x:.3f} {y:.3f}" stroke="{INK}" stroke-width="0.28"/>' + mark
    if not sound:
        mark += (
            f'<path d="M-1.1 -1.1h2.2v2.2h-2.2z" fill="none" stroke="{INK}" stroke-width="0.2"/>'
        )
    return mark


def valve_mark(kind: str, is_open: bool | None) -> str:
    """A valve by its kind; one that should be open and stands shut is filled."""
    fill = INK if is_open is False and kind in STAND_OPEN else PAPER
    style = f'fill="{fill}" stroke="{INK}" stroke-width="0.3"'
    bow = "M-1.5 -0.95L1.5 0.95V-0.95L-1.5 0.95Z"
    forms = {
        "isolation": f'<path d="{bow}" {style}/>',
        "pressure_reducing": (f'<path d="{bow}" {style}/><circle cy="-1.5" r="0.55" {style}/>'),
        "drain": f'<path d="M-1.2 -0.8h2.4L0 1.3Z" {style}/>',
        "air": f'<path d="M-1.2 0.8h2.4L0 -1.3Z" {style}/>',
        "quick_coupler": f'<path d="M-0.9 -0.9h1.8v1.8h-1.8zM-0.9 0h1.8M0 -0.9v1.8" {style}/>',
    }
    return forms.get(kind, f'<path d="M0 -1.2L1.2 0L0 1.2L-1.2 0Z" {style}/>')


def pipe_style(kind: str | None) -> str:
    """Stroke of a pipe by its part in the network; an unknown one is dotted."""
    width, dash = PIPE_STROKE.get(kind or "", (0.35, "0.3 0.9"))
    broken = f' stroke-dasharray="{dash}"' if dash else ""
    return f'fill="none" stroke="{SOFT}" stroke-width="{width}" stroke-linecap="butt"{broken}'


def ground_style(kind: str) -> str:
    """Fill and edge of an area."""
    edge = EDGE_MM.get(kind, 0.15)
    fill = GROUND_FILL.get(kind, PAPER)
    return f'fill="{fill}" fill-rule="evenodd" stroke="{INK}" stroke-width="{edge}"'


def sample(inner: str, width: float = 9.0, height: float = 4.4) -> str:
    """A mark alone, as a small drawing for the legend."""
    x, y = -width / 2, -height / 2
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="{x} {y} {width} {height}">{PATTERNS}{inner}</svg>'
    )


def north_mark() -> str:
    """An arrow to the north of the map's grid, 8 by 12 mm."""
    halves = f'<path d="M0 -6L2.4 3L0 1.4Z" fill="{INK}"/><path d="M0 -6L-2.4 3L0 1.4" fill="none" '
    halves += f'stroke="{INK}" stroke-width="0.25" stroke-linejoin="round"/>'
    letter = f'<path d="M-0.9 6V4L0.9 6V4" fill="none" stroke="{INK}" stroke-width="0.35"/>'
    return sample(halves + letter, 8.0, 12.6)
