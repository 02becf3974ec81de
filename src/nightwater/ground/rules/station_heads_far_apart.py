"""Stations with a head far from all their others."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import pandas as pd
import shapely

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked, points_of
from nightwater.ground.scopes import Scope

CODE: Final = "station-heads-far-apart"
SEVERITY: Final = Severity.WARNING
SCOPE: Final = Scope.PLACE
APART_SHARE: Final = 2.2  # of the declared spacing: a pair stands one apart
APART_M: Final = 50.0  # where no spacing is declared


def _loneliest(heads: pd.DataFrame) -> tuple[float, float]:
    """Largest distance of a head to the nearest one of its station, and the limit [m]."""
    spots = points_of(heads)
    away = shapely.distance(spots[:, None], spots[None, :])
    np.fill_diagonal(away, np.inf)
    spacing = float(heads["spacing_m"].max())
    return float(away.min(axis=1).max()), APART_M if np.isnan(spacing) else APART_SHARE * spacing


def find(linked: Linked) -> Iterator[Finding]:
    """Each such station, with the distance."""
    placed = linked.heads.dropna(subset=["station", "x"])
    for identity, heads in placed.groupby("station"):
        if len(heads) < 2:
            continue
        distance, limit = _loneliest(heads)
        if distance > limit:
            yield Finding(
                SEVERITY,
                CODE,
                f"stations:{identity}",
                f"A head of station {linked.name('stations', str(identity))} stands "
                f"{distance:.0f} m from its others; {limit:.0f} m is the most expected.",
                "Run it and see which heads rise; one may belong to another station.",
            )
