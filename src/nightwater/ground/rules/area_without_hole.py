"""Playing ground of no hole; greens and approaches only while a hole lacks a green."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked
from nightwater.ground.scopes import Scope

CODE: Final = "area-without-hole"
SEVERITY: Final = Severity.NOTE
SCOPE: Final = Scope.BESIDE_HEADS
HOLE_KINDS: Final = ("green", "tee", "fairway", "approach", "rough")


def find(linked: Linked) -> Iterator[Finding]:
    """Each such area, on a course whose holes are surveyed."""
    holes = linked.ground.holes
    if holes.empty:
        return
    kinds, found = linked.ground.areas["kind"], linked.area_holes
    complete = set(holes.index) <= set(found[kinds == "green"].dropna())
    asked = [kind for kind in HOLE_KINDS if not (complete and kind in ("green", "approach"))]
    for identity in kinds.index[kinds.isin(asked) & found.isna()]:
        yield Finding(
            SEVERITY,
            CODE,
            f"areas:{identity}",
            f"{linked.name('areas', identity)} ({kinds[identity]}) lies near no line of play.",
            "Name its hole, call it practice ground, or draw the missing hole.",
        )
