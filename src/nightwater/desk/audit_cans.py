"""What a can holds and how wide it is, from whatever unit a person reads it in."""

from __future__ import annotations

import math
from typing import Final

from nightwater.findings import UserError
from nightwater.units import to_si, unit_named

DIAMETER_UNITS: Final = ("mm", "cm", "in")

OPENING_UNITS: Final = ("cm2", "in2")

CATCH_UNITS: Final = ("mL", "floz", "mm", "in")

MOST_ML: Final = 5000.0


def opening_m2(size: float, unit: str) -> float:
    """Opening of a round can from its area or its diameter.

    Args:
        size: in `unit`.
        unit: cm2 or in2 for an area; mm, cm or in for a diameter.

    Raises:
        UserError: another unit, none, or an opening that no can has.
    """
    if unit not in (*OPENING_UNITS, *DIAMETER_UNITS):
        raise UserError(
            "Say what the size of the can's opening is: its area in cm2 or in2, or its diameter "
            "in mm, cm or in."
        )
    inside = float(to_si(size, unit))
    metres = inside / 1000.0 if unit_named(unit).quantity == "depth" else inside
    opening = inside if unit in OPENING_UNITS else math.pi / 4.0 * metres**2
    if not 1e-4 <= opening <= 1.0:
        raise UserError(f"An opening of {size:g} {unit} is no can's. Check number and unit.")
    return opening


def catch_ml(value: float, unit: str, throat_m2: float | None) -> float:
    """A catch in millilitres, from a volume or from a depth in the can.

    Raises:
        UserError: another unit, a depth without the opening, or a catch that cannot be.
    """
    if unit not in CATCH_UNITS:
        raise UserError(f"Say in what the catches are: {', '.join(CATCH_UNITS)}.")
    inside = float(to_si(value, unit))
    if unit_named(unit).quantity == "depth":
        if throat_m2 is None or math.isnan(throat_m2):
            raise UserError("A depth needs the opening of the cans. Enter it first.")
        inside *= throat_m2 / 1000.0  # mm on m² is litres
    caught = inside * 1e6
    if not 0 <= caught <= MOST_ML:
        raise UserError(f"A catch of {value:g} {unit} cannot be. Check number and unit.")
    return caught
