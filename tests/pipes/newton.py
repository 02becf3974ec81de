"""A solver of pipe networks that shares nothing with the engine: for tests only.

Newton's method on flows and heads together (Todini and Pilati 1988, the global gradient method),
written anew with dense matrices. Friction is EPANET's printed formula, from its user manual
(2.2, table 3.1: 4.727 L q^1.852 / (C^1.852 d^4.871), in feet).
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

FOOT = 0.3048
POWER = 1.852
LEAST_GRADIENT = 1e-4  # of a step, not of the answer: a link without flow has none


@dataclass
class Net:
    """Nodes with a level, links between them; fixed heads feed it."""

    levels: np.ndarray
    fixed: dict[int, float]
    pipes: list[tuple[int, int, float, float, float]] = field(default_factory=list)
    pumps: list[tuple[int, int, float, float, float]] = field(default_factory=list)
    k: dict[int, float] = field(default_factory=dict)  # m³/s per m^0.5
    demand: dict[int, float] = field(default_factory=dict)  # m³/s


def friction(length_m, bore_m, c):
    """r of h = r q^1.852, in m and m³/s."""
    feet = 4.727 * (length_m / FOOT) / (c**POWER * (bore_m / FOOT) ** 4.871)
    return feet * FOOT / FOOT ** (3 * POWER)


def _losses(net: Net, q: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Head lost along each link at its flow, and its derivative."""
    loss, slope = [], []
    for (_, _, length, bore, c), flow in zip(net.pipes, q, strict=False):
        r = friction(length, bore, c)
        loss.append(r * np.sign(flow) * abs(flow) ** POWER)
        slope.append(POWER * r * abs(flow) ** (POWER - 1))
    for (_, _, shutoff, fall, power), flow in zip(net.pumps, q[len(net.pipes) :], strict=True):
        at = max(flow, 1e-9)
        loss.append(-(shutoff - fall * at**power))
        slope.append(fall * power * at ** (power - 1))
    return np.array(loss), np.maximum(np.array(slope), LEAST_GRADIENT)


def solve(net: Net, most: int = 400) -> tuple[np.ndarray, np.ndarray]:
    """Heads [m] and flows [m³/s]; outlets are links of loss (q / K)² to their own level."""
    ends = [pipe[:2] for pipe in net.pipes] + [pump[:2] for pump in net.pumps]
    count, outlets = len(net.levels), list(net.k.items())
    inner, outer = len(ends), len(outlets)
    incidence = np.zeros((inner + outer, count))
    for row, (one, other) in enumerate(ends):
        incidence[row, one], incidence[row, other] = -1.0, 1.0
    for row, (node, _) in enumerate(outlets):
        incidence[inner + row, node] = -1.0
    free = np.array([node for node in range(count) if node not in net.fixed])
    datum = next(iter(net.fixed.values()))
    heads = np.array([net.fixed.get(node, datum) - datum for node in range(count)])
    demand = np.array([net.demand.get(node, 0.0) for node in range(count)])
    q = np.full(inner + outer, 0.01)
    sink = np.array([net.levels[node] - datum for node, _ in outlets])
    k = np.array([value for _, value in outlets])
    for _ in range(most):
        loss, slope = _losses(net, q[:inner])
        out = q[inner:]
        loss = np.concatenate([loss, np.sign(out) * (out / k) ** 2])
        slope = np.concatenate([slope, np.maximum(2 * np.abs(out) / k**2, LEAST_GRADIENT)])
        # loss(q) = h_start − h_end, flows in = demand
        a, known = incidence[:, free], incidence @ np.where(np.isin(range(count), free), 0, heads)
        known[inner:] += sink
        weight = 1 / slope
        matrix = a.T @ (weight[:, None] * a)
        right = a.T @ (q - weight * (loss + known)) - demand[free]
        heads[free] = np.linalg.solve(matrix, right)
        step = weight * (loss + incidence @ heads + np.concatenate([np.zeros(inner), sink]))
        q = q - step
        if np.abs(step).sum() <= 1e-8 * np.abs(q).sum() + 1e-6:
            return heads + datum, q
    raise AssertionError("the test's own solver does not converge")
