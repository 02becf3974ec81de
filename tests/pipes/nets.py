"""Small hydraulic networks, made by hand, without a record."""

from __future__ import annotations

import numpy as np

from nightwater.pipes.emitters import Emitters
from nightwater.pipes.hydraulic_network import PIPE, Feed, HydraulicNetwork, Pump
from nightwater.pipes.pump_curves import PumpCurve, pump_curve
from nightwater.units import KPA_PER_M_WATER


def orifice(flow_l_s: float, at_kpa: float) -> tuple[np.ndarray, float]:
    return np.array([[at_kpa, flow_l_s, 15.0]]), 0.5


def emitters(tables, heads: int, *, regulated=None, design_kpa=None) -> Emitters:
    """One table per head, in order; design pressure that of its first point."""
    one = np.ones(heads)
    design = [table[0][0, 0] for table in tables] if design_kpa is None else design_kpa
    return Emitters(
        np.arange(heads),
        tuple(tables),
        one,
        one,
        np.array(design, dtype=float),
        np.zeros(heads, dtype=bool) if regulated is None else np.array(regulated, dtype=bool),
    )


def reservoir(node: int, level_m: float) -> Feed:
    return Feed("sources:pond", node, (), level_m, np.nan, np.nan)


def curve(**row) -> PumpCurve:
    found = pump_curve("P", row)
    assert found is not None
    return found


def pumps(node: int, curves, *, suction_m=0.0, level_m=0.0, set_kpa=np.nan, variable=True) -> Feed:
    each = tuple(Pump(f"P{row + 1}", one, 0.92, variable) for row, one in enumerate(curves))
    head = level_m + set_kpa / KPA_PER_M_WATER
    return Feed("pumps:P1", node, each, suction_m, head, set_kpa)


def network(pipes, levels, feeds, heads=(), outlets=None, **other) -> HydraulicNetwork:
    """Pipes as (start, end, length m, bore mm, C), heads as the nodes they stand on."""
    start, end, length, bore, rough = (
        (np.array(c) for c in zip(*pipes, strict=True)) if pipes else ([] for _ in range(5))
    )
    count = len(pipes)
    columns = {
        "kind": np.full(count, PIPE, dtype="U9"),
        "owner": np.array([f"pipe{row}" for row in range(count)], dtype=object),
        "is_open": np.ones(count, dtype=bool),
        "setting_m": np.full(count, np.nan),
        **other,
    }
    return HydraulicNetwork(
        places=np.zeros((len(levels), 2)),
        elevation_m=np.array(levels, dtype=float),
        start=start,
        end=end,
        length_m=length.astype(float),
        diameter_mm=bore.astype(float),
        roughness=rough.astype(float),
        heads=tuple(f"H{row}" for row in range(len(heads))),
        head_node=np.array(heads, dtype=np.int64),
        station=np.array([f"S{row}" for row in range(len(heads))], dtype=object),
        emitters=outlets or emitters([orifice(1.0, 400.0)] * len(heads), len(heads)),
        feeds=tuple(feeds),
        left_out=frozenset(),
        **columns,
    )
