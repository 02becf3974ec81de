"""How far apart two surveys of one thing may be: gates by table and evidence, no source."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.ground.columns import EVIDENCE, Table

# Common practice, no source. A hand-held receiver among trees is good to 3 m, a designer's
# drawing laid over what was built to 5 m, a place pointed out on a picture to 8 m; heads
# stand 15 m and more apart, so none of these reaches halfway to a neighbour in its row.
_POINT_M: Final = {"surveyed": 3.0, "drawing": 5.0, "guessed": 8.0}
# One of its kind on the ground: a pump house, a pond; people mark its door or its middle.
_PLANT_M: Final = {"surveyed": 10.0, "drawing": 15.0, "guessed": 20.0}
# Where a line of play runs is a matter of taste by some metres; where it leads is not.
_PLAY_M: Final = {"surveyed": 15.0, "drawing": 15.0, "guessed": 15.0}
GATES_M: Final[Mapping[str, Mapping[str, float]]] = {
    "heads": _POINT_M,
    "valves": _POINT_M,
    "pipes": _POINT_M,
    "areas": _POINT_M,
    "holes": _PLAY_M,
    "pumps": _PLANT_M,
    "sources": _PLANT_M,
    "meters": _PLANT_M,
    "gauges": _PLANT_M,
}
FAR_MOVE_M: Final = 15.0  # a head dug up and set anew stays within one spacing of its row
SAME_GROUND_LEAST: Final = 0.3  # shared of joint ground, below which outlines are of two areas
SAME_GROUND_CLEAR: Final = 0.6  # … and from which nobody need look
SAME_LINE_LEAST: Final = 0.5  # share of both lines that runs within the gate of the other


def _weaker(one: Any, other: Any) -> str:
    """Of two evidences the weaker; what is not stated counts as surveyed, the tightest gate."""
    known = [EVIDENCE.index(value) if value in EVIDENCE else 0 for value in (one, other)]
    return EVIDENCE[max(known)]


def gate_m(table: str, known: Any, told: Any) -> float:
    """How far apart record and survey may have one thing [m], by the weaker evidence of both."""
    return GATES_M.get(table, _POINT_M)[_weaker(known, told)]


def widest_gate_m(table: Table) -> float:
    """The widest gate of a table [m]."""
    return max(GATES_M.get(table.name, _POINT_M).values())


def _ranks(frame: pd.DataFrame) -> NDArray[np.int64]:
    if "evidence" not in frame:
        return np.zeros(len(frame), dtype=np.int64)
    ranks = frame["evidence"].map({name: rank for rank, name in enumerate(EVIDENCE)})
    return ranks.astype("float64").fillna(0).to_numpy().astype(np.int64)


def pair_gates_m(
    table: Table,
    told: pd.DataFrame,
    known: pd.DataFrame,
    pairs: tuple[NDArray[np.int64], NDArray[np.int64]],
) -> NDArray[np.float64]:
    """The gate of each pair of rows [m]: `gate_m` for (place in told, place in known)."""
    gates = np.array([GATES_M.get(table.name, _POINT_M)[name] for name in EVIDENCE])
    mine, theirs = pairs
    return gates[np.maximum(_ranks(told)[mine], _ranks(known)[theirs])]
