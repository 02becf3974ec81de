"""One EPANET project in memory, written once from a network; the only user of the toolkit."""

from __future__ import annotations

import ctypes
import os
import warnings
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from epanet import toolkit
from numpy.typing import NDArray

from nightwater.findings import UserError
from nightwater.pipes.hydraulic_network import REDUCING, Feed, HydraulicNetwork
from nightwater.pipes.pump_curves import PumpCurve
from nightwater.units import KPA_PER_M_WATER

ACCURACY: Final = 1e-4  # of flow; EPANET's own 0.001 leaves pressures 0.05 kPa off
HEAD_ERROR_M: Final = 1e-3
TRIALS: Final = 100
_SHORT_M, _WIDE_MM, _SMOOTH_C = 1.0, 3000.0, 150.0  # a pipe that loses nothing to speak of

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class _FeedLinks:
    """Links of a feed: the one that holds its level, 0 for none, and one per pump, 0 for none."""

    hold: int
    pumps: tuple[int, ...]


@dataclass(frozen=True)
class Raw:
    """One steady state as the engine gives it.

    Attributes:
        head_m: of every node.
        flow_l_s: of every link.
        outflow_l_s: out of every node through its heads.
        feed_l_s: of each feed.
        pump_l_s: of each pump, NaN where its feed holds a pressure.
        closed: whether the engine closed the way from a feed.
        trials: how often it tried.
    """

    head_m: Numbers
    flow_l_s: Numbers
    outflow_l_s: Numbers
    feed_l_s: Numbers
    pump_l_s: Numbers
    trials: int


