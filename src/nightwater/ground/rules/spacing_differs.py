"""Heads whose measured neighbour is nowhere near the declared spacing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked, neighbour_distance_m, rows_where
from nightwater.ground.scopes import Scope

CODE: Final = "spacing-differs"
SEVERITY: Final = Severity.WARNING
SCOPE: Final = Scope.PLACE
LOW_SHARE: Final = 0.65  # curved rows bring neighbours closer than the design's 1.0
HIGH_SHARE: Final = 1.5  # a missing neighbour leaves a gap of two


def find(linked: Linked) -> Iterator[Finding]:
    """Each head whose nearest neighbour of its kind is too near or too far."""
    heads = linked.heads.assign(neighbour_m=neighbour_distance_m(linked.heads))
    share = heads["neighbour_m"] / heads["spacing_m"]
    for identity, row in rows_where(heads, (share < LOW_SHARE) | (share > HIGH_SHARE)):
        yield Finding(
            SEVERITY,
            CODE,
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} declares {row['spacing_m']:.1f} m to the next "
            f"head; the nearest of its kind stands {row['neighbour_m']:.1f} m away.",
            "Measure it, then correct the spacing or the head's place: the rate hangs on it.",
        )
