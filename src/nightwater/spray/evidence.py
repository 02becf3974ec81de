"""A sentence with numbers that every reader sees in a unit of their own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

_SYMBOLS: Final = {"m": "m", "m2": "m²", "mm": "mm", "mm_h": "mm/h", "kpa": "kPa", "l_s": "L/s"}
_DIGITS: Final = {"m": 1, "m2": 0, "mm": 1, "mm_h": 1, "kpa": 0, "l_s": 2}


@dataclass(frozen=True)
class Evidence:
    """Words with places {0}, {1} … for quantities.

    Attributes:
        words: the sentence.
        quantities: value and inside unit (a suffix like "m" or "kpa") of each place.
    """

    words: str
    quantities: tuple[tuple[float, str], ...] = ()

    def __str__(self) -> str:
        shown = [f"{value:.{_DIGITS[unit]}f} {_SYMBOLS[unit]}" for value, unit in self.quantities]
        return self.words.format(*shown)