class EpanetProject:
    """A network in EPANET; close it, or use it in a `with`."""

    def __init__(self, network: HydraulicNetwork) -> None:
        """Write the network.

        Raises:
            UserError: EPANET refuses it; the message has EPANET's words.
        """
        self.network = network
        self._datum_m = _datum_m(network.feeds)
        self._handle: Any = toolkit.createproject()
        try:
            # The report goes nowhere: nothing is written, nothing printed.
            toolkit.init(self._handle, os.devnull, "", toolkit.LPS, toolkit.HW)
            self._options()
            self._add_nodes()
            self._add_links()
            self._feeds = [self._add_feed(row, feed) for row, feed in enumerate(network.feeds)]
            toolkit.openH(self._handle)
        except Exception as wrong:
            toolkit.deleteproject(self._handle)
            self._handle = None
            raise UserError(
                f"EPANET refuses the network: {wrong}. Check pipes and pumps."
            ) from None
        self._emitters = np.zeros(len(network.elevation_m))
        self._drawn = np.zeros(len(network.elevation_m))
        self._held = [True] * len(network.feeds)
        self._read = _Reader(self._handle)

    def __enter__(self) -> EpanetProject:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Give the engine's memory back; a second time does nothing."""
        if self._handle is not None:
            handle, self._handle = self._handle, None
            toolkit.closeH(handle)
            toolkit.deleteproject(handle)

    def _options(self) -> None:
        for option, value in (
            (toolkit.EMITEXPON, 0.5),
            (toolkit.EMITBACKFLOW, 0.0),
            (toolkit.TRIALS, TRIALS),
            (toolkit.ACCURACY, ACCURACY),
            (toolkit.HEADERROR, HEAD_ERROR_M),
            (toolkit.UNBALANCED, 20.0),
        ):
            toolkit.setoption(self._handle, option, value)

    def _add_nodes(self) -> None:
        for row, level in enumerate(self.network.elevation_m.tolist()):
            index = toolkit.addnode(self._handle, f"n{row}", toolkit.JUNCTION)
            toolkit.setnodevalue(self._handle, index, toolkit.ELEVATION, level - self._datum_m)

    def _pipe(self, name: str, ends: tuple[str, str], size: tuple[float, float, float]) -> int:
        index: int = toolkit.addlink(self._handle, name, toolkit.PIPE, *ends)
        toolkit.setpipedata(self._handle, index, *size, 0.0)
        return index

    def _add_links(self) -> None:
        net = self.network
        sizes = zip(
            net.length_m.tolist(), net.diameter_mm.tolist(), net.roughness_c.tolist(), strict=True
        )
        ends = zip(net.start.tolist(), net.end.tolist(), strict=True)
        for row, ((one, other), size) in enumerate(zip(ends, sizes, strict=True)):
            names = f"n{one}", f"n{other}"
            if net.kind[row] == REDUCING:
                index = toolkit.addlink(self._handle, f"l{row}", toolkit.PRV, *names)
                toolkit.setlinkvalue(self._handle, index, toolkit.DIAMETER, size[1])
                toolkit.setlinkvalue(
                    self._handle, index, toolkit.INITSETTING, float(net.setting_m[row])
                )
            else:
                index = self._pipe(f"l{row}", names, size)
            if not net.is_open[row]:
                toolkit.setlinkvalue(self._handle, index, toolkit.INITSTATUS, toolkit.CLOSED)

    def _reservoir(self, name: str, level_m: float) -> str:
        index = toolkit.addnode(self._handle, name, toolkit.RESERVOIR)
        toolkit.setnodevalue(self._handle, index, toolkit.ELEVATION, level_m - self._datum_m)
        return name

    def _add_feed(self, row: int, feed: Feed) -> _FeedLinks:
        at, hold = f"n{feed.node}", 0
        if not np.isnan(feed.fixed_m):
            level = self._reservoir(f"held{row}", feed.fixed_m)
            hold = self._pipe(f"hold{row}", (level, at), (_SHORT_M, _WIDE_MM, _SMOOTH_C))
        if not feed.can_curve:
            return _FeedLinks(hold, tuple(0 for _ in feed.pumps))
        water = self._reservoir(f"water{row}", feed.suction_m)
        pumps = tuple(
            0 if pump.curve is None else self._add_pump(f"pump{row}-{place}", water, at, pump.curve)
            for place, pump in enumerate(feed.pumps)
        )
        links = _FeedLinks(hold, pumps)
        self._switch(links, held=bool(hold))
        return links

    def _add_pump(self, name: str, water: str, at: str, curve: PumpCurve) -> int:
        toolkit.addcurve(self._handle, name)
        number = toolkit.getcurveindex(self._handle, name)
        count = len(curve.points)
        flow, head = toolkit.doubleArray(count), toolkit.doubleArray(count)
        for row, (q, h) in enumerate(curve.points.tolist()):
            flow[row], head[row] = q, h
        toolkit.setcurve(self._handle, number, flow, head, count)
        index: int = toolkit.addlink(self._handle, name, toolkit.PUMP, water, at)
        toolkit.setheadcurveindex(self._handle, index, number)
        return index

    def _switch(self, links: _FeedLinks, *, held: bool) -> None:
        """Let a feed hold its level, or else run the curves of its pumps."""
        for index, on in ((links.hold, held), *((pump, not held) for pump in links.pumps)):
            if index:
                state = toolkit.OPEN if on else toolkit.CLOSED
                toolkit.setlinkvalue(self._handle, index, toolkit.INITSTATUS, state)

    def hold(self, held: list[bool]) -> None:
        """Say of each feed whether it holds its level; one that has none runs by its curves."""
        for place, (links, now) in enumerate(zip(self._feeds, held, strict=True)):
            if links.hold and any(links.pumps) and now != self._held[place]:
                self._switch(links, held=now)
                self._held[place] = now

    def emit(self, coefficient: Numbers) -> None:
        """Set K of every node [L/s per kPa^0.5], telling the engine only what changes."""
        per_m = coefficient * np.sqrt(KPA_PER_M_WATER)
        for node in np.flatnonzero(per_m != self._emitters).tolist():
            toolkit.setnodevalue(self._handle, node + 1, toolkit.EMITTER, float(per_m[node]))
        self._emitters = per_m

    def draw(self, flow_l_s: Numbers) -> None:
        """Set what is taken out of every node, whatever its pressure [L/s]."""
        for node in np.flatnonzero(flow_l_s != self._drawn).tolist():
            toolkit.setnodevalue(self._handle, node + 1, toolkit.BASEDEMAND, float(flow_l_s[node]))
        self._drawn = flow_l_s

    def run(self) -> Raw:
        """One steady state.

        Raises:
            UserError: the engine finds no answer; the message has its words.
        """
        with warnings.catch_warnings():
            # The toolkit's warning says nothing but "WARNING"; what it means is read below.
            warnings.simplefilter("ignore")
            try:
                toolkit.initH(self._handle, toolkit.INITFLOW)
                toolkit.runH(self._handle)
            except Exception as wrong:
                raise UserError(f"EPANET finds no answer: {wrong}.") from None
        return self._raw()

    def _raw(self) -> Raw:
        nodes, links = len(self.network.elevation_m), len(self.network.start)
        flow = self._read.links(toolkit.FLOW)
        feed = np.zeros(len(self._feeds))
        pumps: list[float] = []
        for place, link in enumerate(self._feeds):
            curved = not (link.hold and self._held[place])
            own = [float(flow[pump - 1]) if pump else 0.0 for pump in link.pumps]
            feed[place] = sum(own) if curved else float(flow[link.hold - 1])
            pumps += own if curved else [np.nan] * len(own)
        return Raw(
            self._read.nodes(toolkit.HEAD)[:nodes] + self._datum_m,
            flow[:links],
            self._read.nodes(toolkit.EMITTERFLOW)[:nodes],
            feed,
            np.array(pumps, dtype=float),
            int(toolkit.getstatistic(self._handle, toolkit.ITERATIONS)),
        )


def _datum_m(feeds: tuple[Feed, ...]) -> float:
    """Level that the engine counts from: the head of a feed.

    Heads of thousands of feet, with resistances near nothing, leave the engine's linear
    solver too few digits to converge on a course high above the sea.
    """
    levels = [feed.suction_m if np.isnan(feed.fixed_m) else feed.fixed_m for feed in feeds]
    return float(levels[0]) if levels else 0.0


class _Reader:
    """All values of nodes or links at once."""

    def __init__(self, handle: Any) -> None:
        self._handle = handle
        self._node_count = toolkit.getcount(handle, toolkit.NODECOUNT)
        self._link_count = toolkit.getcount(handle, toolkit.LINKCOUNT)
        self._node_values = toolkit.doubleArray(self._node_count)
        self._link_values = toolkit.doubleArray(self._link_count)

    def nodes(self, what: int) -> Numbers:
        toolkit.getnodevalues(self._handle, what, self._node_values)
        return _copied(self._node_values, self._node_count)

    def links(self, what: int) -> Numbers:
        toolkit.getlinkvalues(self._handle, what, self._link_values)
        return _copied(self._link_values, self._link_count)


def _copied(values: Any, count: int) -> Numbers:
    """A toolkit array as our own."""
    address = int(values.cast())
    view = np.ctypeslib.as_array((ctypes.c_double * count).from_address(address))
    return np.array(view, dtype=float)
