"""Declared spacing that does not fit the throw."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked, rows_where

CODE: Final = "spacing-against-throw"
SEVERITY: Final = Severity.WARNING
LEAST_THROW_SHARE: Final = 0.5  # spacing over throw; head to head is 1.0
MOST_THROW_SHARE: Final = 1.7


def find(linked: Linked) -> Iterator[Finding]:
    """Each head whose spacing is far from its throw."""
    heads = linked.heads
    share = heads["spacing_m"] / heads["throw_m"]
    odd = (share < LEAST_THROW_SHARE) | (share > MOST_THROW_SHARE)
    for identity, row in rows_where(heads, odd):
        yield Finding(
            SEVERITY,
            CODE,
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} throws {row['throw_m']:.1f} m and declares "
            f"{row['spacing_m']:.1f} m to the next head.",
            "Check nozzle and spacing; heads usually reach the next head or a little less.",
        )
