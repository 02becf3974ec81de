"""Turf coefficients: turf water use over reference ET, by grass and month."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from nightwater.findings import UserError
from nightwater.ground.settings import NeedRules
from nightwater.ground.tables import GRASSES

MONTHS: Final = 12
_COOL_MONTHS: Final = (1, 2, 3, 4, 11, 12)  # northern winter, when an overseeded turf is ryegrass

Year = tuple[float, ...]


def _overseeded(cool: Year, warm: Year) -> Year:
    return tuple(
        cool[month - 1] if month in _COOL_MONTHS else warm[month - 1]
        for month in range(1, MONTHS + 1)
    )


# FAO-56 Table 12, mid-season turf: cool season 0.95, warm season 0.85 (from memory).
_FAO_COOL: Final[Year] = (0.95,) * MONTHS
_FAO_WARM: Final[Year] = (0.85,) * MONTHS
# UC ANR, Meyer et al. 1985, monthly coefficients on ETo, January first.
_UC_COOL: Final[Year] = (0.61, 0.64, 0.75, 1.04, 0.95, 0.88, 0.94, 0.86, 0.74, 0.75, 0.69, 0.60)
_UC_WARM: Final[Year] = (0.61, 0.54, 0.76, 0.72, 0.79, 0.68, 0.71, 0.71, 0.62, 0.54, 0.58, 0.55)

KC_TABLES: Final[Mapping[str, Mapping[str, Year]]] = {
    "fao56": {
        "cool_season": _FAO_COOL,
        "warm_season": _FAO_WARM,
        "warm_overseeded": _overseeded(_FAO_COOL, _FAO_WARM),
    },
    "uc_anr": {
        "cool_season": _UC_COOL,
        "warm_season": _UC_WARM,
        "warm_overseeded": _overseeded(_UC_COOL, _UC_WARM),
    },
}


def coefficients_of_year(grass: str, rules: NeedRules) -> Year:
    """Twelve coefficients of a grass, January first: the course's own, else the chosen table's.

    Raises:
        UserError: an unknown grass or table, or a list that is not twelve positive numbers.
    """
    if grass not in GRASSES:
        raise UserError(f"There is no grass '{grass}'. Known: {', '.join(GRASSES)}.")
    own = rules.kc_by_month.get(grass)
    if own is not None:
        if len(own) != MONTHS or not all(0 < value < 3 for value in own):
            raise UserError(
                f"need.kc_by_month of {grass} takes 12 numbers between 0 and 3, January first."
            )
        return tuple(own)
    if rules.kc_table not in KC_TABLES:
        raise UserError(
            f"There is no coefficient table '{rules.kc_table}'. Known: {', '.join(KC_TABLES)}."
        )
    return KC_TABLES[rules.kc_table][grass]


def crop_coefficient(grass: str, month: int, rules: NeedRules) -> float:
    """Turf coefficient of a grass in a month (1 to 12), before the area's own factor.

    Raises:
        UserError: see `coefficients_of_year`.
    """
    return coefficients_of_year(grass, rules)[month - 1]
