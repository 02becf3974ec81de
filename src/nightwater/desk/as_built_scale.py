"""Paper, scale and the bar that shows it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from nightwater.findings import UserError
from nightwater.units import M_PER_FT, UnitSystem

MM_PER_M: Final = 1000.0
_FT_TO_AN_INCH: Final = (20, 30, 40, 50, 60, 80, 100, 120, 150, 200, 250, 300, 400, 500, 1000)
_ONE_TO: Final = (250, 500, 750, 1000, 1250, 1500, 2000, 2500, 3000, 4000, 5000, 10000)
_BAR_STEPS: Final = (5, 10, 20, 25, 50, 100, 200, 250, 500)


@dataclass(frozen=True)
class Paper:
    """A sheet in portrait: its name for the printer, width and height."""

    name: str
    width_mm: float
    height_mm: float


PAPERS: Final = {
    "letter": Paper("us-letter", 215.9, 279.4),
    "tabloid": Paper("us-tabloid", 279.4, 431.8),
    "a4": Paper("a4", 210.0, 297.0),
    "a3": Paper("a3", 297.0, 420.0),
}


def paper_named(name: str | None, units: UnitSystem) -> Paper:
    """The paper a person names, else the large sheet usual with the units.

    Raises:
        UserError: an unknown name.
    """
    wanted = (name or ("tabloid" if units is UnitSystem.US else "a3")).lower()
    if wanted not in PAPERS:
        raise UserError(f"'{name}' is no paper we print on. Say one of {', '.join(PAPERS)}.")
    return PAPERS[wanted]


@dataclass(frozen=True)
class Scale:
    """How large the ground is drawn.

    Attributes:
        one_to: metres of ground to a metre of paper.
        words: as people say it.
        bar_mm: length of one of the two parts of the scale bar.
        bar_ends: what stands at its three marks.
    """

    one_to: float
    words: str
    bar_mm: float
    bar_ends: tuple[str, str, str]


def fitting_scale(
    width_m: float, height_m: float, frame_mm: tuple[float, float], units: UnitSystem
) -> Scale:
    """The largest usual scale at which a stretch of ground fits a frame.

    Args:
        width_m, height_m: the ground.
        frame_mm: width and height of the frame.
        units: feet to an inch, or one to a round number.
    """
    least = max(width_m / frame_mm[0], height_m / frame_mm[1]) * MM_PER_M
    us = units is UnitSystem.US
    ladder = [feet * 12.0 for feet in _FT_TO_AN_INCH] if us else [float(n) for n in _ONE_TO]
    one_to = next((step for step in ladder if step >= least), 1000.0 * math.ceil(least / 1000.0))
    words = f"1 in = {one_to / 12:,.0f} ft" if us else f"1 : {one_to:,.0f}"
    part_m = M_PER_FT if us else 1.0
    # Two parts of some 25 mm each.
    step = min(_BAR_STEPS, key=lambda n: abs(n * part_m * MM_PER_M / one_to - 25.0))
    unit = "ft" if us else "m"
    ends = ("0", f"{step}", f"{2 * step} {unit}")
    return Scale(one_to, words, step * part_m * MM_PER_M / one_to, ends)
