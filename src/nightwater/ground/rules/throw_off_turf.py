"""Heads that throw into a bunker or onto water."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import shapely

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked, rows_where
from nightwater.ground.sector_shapes import sector_shapes, shares_on
from nightwater.ground.shapes import sound_shapes

CODE: Final = "throw-off-turf"
SEVERITY: Final = Severity.WARNING
MOST_SHARE: Final = 0.35  # of the sector; some sand within the throw cannot be helped
DRY_KINDS: Final = ("bunker", "water")  # paths and buildings are no kinds of area


def find(linked: Linked) -> Iterator[Finding]:
    """Each head with more than `MOST_SHARE` of its sector on one of these."""
    areas, heads = linked.ground.areas, linked.heads
    sectors = sector_shapes(heads)
    for kind in DRY_KINDS:
        ground = shapely.get_parts(
            shapely.union_all(sound_shapes(areas[areas["kind"] == kind], "areas"))
        )
        share = shares_on(sectors, ground)
        for identity, row in rows_where(heads.assign(share=share), share > MOST_SHARE):
            yield Finding(
                SEVERITY,
                CODE,
                f"heads:{identity}",
                f"Head {linked.name('heads', identity)} throws {row['share']:.0%} of its water "
                f"on {kind} ground.",
                "Turn or narrow its arc, give it a smaller nozzle, or redraw the outline.",
            )
