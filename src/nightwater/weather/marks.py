"""How a result says which of its inputs were assumed: one mark per row and cause."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, TypeAlias

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.weather.air import Numbers

Rows: TypeAlias = NDArray[np.bool_]

MEANING_OF_MARK: Final[Mapping[str, str]] = {
    "temperature-missing": "No temperature: there is no reference ET.",
    "humidity-from-rh-max": "No dew point and no lowest humidity: from the highest humidity.",
    "humidity-from-rh-mean": "No dew point and no extremes of humidity: from the mean humidity.",
    "humidity-from-tmin": "No humidity at all: the dew point is the day's lowest temperature.",
    "humidity-over-saturation": "The air holds more vapour than it can: the deficit is taken as 0.",
    "radiation-from-temperature": "No solar radiation: from the day's temperature range.",
    "wind-assumed": "No wind: 2 m/s at 2 m, the world's average over grass.",
    "wind-height-assumed": "Nobody stated the height of the wind sensor: 2 m.",
    "cloud-assumed-clear": "No sun near enough in time to tell the clouds: a clear sky.",
    "hours-missing": "More than two hours of the day are missing: its sums are left out.",
    "hours-filled": "One or two missing hours were drawn straight between their neighbours.",
    "rain-incomplete": "Rain of some hours is missing: the day's rain is a lower bound.",
}


@dataclass(frozen=True)
class Term:
    """One input of the reference ET, with the rows in which it was not observed.

    Attributes:
        values: one number per row; NaN where nothing is known.
        marks: rows that each mark applies to.
    """

    values: Numbers
    marks: Mapping[str, Rows] = field(default_factory=dict)


def first_known(choices: Sequence[tuple[str | None, Numbers]]) -> Term:
    """Row by row, the first choice that is known; later choices carry their mark.

    Args:
        choices: mark (None for an observed value) and values, best first, of one shape.

    Returns:
        The values, NaN where no choice is known, and the rows of every mark that was used.
    """
    values = np.full(choices[0][1].shape, np.nan)
    marks: dict[str, Rows] = {}
    for mark, candidate in choices:
        taken = np.isnan(values) & ~np.isnan(candidate)
        values = np.where(taken, candidate, values)
        if mark is not None and taken.any():
            marks[mark] = taken
    return Term(values, marks)


def mark_lists(marks: Mapping[str, Rows], rows: int) -> list[list[str]]:
    """The marks of every row as a list of names, in the order of `marks`."""
    lists: list[list[str]] = [[] for _ in range(rows)]
    for mark, where in marks.items():
        for row in np.flatnonzero(where).tolist():
            lists[row].append(mark)
    return lists


def marks_of(frame: pd.DataFrame) -> dict[str, Rows]:
    """The marks that a frame already carries in its column `flags`, as rows per mark."""
    if "flags" not in frame:
        return {}
    carried = [flags if isinstance(flags, list) else [] for flags in frame["flags"]]
    names = dict.fromkeys(name for flags in carried for name in flags)
    return {name: np.array([name in flags for flags in carried], dtype=bool) for name in names}


def joined(*parts: Mapping[str, Rows]) -> dict[str, Rows]:
    """Marks of several terms together; a mark that occurs twice covers the rows of both."""
    together: dict[str, Rows] = {}
    for part in parts:
        for name, where in part.items():
            together[name] = together[name] | where if name in together else where
    return together
