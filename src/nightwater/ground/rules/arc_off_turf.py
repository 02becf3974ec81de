"""Part circles that point away from turf."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked
from nightwater.ground.scopes import Scope
from nightwater.ground.sectors import RINGS, STEP_DEG, best_window, middle_deg, samples_on
from nightwater.ground.shapes import sound_shapes
from nightwater.ground.tables import DRY_KINDS, WATERED_KINDS

CODE: Final = "arc-off-turf"
SEVERITY: Final = Severity.WARNING
SCOPE: Final = Scope.PLACE
LEAST_SHARE: Final = 1 / 3  # of its sector on turf; the narrow ring around a green takes some 0.4
LEAST_GAIN: Final = 0.3  # less is not worth a turn


def _turf_rays(linked: Linked, heads: pd.DataFrame) -> NDArray[np.float64]:
    """Share of turf in each direction of each head, weighted by ground, shape (n, 72)."""
    areas = linked.ground.areas
    x, y, throw = (heads[name].to_numpy(dtype=float) for name in ("x", "y", "throw_m"))
    on_turf, on_dry = (
        samples_on(x, y, throw, sound_shapes(areas[areas["kind"].isin(kinds)], "areas"))
        for kinds in (WATERED_KINDS, DRY_KINDS)
    )
    out = np.arange(RINGS) + 0.5
    return np.asarray((on_turf * (1.0 - on_dry) * out).sum(axis=2) / out.sum())


def _aimed(rays: NDArray[np.float64], arc_deg: float, bearing_deg: float) -> tuple[float, int, int]:
    """Share of turf in a sector, and the first ray and number of the best one of that arc."""
    width = max(round(arc_deg / STEP_DEG), 1)
    start = round((bearing_deg - arc_deg / 2.0) / STEP_DEG)
    own = float(np.roll(rays, -start)[:width].mean())
    return own, best_window(rays, width)[0], width


def find(linked: Linked) -> Iterator[Finding]:
    """Each part circle with little turf in its sector, where a turn would find much more."""
    heads = linked.heads
    known = heads[["x", "y", "throw_m", "bearing_deg"]].notna().all(axis=1) & (heads["throw_m"] > 0)
    parts = heads[known & (heads["arc_deg"] < 360.0)]
    for (identity, row), rays in zip(parts.iterrows(), _turf_rays(linked, parts), strict=True):
        own, first, width = _aimed(rays, float(row["arc_deg"]), float(row["bearing_deg"]))
        best = float(np.roll(rays, -first)[:width].mean())
        if own < LEAST_SHARE and best - own >= LEAST_GAIN:
            yield Finding(
                SEVERITY,
                CODE,
                f"heads:{identity}",
                f"Head {linked.name('heads', str(identity))} points to {row['bearing_deg']:.0f}° "
                f"with {own:.0%} of its sector on turf; towards {middle_deg(first, width):.0f}° it "
                f"were {best:.0%}.",
                "Watch it turn, then set its arc or correct its bearing.",
            )
