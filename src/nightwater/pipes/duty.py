"""Which pumps run, how fast, and what they draw."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightwater.pipes.energy import USUAL_PUMP_EFFICIENCY, shaft_power_kw
from nightwater.pipes.hydraulic_network import Feed, Pump
from nightwater.pipes.solution import PumpDuty

_LEAST_FLOW_L_S: Final = 1e-6

Numbers = NDArray[np.float64]


def held_most_l_s(feed: Feed) -> float:
    """The most water that all pumps of a feed give at the pressure it holds [L/s].

    Infinite for a feed without a known curve.
    """
    if not feed.can_curve:
        return np.inf
    rise = feed.set_head_m - feed.suction_m
    return sum(float(pump.curve.flow_at_head_l_s(rise)) for pump in feed.pumps if pump.curve)


def _running(feed: Feed, flow_l_s: Numbers, rise_m: Numbers) -> Numbers:
    """How many pumps run, started in order while those before cannot carry the flow."""
    most = [
        np.full(rise_m.shape, np.inf) if pump.curve is None else pump.curve.flow_at_head_l_s(rise_m)
        for pump in feed.pumps
    ]
    before = np.cumsum([np.zeros(rise_m.shape), *most[:-1]], axis=0)
    # The first pump runs whenever water is taken, a later one when those before it are full.
    on = (flow_l_s > before * (1 + 1e-9)) & (flow_l_s > _LEAST_FLOW_L_S)
    return np.asarray(on, dtype=float)


def _shares(feed: Feed, flow_l_s: Numbers, rise_m: Numbers) -> Numbers:
    """Flow of each pump, shape (pumps, sets): those that run share it as their strength is."""
    on = _running(feed, flow_l_s, rise_m)
    strength = np.array(
        [
            np.ones(rise_m.shape)
            if pump.curve is None
            else np.maximum(pump.curve.flow_at_head_l_s(rise_m), _LEAST_FLOW_L_S)
            for pump in feed.pumps
        ]
    )
    strength = on * strength
    total = strength.sum(axis=0)
    return np.asarray(flow_l_s * strength / np.where(total > 0, total, 1.0), dtype=float)


def _one(pump: Pump, flow: Numbers, rise_m: Numbers) -> tuple[Numbers, ...]:
    """Head, speed, efficiency and power of one pump, NaN head where it stands still."""
    on = flow > _LEAST_FLOW_L_S
    if pump.curve is None:
        head, speed = rise_m, np.full(flow.shape, np.nan)
        efficiency = np.full(flow.shape, USUAL_PUMP_EFFICIENCY)
    else:
        full = pump.curve.head_m(flow)
        slowed = pump.curve.speed(flow, rise_m) if pump.variable else np.ones(flow.shape)
        speed = np.where(np.isnan(slowed), 1.0, slowed)
        head = np.where(speed < 1.0, rise_m, np.where(np.isnan(full), rise_m, full))
        efficiency = pump.curve.efficiency_at(flow, speed)
    power = shaft_power_kw(flow, head, efficiency) / pump.motor_efficiency
    still = np.where(on, head, np.nan), np.where(on, speed, 0.0)
    return *still, np.where(on, efficiency, np.nan), np.where(on, power, 0.0)


def _of_feed(feed: Feed, flow: Numbers, rise: Numbers, own: Numbers) -> list[Numbers]:
    """Columns of the duty of a feed's pumps, each of shape (pumps, sets)."""
    shares = np.where(np.isnan(own), _shares(feed, np.maximum(flow, 0.0), rise), own)
    rows = [
        (share, *_one(pump, share, rise)) for pump, share in zip(feed.pumps, shares, strict=True)
    ]
    return [np.array(column) for column in zip(*rows, strict=True)]


def duty_of(
    feeds: Sequence[Feed], feed_flow_l_s: Numbers, node_head_m: Numbers, pump_flow_l_s: Numbers
) -> PumpDuty:
    """What every pump does.

    Where a pressure is held, pumps of a feed start one after another, a next one when those
    before it cannot carry the flow at full speed; those that run turn at the speed that gives
    the pressure (affinity laws), or, without a drive, at full speed with the rest throttled.

    Args:
        feeds: of the network.
        feed_flow_l_s: water of each, shape (sets, feeds).
        node_head_m: head at each feed's node, same shape.
        pump_flow_l_s: flow of each pump where its own curve was solved, NaN where a pressure
            was held, shape (sets, pumps).

    Returns:
        The duty, shape (sets, pumps).
    """
    columns, at = [], 0
    for place, feed in enumerate(feeds):
        if feed.pumps:
            own = pump_flow_l_s[:, at : at + len(feed.pumps)].T
            at += len(feed.pumps)
            rise = node_head_m[:, place] - feed.suction_m
            columns.append(_of_feed(feed, feed_flow_l_s[:, place], rise, own))
    if not columns:
        none = np.empty((len(feed_flow_l_s), 0))
        return PumpDuty(none, none, none, none, none)
    stacked = [np.concatenate(parts).T for parts in zip(*columns, strict=True)]
    return PumpDuty(*stacked)
