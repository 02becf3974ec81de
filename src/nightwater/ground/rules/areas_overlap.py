"""Areas of one kind drawn on each other."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked
from nightwater.ground.overlaps import overlap_pairs
from nightwater.ground.scopes import Scope

CODE: Final = "areas-overlap"
SEVERITY: Final = Severity.WARNING
SCOPE: Final = Scope.BESIDE_HEADS
OVERLAP_SHARE: Final = 0.05  # of the smaller area: less is drawing error along an edge
OVERLAP_M2: Final = 5.0


def find(linked: Linked) -> Iterator[Finding]:
    """Each such pair once."""
    pairs = overlap_pairs(linked.ground)
    doubtful = pairs[(pairs["share"] > OVERLAP_SHARE) & (pairs["overlap_m2"] > OVERLAP_M2)]
    kinds = linked.ground.areas["kind"]
    for row in doubtful.itertuples(index=False):
        one, other = linked.name("areas", row.one), linked.name("areas", row.other)
        yield Finding(
            SEVERITY,
            CODE,
            f"areas:{row.one}",
            f"{one} and {other}, both {kinds[row.one]}, share {row.overlap_m2:,.0f} m² "
            f"({row.share:.0%} of the smaller).",
            "Redraw one, or remove it if it is the same area twice.",
        )
