"""Classes of a turf map: round steps in the reader's unit, each with its colour and words."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightwater.desk import coverage_colours as colours
from nightwater.desk.coverage import CoverageMap, MapKind
from nightwater.units import UnitSystem, from_si

MOST_STEPS: Final = 8
HIGHEST_PERCENTILE: Final = 98.0  # the wettest cells share the last class: they hide the rest
MIDDLING_PERCENTILE: Final = 75.0  # of what is short or over: fine steps around what is needed
_ROUND: Final = (1.0, 2.0, 2.5, 5.0, 10.0)
_SYMBOLS: Final = {"mm": ("in", "mm"), "mm_h": ("in/h", "mm/h")}
OFF_TURF: Final = 0  # class of the picture beside the turf


@dataclass(frozen=True)
class MapClass:
    """One colour of a map."""

    colour: str
    words: str


@dataclass(frozen=True)
class MapScale:
    """How values become colours.

    Attributes:
        symbol: the reader's unit.
        edges: upper edges of all classes but the last, in that unit, rising; each belongs to the
            class below it.
        classes: from low to high; the last one is for cells whose value is not known.
    """

    symbol: str
    edges: tuple[float, ...]
    classes: tuple[MapClass, ...]

    def numbers(self, values: NDArray[np.float64]) -> NDArray[np.uint8]:
        """Class of values in the inside unit, from 1; the last one for NaN."""
        shown = np.round(from_si(values, self.symbol), 9)
        found = np.searchsorted(np.asarray(self.edges), shown, side="left") + 1
        return np.where(np.isnan(shown), len(self.classes), found).astype(np.uint8)


def reader_symbol(suffix: str, units: UnitSystem) -> str:
    """The unit in which a reader sees a map: in or mm, in/h or mm/h."""
    return _SYMBOLS[suffix][0 if units is UnitSystem.US else 1]


def round_step(least: float) -> float:
    """The smallest of 1, 2, 2.5, 5 times a power of ten that is not below a number."""
    if not (least > 0 and math.isfinite(least)):
        return 1.0
    power = 10.0 ** math.floor(math.log10(least))
    return next(power * part for part in _ROUND if power * part >= least * (1 - 1e-9))


def _digits(step: float) -> int:
    return next(d for d in range(9) if math.isclose(round(step, d), step, rel_tol=1e-9) or d == 8)


def _unknown() -> MapClass:
    return MapClass(colours.NOT_KNOWN, "not known")


def _highest(values: NDArray[np.float64], percentile: float) -> float:
    known = values[np.isfinite(values)]
    return float(np.percentile(known, percentile)) if known.size else 0.0


def rising_scale(values: NDArray[np.float64], symbol: str) -> MapScale:
    """A scale from nothing upwards; where nothing falls has a colour of its own.

    Args:
        values: in the inside unit; NaN is left out.
        symbol: the reader's unit.
    """
    highest = _highest(from_si(values, symbol), HIGHEST_PERCENTILE)
    step = round_step(highest / MOST_STEPS)
    count = max(1, math.ceil(round(highest / step, 6)))
    digits = _digits(step)
    words = [
        f"{(n - 1) * step:.{digits}f} to {n * step:.{digits}f} {symbol}" for n in range(1, count)
    ]
    words += [f"over {(count - 1) * step:.{digits}f} {symbol}"]
    shades = colours.run_of_colours(colours.RISING, count)
    classes = [MapClass(colours.NONE, "no water")]
    classes += [MapClass(shade, text) for shade, text in zip(shades, words, strict=True)]
    edges = tuple(round(n * step, 9) for n in range(count))
    return MapScale(symbol, edges, (*classes, _unknown()))


def balance_scale(values: NDArray[np.float64], symbol: str) -> MapScale:
    """A scale to both sides of what is needed: ochre is short, blue is over.

    Args:
        values: depth less need, in the inside unit; NaN is left out.
        symbol: the reader's unit.
    """
    step = round_step(_highest(np.abs(from_si(values, symbol)), MIDDLING_PERCENTILE) / 4.0)
    digits = _digits(step)
    one, two, three = (f"{n * step:.{digits}f}" for n in (1, 2, 3))
    words = [
        f"short by more than {three} {symbol}",
        f"short by {two} to {three} {symbol}",
        f"short by {one} to {two} {symbol}",
        f"as needed, ± {one} {symbol}",
        f"over by {one} to {two} {symbol}",
        f"over by {two} to {three} {symbol}",
        f"over by more than {three} {symbol}",
    ]
    shades = (
        *colours.run_of_colours(colours.SHORT, 3),
        colours.AS_NEEDED,
        *colours.run_of_colours(colours.OVER, 3),
    )
    classes = tuple(MapClass(shade, text) for shade, text in zip(shades, words, strict=True))
    edges = tuple(round(n * step, 9) for n in (-3, -2, -1, 1, 2, 3))
    return MapScale(symbol, edges, (*classes, _unknown()))


def map_scale(shown: CoverageMap, units: UnitSystem) -> MapScale:
    """The scale of a map in the reader's unit."""
    symbol = reader_symbol(shown.suffix, units)
    made = balance_scale if shown.kind is MapKind.SHORTAGE else rising_scale
    return made(shown.values, symbol)


def class_picture(shown: CoverageMap, scale: MapScale) -> NDArray[np.uint8]:
    """Class of every cell of the rectangle, `OFF_TURF` beside the turf; shape (rows, columns)."""
    grid = shown.grid
    picture = np.full((grid.rows, grid.columns), OFF_TURF, dtype=np.uint8)
    picture[grid.row, grid.column] = scale.numbers(shown.values)
    return picture
