"""Head, efficiency and speed of a centrifugal pump, out of its record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nightwater.findings import UserError
from nightwater.pipes.energy import USUAL_PUMP_EFFICIENCY
from nightwater.spray.profile import pairs

Numbers = NDArray[np.float64]

# EPANET 2.2 User Manual, section 3.1 (pumps, single-point curve): the shutoff head is 133 % of
# the design head, the flow at no head twice the design flow.
SHUTOFF_SHARE: Final = 4.0 / 3.0
MOST_FLOW_SHARE: Final = 2.0
_SPEEDS: Final = (0.05, 1.0)
_HALVINGS: Final = 60


@dataclass(frozen=True)
class PumpCurve:
    """A pump at full speed.

    Attributes:
        points: flow [L/s] and head [m], rising in flow, shape (n, 2).
        shutoff_m, slope, power: head = shutoff − slope · flow^power, where one point or three
            with the first at no flow are given; slope is NaN where the points are joined
            by straight lines instead.
        efficiency: flow [L/s] and share, rising in flow, shape (n, 2).
    """

    points: Numbers
    shutoff_m: float
    slope: float
    power: float
    efficiency: Numbers

    @property
    def most_flow_l_s(self) -> float:
        """Flow at which no head is left, or the last point of a tabled curve [L/s]."""
        if np.isnan(self.slope):
            return float(self.points[-1, 0])
        return float((self.shutoff_m / self.slope) ** (1 / self.power))

    def head_m(self, flow_l_s: ArrayLike, speed: ArrayLike = 1.0) -> Numbers:
        """Head at a flow [L/s] and a share of full speed, by the affinity laws [m].

        Returns:
            Head [m], NaN beyond the curve or for a negative flow.

        Reference: affinity laws, h(q, s) = s² h(q / s); EPANET 2.2 User Manual, section 3.1.
        """
        share = np.asarray(speed, dtype=float)
        flow = np.asarray(flow_l_s, dtype=float) / share
        if np.isnan(self.slope):
            head = np.interp(flow, self.points[:, 0], self.points[:, 1])
        else:
            with np.errstate(invalid="ignore"):
                head = self.shutoff_m - self.slope * flow**self.power
        inside = (flow >= 0) & (flow <= self.most_flow_l_s * (1 + 1e-9))
        return np.where(inside, head * share**2, np.nan)

    def flow_at_head_l_s(self, head_m: ArrayLike) -> Numbers:
        """The most flow at full speed against a head [L/s]; 0 over the shutoff head."""
        head = np.asarray(head_m, dtype=float)
        if np.isnan(self.slope):
            least_first = self.points[::-1]
            return np.asarray(np.interp(head, least_first[:, 1], least_first[:, 0], right=0.0))
        left = np.maximum(self.shutoff_m - head, 0.0) / self.slope
        flow = np.minimum(left ** (1 / self.power), self.most_flow_l_s)
        return np.asarray(np.where(np.isnan(head), np.nan, flow), dtype=float)

    def speed(self, flow_l_s: ArrayLike, head_m: ArrayLike) -> Numbers:
        """Share of full speed that gives a flow [L/s] at a head [m]; NaN beyond full speed.

        Reference: affinity laws, solved by halving the interval between 5 % and full speed.
        """
        flow, head = np.broadcast_arrays(
            np.asarray(flow_l_s, dtype=float), np.asarray(head_m, dtype=float)
        )
        low, high = (np.full(flow.shape, share) for share in _SPEEDS)
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            given = np.nan_to_num(self.head_m(flow, middle), nan=-np.inf)
            low, high = np.where(given < head, middle, low), np.where(given < head, high, middle)
        holds = np.nan_to_num(self.head_m(flow, 1.0), nan=-np.inf) >= head - 1e-6
        return np.where(holds & (flow >= 0) & (head > 0), high, np.nan)

    def efficiency_at(self, flow_l_s: ArrayLike, speed: ArrayLike = 1.0) -> Numbers:
        """Water power over shaft power at a flow [L/s] and a share of full speed, 0 to 1.

        A slower pump has the efficiency of the like point at full speed, which leaves
        out the few hundredths that it loses at low speed; outside the table the end holds.
        """
        like = np.asarray(flow_l_s, dtype=float) / np.asarray(speed, dtype=float)
        found = np.interp(like, self.efficiency[:, 0], self.efficiency[:, 1])
        return np.where(np.isnan(like), np.nan, found)


def _number(row: Mapping[str, Any], name: str) -> float:
    value = row.get(name)
    return np.nan if value is None else float(value)


def _points(pump: str, row: Mapping[str, Any]) -> Numbers | None:
    """The curve's points: as stated, else the point of its duty; None without either."""
    stated = row.get("curve")
    if isinstance(stated, str) and stated.strip():
        points = pairs(stated, 2, f"The curve of pump {pump}")
        flow, head = points.T
        if (flow < 0).any() or (head < 0).any() or (np.diff(flow) <= 0).any():
            raise UserError(
                f"The curve of pump {pump} has a negative number, or a flow twice. "
                "Correct 'curve', as L/s:m pairs."
            )
        if (np.diff(head) >= 0).any():
            raise UserError(
                f"The curve of pump {pump} does not fall: its head must be less at each greater "
                "flow. Correct 'curve', as L/s:m pairs."
            )
        return points
    duty = np.array([[_number(row, "capacity_l_s"), _number(row, "head_m")]])
    return duty if (duty > 0).all() else None


def _efficiency(pump: str, row: Mapping[str, Any]) -> Numbers:
    stated = row.get("efficiency_curve")
    if isinstance(stated, str) and stated.strip():
        points = pairs(stated, 2, f"The efficiency curve of pump {pump}")
        if (points[:, 1] <= 0).any() or (points[:, 1] > 1).any():
            raise UserError(
                f"The efficiency curve of pump {pump} holds a share that is not above 0 and up "
                "to 1. Correct 'efficiency_curve', as L/s:share pairs."
            )
        return points
    share = _number(row, "pump_efficiency")
    return np.array([[0.0, USUAL_PUMP_EFFICIENCY if np.isnan(share) else share]])


def _power_law(points: Numbers) -> tuple[float, float, float] | None:
    """Shutoff, slope and power through one point, or three from no flow; None for others."""
    if len(points) == 1:
        flow, head = points[0]
        return SHUTOFF_SHARE * head, (SHUTOFF_SHARE - 1) * head / flow**2, 2.0
    if len(points) != 3 or points[0, 0] != 0:
        return None
    shutoff, (flow, head), (more, less) = points[0, 1], points[1], points[2]
    power = float(np.log((shutoff - less) / (shutoff - head)) / np.log(more / flow))
    # EPANET takes no power over 20.
    return (shutoff, (shutoff - head) / flow**power, power) if 0 < power <= 20 else None


def pump_curve(pump: str, row: Mapping[str, Any]) -> PumpCurve | None:
    """The curve of a pump of the record; None where neither curve nor duty head is known.

    One point, or capacity and head at capacity, gives a parabola of 133 % of the head at
    no flow; three points from no flow give a power law; more are joined by lines.

    Args:
        pump: its id, for messages.
        row: curve, efficiency_curve, capacity_l_s, head_m, pump_efficiency.

    Raises:
        UserError: a curve that is no pairs of numbers, is negative, or does not fall.

    Reference: EPANET 2.2 User Manual, section 3.1, pump curves.
    """
    points = _points(pump, row)
    if points is None:
        return None
    law = _power_law(points) or (float(points[0, 1]), np.nan, np.nan)
    return PumpCurve(points, *law, _efficiency(pump, row))
