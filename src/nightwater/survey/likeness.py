"""Which rows of a survey could be which of the record, and what each such pair costs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from nightwater.ground.columns import Shape, Table
from nightwater.survey.gates import (
    FAR_MOVE_M,
    SAME_GROUND_LEAST,
    SAME_LINE_LEAST,
    pair_gates_m,
    widest_gate_m,
)

Places = NDArray[np.int64]
Numbers = NDArray[np.float64]
Pair = tuple[Places, Places]

# What a disagreement costs, where the gate's whole width costs 1 (no source): a label is what
# people know a thing by; a station or a nozzle is exchanged more often than a head is.
# Ground of another kind is other ground, unless nearly all of it is shared.
DISAGREEMENT: Final[Mapping[str, float]] = {
    "label": 0.5,
    "kind": 1.0,
    "number": 0.5,
    "station": 0.4,
    "nozzle": 0.3,
    "hole": 0.3,
    "bearing_deg": 0.3,
    "arc_deg": 0.2,
    "diameter_mm": 0.2,
}
_SLACK: Final = {"bearing_deg": 30.0, "arc_deg": 20.0, "diameter_mm": 2.0}
_WORDS: Final = ("label", "station", "nozzle", "hole")
NOT_THE_SAME: Final = 1.5  # a pair that costs as much is none


@dataclass(frozen=True)
class Pairs:
    """Candidates, one entry each.

    Attributes:
        told, known: places of the rows in the survey's and the record's table.
        cost: place (0 to 1 at the gate) plus disagreement.
        distance_m: how far apart they are [m]; of areas their middles, of lines the farthest.
        shared: share of joint ground or course; 1 for points.
    """

    told: Places
    known: Places
    cost: Numbers
    distance_m: Numbers
    shared: Numbers

    def chosen(self, which: NDArray[np.bool_]) -> Pairs:
        """Only some of the pairs."""
        return Pairs(
            self.told[which],
            self.known[which],
            self.cost[which],
            self.distance_m[which],
            self.shared[which],
        )


def _differ(name: str, left: NDArray[Any], right: NDArray[Any]) -> NDArray[np.bool_]:
    """Which of two columns of known values disagree."""
    if name not in _SLACK:
        return np.array([str(a).casefold() != str(b).casefold() for a, b in zip(left, right)], bool)  # noqa: B905
    apart = np.abs(left.astype(float) - right.astype(float))
    if name == "bearing_deg":
        apart = np.minimum(apart, 360.0 - apart)
    return np.asarray(apart > _SLACK[name])


def disagreement(told: pd.DataFrame, known: pd.DataFrame, pair: Pair) -> Numbers:
    """What the attributes of each pair cost; a value that either leaves empty costs nothing.

    A column of free words in which no two candidates agree is written in other words (labels
    for ids) and tells nothing.
    """
    total = np.zeros(len(pair[0]))
    for name, weight in DISAGREEMENT.items():
        if name not in told or name not in known:
            continue
        left = told[name].to_numpy(dtype=object)[pair[0]]
        right = known[name].to_numpy(dtype=object)[pair[1]]
        both = np.flatnonzero(pd.notna(left) & pd.notna(right))
        differ = _differ(name, left[both], right[both])
        if name not in _WORDS or not differ.all():
            total[both] += weight * differ
    return total


def _shapes(frame: pd.DataFrame) -> NDArray[Any]:
    shapes: NDArray[Any] = frame["geometry"].to_numpy(dtype=object)
    return shapes


def _near(told: NDArray[Any], known: NDArray[Any], distance_m: float) -> Pair:
    mine, theirs = shapely.STRtree(known).query(told, predicate="dwithin", distance=distance_m)
    return mine.astype(np.int64), theirs.astype(np.int64)


def _points(left: NDArray[Any], right: NDArray[Any], gate: Numbers) -> tuple[Numbers, ...]:
    apart = shapely.distance(left, right)
    return apart / gate, apart, np.ones(len(apart))


def _areas(left: NDArray[Any], right: NDArray[Any], _gate: Numbers) -> tuple[Numbers, ...]:
    common = shapely.area(shapely.intersection(left, right))
    shared = common / (shapely.area(left) + shapely.area(right) - common)
    apart = shapely.distance(shapely.centroid(left), shapely.centroid(right))
    place = (1.0 - shared) / (1.0 - SAME_GROUND_LEAST)
    return place, apart, shared


def _beside(line: NDArray[Any], other: NDArray[Any], gate: Numbers) -> Numbers:
    """Share of a line that runs within the gate of another."""
    beside = shapely.intersection(line, shapely.buffer(other, gate))
    share: Numbers = shapely.length(beside) / np.maximum(shapely.length(line), 1e-9)
    return share


def _lines(left: NDArray[Any], right: NDArray[Any], gate: Numbers) -> tuple[Numbers, ...]:
    shared = np.minimum(_beside(left, right, gate), _beside(right, left, gate))
    farthest = shapely.hausdorff_distance(left, right)
    # Half by course, half by nearness: two pipes in one trench share their whole course.
    course = np.clip((1.0 - shared) / (1.0 - SAME_LINE_LEAST), 0.0, None)
    near = np.minimum(farthest / gate, 1.0)
    place = np.where(shared < SAME_LINE_LEAST, np.inf, 0.5 * course + 0.5 * near)
    return place, farthest, shared


_MEASURES: Final = {Shape.POINT: _points, Shape.POLYGON: _areas, Shape.LINE: _lines}


def near_pairs(told: pd.DataFrame, known: pd.DataFrame, table: Table) -> Pairs:
    """Rows that lie within the gate of one another, with their cost.

    Args:
        told, known: rows with geometry, in the record's metres.
        table: their declaration, with a shape.
    """
    shape = table.shape or Shape.POINT
    left, right = _shapes(told), _shapes(known)
    reach = 0.0 if shape is Shape.POLYGON else widest_gate_m(table)
    mine, theirs = _near(left, right, reach)
    gate = pair_gates_m(table, told, known, (mine, theirs))
    place, apart, shared = _MEASURES[shape](left[mine], right[theirs], gate)
    cost = place + disagreement(told, known, (mine, theirs))
    pairs = Pairs(mine, theirs, cost, apart, shared)
    return pairs.chosen((place <= 1.0) & (cost < NOT_THE_SAME))


def far_pairs(told: pd.DataFrame, known: pd.DataFrame) -> Pairs:
    """Points beyond the gate that may have been moved: within one spacing, labels not at odds."""
    mine, theirs = _near(_shapes(told), _shapes(known), FAR_MOVE_M)
    apart = shapely.distance(_shapes(told)[mine], _shapes(known)[theirs])
    at_odds = disagreement(told, known, (mine, theirs))
    pairs = Pairs(mine, theirs, apart / FAR_MOVE_M + at_odds, apart, np.ones(len(apart)))
    return pairs.chosen(at_odds < DISAGREEMENT["label"])
