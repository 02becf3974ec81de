"""Two pipes that lie on each other: one drawing too many."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import shapely

from nightwater.findings import Finding, Severity
from nightwater.pipes.laid import Laid

CODE: Final = "pipes-doubled"
SEVERITY: Final = Severity.WARNING
BESIDE_M: Final = 0.3  # pipes in one trench are drawn farther apart than this
LEAST_SHARE: Final = 0.9  # of the shorter one's length
LEAST_M: Final = 2.0  # a shorter pipe is all joint


def find(laid: Laid) -> Iterator[Finding]:
    """Each such pair once, at the shorter pipe."""
    lines, length = laid.lines, shapely.length(laid.lines)
    beside = shapely.buffer(lines, BESIDE_M, cap_style="flat")
    one, other = shapely.STRtree(lines).query(beside, predicate="intersects")
    shorter = (length[other] < length[one]) | ((length[other] == length[one]) & (one < other))
    one, other = (
        one[shorter & (length[other] >= LEAST_M)],
        other[shorter & (length[other] >= LEAST_M)],
    )
    share = shapely.length(shapely.intersection(lines[other], beside[one])) / length[other]
    names = [str(name) for name in laid.ground.pipes.index]
    for first, second, part in zip(one, other, share, strict=True):
        if part >= LEAST_SHARE:
            name, longer = names[second], names[first]
            yield Finding(
                SEVERITY,
                CODE,
                f"pipes:{name}",
                f"{part:.0%} of pipe {laid.name('pipes', name)} ({length[second]:.0f} m) lies on "
                f"pipe {laid.name('pipes', longer)}.",
                "Remove the one that was drawn twice, or draw them where they lie.",
            )
