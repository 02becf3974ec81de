"""Larger pipes that cross without a joint."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from nightwater.findings import Finding, Severity
from nightwater.ground.shapes import Geometries
from nightwater.pipes.joints import JOINT_M
from nightwater.pipes.laid import TRUNKS, Laid

CODE: Final = "pipes-cross"
SEVERITY: Final = Severity.NOTE


def _crossings(laid: Laid) -> tuple[NDArray[np.int64], NDArray[np.int64], Geometries]:
    """Pairs of pipes that are no laterals, and a place where they cross."""
    trunks = np.flatnonzero(laid.ground.pipes["kind"].isin(TRUNKS).to_numpy())
    lines = laid.lines[trunks]
    one, other = shapely.STRtree(lines).query(lines, predicate="crosses")
    one, other = one[one < other], other[one < other]
    met = shapely.get_parts(shapely.intersection(lines[one], lines[other]), return_index=True)
    places, pair = met
    return trunks[one[pair]], trunks[other[pair]], places


def find(laid: Laid) -> Iterator[Finding]:
    """Each crossing farther than a joint's reach from every joint."""
    one, other, places = _crossings(laid)
    pieces = laid.stretches.lines
    joints = np.concatenate([shapely.get_point(pieces, 0), shapely.get_point(pieces, -1)])
    near = shapely.STRtree(joints).query(places, "dwithin", distance=JOINT_M)[0]
    names = [str(name) for name in laid.ground.pipes.index]
    for row in np.setdiff1d(np.arange(len(places)), near):
        first, second = names[one[row]], names[other[row]]
        yield Finding(
            SEVERITY,
            CODE,
            f"pipes:{first}",
            f"Pipes {laid.name('pipes', first)} and {laid.name('pipes', second)} cross without a "
            f"joint at {places[row].x:.0f}, {places[row].y:.0f} m.",
            "If water passes between them, end one of them there; else leave it.",
        )
