"""Which controller path gave no water, though its log says that it ran.

While blocks disagree, the metered flow of every minute is fitted by least squares with
one share for each path: metered = Σ share · flow of the path's open stations. A path
whose share is near 0, while every other stays near 1 and the fit is tight, is dead.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightwater.proof.log import Opening, flow_by_minute
from nightwater.proof.meter import Meter, Series

_DEAD_SHARE: Final = 0.20
_SOUND_SHARES: Final = (0.90, 1.10)
_MOST_ERROR: Final = 0.05
_LEAST_MINUTES: Final = 30


@dataclass(frozen=True)
class FieldFacts:
    """Flow [L/s] and controller of each station, where they are known."""

    flows: dict[str, float]
    controllers: dict[str, str]


def _shares(wanted: NDArray[np.float64], got: Series) -> tuple[Series, Series] | None:
    """Least-squares share of each column and its standard error; None where undetermined."""
    rows, columns = wanted.shape
    if rows < max(_LEAST_MINUTES, 3 * columns) or np.linalg.matrix_rank(wanted) < columns:
        return None
    share, *_ = np.linalg.lstsq(wanted, got, rcond=None)
    rest = got - wanted @ share
    variance = float(rest @ rest) / (rows - columns)
    error = np.sqrt(variance * np.diag(np.linalg.inv(wanted.T @ wanted)))
    return np.asarray(share, dtype=np.float64), np.asarray(error, dtype=np.float64)


def dead_paths(
    openings: Sequence[Opening],
    field: FieldFacts,
    meter: Meter,
    usable: NDArray[np.bool_],
    base: Series,
) -> frozenset[str]:
    """Controllers whose stations were open by the log and gave nothing.

    Args:
        openings: stations and minutes.
        field: flow and controller of each station; those without one count as one path.
        meter: the readings.
        usable: minutes that were read and are not explained by a stop of the pump.
        base: flow that runs whatever is open [L/s].

    Returns:
        Ids; empty where the fit does not tell, or tells of something else than dead paths.
    """
    by_path: dict[str, list[Opening]] = {}
    for opening in openings:
        by_path.setdefault(field.controllers.get(opening.station, ""), []).append(opening)
    if len(by_path) < 2:
        return frozenset()
    names = sorted(by_path)
    wanted = np.column_stack(
        [flow_by_minute(tuple(by_path[n]), field.flows, meter.first_min, meter.size) for n in names]
    )
    fitted = _shares(wanted[usable], (meter.flow_l_s - base)[usable])
    if fitted is None or (fitted[1] > _MOST_ERROR).any():
        return frozenset()
    dead = fitted[0] < _DEAD_SHARE
    sound = (fitted[0] >= _SOUND_SHARES[0]) & (fitted[0] <= _SOUND_SHARES[1])
    found = {name for name, is_dead in zip(names, dead, strict=True) if is_dead and name}
    return frozenset(found) if (dead | sound).all() else frozenset()
