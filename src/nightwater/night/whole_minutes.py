"""From fitted minutes to whole ones, none of them shorter than a useful run."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from nightwater.night.hinge_program import HingeProgram

MOST_PASSES: Final = 4

Numbers = NDArray[np.float64]


def _choices(now: float, floor: float, upper: float) -> Numbers:
    """Whole minutes to try: none, and what lies about the minutes of now within the bounds."""
    near = np.floor(now) + np.array([-2.0, -1.0, 0.0, 1.0, 2.0])
    most = np.floor(upper)
    if most < max(floor, 1.0):
        return np.zeros(1)
    allowed = np.unique(np.clip(near, max(floor, 1.0), most))
    return np.concatenate(([0.0], allowed))


def _change(
    program: HingeProgram, cells: NDArray[np.int32], excess: Numbers, steps: Numbers
) -> Numbers:
    """Hinge costs of some rows for each of several changes of their excess, shape (choices,)."""
    after = excess + steps
    lack = np.maximum(-after, 0.0) @ program.short[cells]
    return np.asarray(lack + np.maximum(after, 0.0) @ program.over[cells], dtype=float)


def whole_minutes(program: HingeProgram, exact_min: Numbers, floor_min: Numbers) -> Numbers:
    """Whole minutes near the exact ones, station by station at the least cost.

    Each station in turn, the longest run first, takes the choice that costs least with all
    others as they are: none, or whole minutes about those it has that are no shorter than its
    floor. Rounds are made until nothing changes, four at most; once all minutes are whole, the
    cost never rises from one choice to the next.

    Args:
        program: the costs over single cells.
        exact_min: fitted minutes, within the program's bounds, shape (n,).
        floor_min: shortest useful run of each [min].

    Returns:
        Whole minutes [min], shape (n,); 0 where a station is better left out.
    """
    columns = sparse.csc_array(program.rows)
    minutes = exact_min.copy()
    excess = program.rows @ minutes - program.target
    for _ in range(MOST_PASSES):
        before = minutes.copy()
        for place in np.argsort(-minutes, kind="stable"):
            part = slice(columns.indptr[place], columns.indptr[place + 1])
            cells, rate = columns.indices[part], columns.data[part]
            choices = _choices(minutes[place], floor_min[place], program.upper[place])
            steps = (choices - minutes[place])[:, None] * rate
            costs = program.price[place] * choices
            costs = costs + _change(program, cells, excess[cells], steps)
            best = int(np.argmin(costs))
            excess[cells] += steps[best]
            minutes[place] = choices[best]
        if np.array_equal(before, minutes):
            break
    return minutes
