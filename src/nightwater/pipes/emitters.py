"""Heads as outlets of the network: flow and throw of each at a pressure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.ground.nozzle_performance import FLOW_EXPONENT, flow_and_radius
from nightwater.spray.nozzle_tables import Nozzles, read_nozzles

ORIFICE: Final = 0.5

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Emitters:
    """The heads of a network as outlets, in the order of its heads.

    Attributes:
        nozzle: which entry of `tables` each has; -1 for a head whose flow nobody knows.
        tables: per nozzle its points (kPa, L/s, m) and flow exponent.
        flow_scale, radius_scale: what was measured at the head over what its nozzle gives.
        design_kpa: the pressure that each should have.
        regulated: whether a head's body lets no more than that reach the nozzle; of a head of
            a known pressure so, unless the record says no.
    """

    nozzle: NDArray[np.int64]
    tables: tuple[tuple[Numbers, float], ...]
    flow_scale: Numbers
    radius_scale: Numbers
    design_kpa: Numbers
    regulated: NDArray[np.bool_]

    @property
    def known(self) -> NDArray[np.bool_]:
        """Heads whose flow is known."""
        return self.nozzle >= 0

    @property
    def plain(self) -> NDArray[np.bool_]:
        """Heads with one coefficient at every pressure: q = K · √p."""
        simple = [len(points) == 1 and exponent == ORIFICE for points, exponent in self.tables]
        one_k: NDArray[np.bool_] = np.array([*simple, True], dtype=bool)[self.nozzle]
        return one_k & ~self.regulated

    def at_nozzle_kpa(self, pressure_kpa: Numbers) -> Numbers:
        """Pressure that reaches the nozzle, of the pressure in the pipe [kPa]."""
        held = np.where(self.regulated, self.design_kpa, np.inf)
        return np.minimum(pressure_kpa, held)

    def flow_and_radius(self, pressure_kpa: Numbers) -> tuple[Numbers, Numbers]:
        """Flow [L/s] and throw [m] of every head at its pressure [kPa].

        Args:
            pressure_kpa: in the pipe, shape (..., heads).

        Returns:
            The two, in that shape; NaN for a negative or missing pressure and for a head
            without a known flow.
        """
        at_nozzle = self.at_nozzle_kpa(pressure_kpa)
        flow = np.full(pressure_kpa.shape, np.nan)
        radius = flow.copy()
        for place, (points, exponent) in enumerate(self.tables):
            mine = self.nozzle == place
            q, r = flow_and_radius(points, at_nozzle[..., mine], exponent)
            flow[..., mine] = q * self.flow_scale[mine]
            radius[..., mine] = r * self.radius_scale[mine]
        return flow, radius

    def coefficients(self, pressure_kpa: Numbers) -> Numbers:
        """K of q = K · √p that gives each head's own flow at a pressure [L/s per kPa^0.5].

        Args:
            pressure_kpa: above 0, shape (..., heads).

        Returns:
            K in that shape; 0 for a head whose flow is not known.
        """
        flow, _ = self.flow_and_radius(pressure_kpa)
        with np.errstate(divide="ignore", invalid="ignore"):
            found = flow / np.sqrt(pressure_kpa)
        return np.nan_to_num(found, nan=0.0, posinf=0.0)


def _scale(measured: Numbers, computed: Numbers) -> Numbers:
    with np.errstate(divide="ignore", invalid="ignore"):
        scale = measured / computed
    return np.where(np.isfinite(scale) & (scale > 0), scale, 1.0)


def _column(heads: pd.DataFrame, name: str) -> Numbers:
    return heads[name].to_numpy(dtype=float)


def _exponent(read: Nozzles, nozzle: str) -> float:
    stated = read.rows["flow_exponent"].get(nozzle)
    return FLOW_EXPONENT if stated is None or np.isnan(stated) else float(stated)


def emitters_of(heads: pd.DataFrame, nozzles: pd.DataFrame) -> Emitters:
    """Every head as an outlet.

    A head that was measured has its nozzle's curve, scaled to the measured flow at its
    own pressure (at its nozzle's reference pressure where the head has none); a head with a
    measured flow and no nozzle is an orifice of that flow, if its pressure is known.

    Args:
        heads: nozzle, pressure_kpa, measured_flow_l_s, measured_radius_m.
        nozzles: the record's nozzles.
    """
    read = read_nozzles(nozzles)
    names = list(read.points)
    tables = [(read.points[name], _exponent(read, name)) for name in names]
    place = {name: row for row, name in enumerate(names)}
    nozzle = np.array([place.get(str(name), -1) for name in heads["nozzle"]], dtype=np.int64)
    reference = nozzles["pressure_kpa"].reindex(heads["nozzle"].to_numpy()).to_numpy(dtype=float)
    own, measured = _column(heads, "pressure_kpa"), _column(heads, "measured_flow_l_s")
    design = np.where(np.isnan(own), reference, own)
    for row in np.flatnonzero((nozzle < 0) & (measured > 0) & (own > 0)):
        nozzle[row] = len(tables)
        tables.append((np.array([[own[row], measured[row], np.nan]]), ORIFICE))
    regulated = heads["regulated"].fillna(True).to_numpy(dtype=bool) & (design > 0)
    one = np.ones(len(heads))
    plain = Emitters(nozzle, tuple(tables), one, one, design, regulated)
    flow, radius = plain.flow_and_radius(design)
    return Emitters(
        nozzle,
        tuple(tables),
        _scale(measured, flow),
        _scale(_column(heads, "measured_radius_m"), radius),
        design,
        regulated,
    )
