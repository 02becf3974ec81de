"""Holes without a line of play, or with one that is none."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import shapely

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked
from nightwater.ground.scopes import Scope
from nightwater.ground.shapes import sound_shapes

CODE: Final = "hole-without-line"
SEVERITY: Final = Severity.WARNING
SCOPE: Final = Scope.BESIDE_HEADS
LEAST_M: Final = 30.0  # the shortest holes are twice as long


def find(linked: Linked) -> Iterator[Finding]:
    """Each such hole."""
    holes = linked.ground.holes
    lines = sound_shapes(holes, "holes")
    each = zip(holes.index, shapely.length(lines), shapely.is_empty(lines), strict=True)
    for identity, metres, empty in each:
        if metres >= LEAST_M:
            continue
        name, length = linked.name("holes", identity), f"{metres:.0f} m long"
        words = f"The line of play of {name} is {length}; {LEAST_M:.0f} m is the least."
        yield Finding(
            SEVERITY,
            CODE,
            f"holes:{identity}",
            f"{name} has no line of play." if empty else words,
            "Draw it from the tee to the green; until then no area and no number follow from it.",
        )
