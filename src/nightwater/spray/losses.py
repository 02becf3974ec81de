"""Water that evaporates or drifts away before it lands: estimates by published regressions."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightwater.findings import Finding, UserError, warning

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class LossRule:
    """One regression, with the range that it was fitted in.

    Attributes:
        name: as settings and pages name it.
        words: formula and source, for people.
        winds_m_s, humidities_pct: range of the trials.
        takes: whether it uses wind and humidity.
        share: from wind [m/s] at 2 m and relative humidity [%] to a share of the flow, 0 to 1.
    """

    name: str
    words: str
    winds_m_s: tuple[float, float]
    humidities_pct: tuple[float, float]
    takes: tuple[str, ...]
    share: Callable[[Numbers, Numbers], Numbers]


def _day(wind: Numbers, humidity: Numbers) -> Numbers:
    return (20.7 + 0.185 * wind**2 - 2.14e-3 * humidity**2) / 100.0


def _night(wind: Numbers, _humidity: Numbers) -> Numbers:
    return (3.7 + 1.31 * wind**2) / 100.0


def _all_day(wind: Numbers, humidity: Numbers) -> Numbers:
    return (20.3 + 0.214 * wind**2 - 2.29e-3 * humidity**2) / 100.0


_SOURCE: Final = "Playán et al. 2005, solid sets"
# Ranges of the trials are from memory; the coefficients were checked against a public copy.
LOSS_RULES: Final[Mapping[str, LossRule]] = MappingProxyType(
    {
        rule.name: rule
        for rule in (
            LossRule(
                "day",
                f"20.7 + 0.185 U² − 0.00214 RH² %, {_SOURCE}, equation 13",
                (0.6, 6.8),
                (30.0, 90.0),
                ("wind", "humidity"),
                _day,
            ),
            LossRule(
                "night",
                f"3.7 + 1.31 U² %, {_SOURCE}, equation 2",
                (0.3, 3.0),
                (50.0, 100.0),
                ("wind",),
                _night,
            ),
            LossRule(
                "day_and_night",
                f"20.3 + 0.214 U² − 0.00229 RH² %, {_SOURCE}, equation 15",
                (0.3, 6.8),
                (30.0, 100.0),
                ("wind", "humidity"),
                _all_day,
            ),
        )
    }
)


def _rule(name: str) -> LossRule:
    if name not in LOSS_RULES:
        raise UserError(f"There is no rule '{name}' for losses. Known: {', '.join(LOSS_RULES)}.")
    return LOSS_RULES[name]


def lost_share(name: str, wind_m_s: ArrayLike, humidity_pct: ArrayLike = np.nan) -> Numbers:
    """Share of a head's flow that evaporates or drifts off the field before it lands.

    An estimate for impact sprinklers of some 4 to 5 mm at 300 kPa; big rotors with coarser
    drops lose less. It is never taken off the wetting matrix, which keeps every litre.

    Args:
        name: "day", "night" or "day_and_night"; see `LOSS_RULES`.
        wind_m_s: wind at 2 m [m/s], any shape.
        humidity_pct: relative humidity [%]; "night" does without. The two broadcast.

    Returns:
        Share, 0 to 1. NaN in, NaN out; a negative wind, a humidity outside 0 to 100, and
        input for which the rule gives less than nothing or more than all, give NaN. Beyond the
        trials the rule is followed as it stands; `loss_findings` tells.

    Raises:
        UserError: no rule of that name.

    Reference: Playán, Salvador, Faci, Zapata, Martínez-Cob and Sánchez 2005, Agricultural Water
    Management 76, doi:10.1016/j.agwat.2005.01.015; equations 13, 2 and 15.
    """
    rule = _rule(name)
    wind, humidity = np.broadcast_arrays(
        np.asarray(wind_m_s, dtype=float), np.asarray(humidity_pct, dtype=float)
    )
    sound = wind >= 0
    if "humidity" in rule.takes:
        sound = sound & (humidity >= 0) & (humidity <= 100)
    share = rule.share(wind, humidity)
    return np.where(sound & (share >= 0) & (share <= 1), share, np.nan)


def loss_findings(name: str, wind_m_s: float, humidity_pct: float = np.nan) -> list[Finding]:
    """A doubt where a rule for losses is asked beyond the trials that it was fitted to.

    Args:
        name: of the rule.
        wind_m_s, humidity_pct: as for `lost_share`.

    Raises:
        UserError: no rule of that name.
    """
    rule = _rule(name)
    asked = {"wind": (wind_m_s, rule.winds_m_s), "humidity": (humidity_pct, rule.humidities_pct)}
    units = {"wind": "m/s", "humidity": "%"}
    beyond = [
        f"{what} {value:g} {units[what]} (trials: {low:g} to {high:g})"
        for what, (value, (low, high)) in asked.items()
        if what in rule.takes and not low <= value <= high
    ]
    if not beyond:
        return []
    return [
        warning(
            "losses-beyond-trials",
            "spray:losses",
            f"The loss by rule '{name}' was asked for {' and '.join(beyond)}.",
            "Take the figure as a rough guess, or choose the rule for the time of day.",
        )
    ]
