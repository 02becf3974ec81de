"""Classes of a quantity for the map: round steps in the reader's unit, no more than six."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from nightwater.units import UnitSystem, from_si

MOST_BANDS: Final = 6
NO_VALUE: Final = -1
_ROUND: Final = (1.0, 2.0, 2.5, 5.0, 10.0)
_SYMBOLS: Final = {"mm": ("in", "mm"), "min": ("min", "min")}


@dataclass(frozen=True)
class Band:
    """One class: its number, 0 for none, and how the legend words it."""

    number: int
    words: str


@dataclass(frozen=True)
class Scale:
    """Equal steps from zero in a reader's unit.

    Attributes:
        step: width of a band, in `symbol`.
        symbol: the reader's unit.
        bands: zero first, then upward; what the legend shows.
    """

    step: float
    symbol: str
    bands: tuple[Band, ...]

    def band(self, value: float) -> int:
        """The class of a value given in the inside unit; `NO_VALUE` for NaN."""
        if math.isnan(value):
            return NO_VALUE
        if value <= 0:
            return 0
        shown = round(float(from_si(value, self.symbol)) / self.step, 6)
        return min(max(1, math.ceil(shown)), len(self.bands) - 1)


def round_step(highest: float) -> float:
    """The smallest round number of which six reach the highest value."""
    if not highest > 0:
        return 1.0
    least = highest / MOST_BANDS
    power = 10.0 ** math.floor(math.log10(least))
    return next(power * part for part in _ROUND if power * part >= least * (1 - 1e-9))


def _digits(step: float) -> int:
    return next(
        digits for digits in range(7) if abs(step * 10**digits % 1) in (0.0, 1.0) or digits == 6
    )


def scale_of(values: list[float], suffix: str, units: UnitSystem) -> Scale:
    """A scale that holds all values.

    Args:
        values: in the inside unit named by `suffix`; NaN is left out.
        suffix: "mm" or "min".
        units: which unit the legend speaks.
    """
    symbol = _SYMBOLS[suffix][0 if units is UnitSystem.US else 1]
    known = [value for value in values if not math.isnan(value)]
    highest = float(from_si(max(known, default=0.0), symbol))
    step = round_step(highest)
    count = max(1, math.ceil(round(highest / step, 6)))
    digits = _digits(round(step, 6))
    bands = [Band(0, "none")]
    bands += [
        Band(n, f"{(n - 1) * step:.{digits}f} – {n * step:.{digits}f} {symbol}")
        for n in range(1, count + 1)
    ]
    return Scale(step, symbol, tuple(bands))
