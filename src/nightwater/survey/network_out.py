"""The solved network as an EPANET file, with coordinates, in US or metric units."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from shapely.ops import substring

from nightwater.ground.record import Ground
from nightwater.pipes.hydraulic_network import DARCY_WEISBACH, PIPE, REDUCING, HydraulicNetwork
from nightwater.survey.network_file import WRITTEN_BY
from nightwater.units import KPA_PER_M_WATER, UnitSystem, from_si

VALVE_PREFIX: Final = "valve_"
_LONGEST_ID: Final = 31  # EPANET 2.2 User Manual, appendix C.1
_NOT_IN_IDS: Final = re.compile(r"[\s;\"\[\]]")
_PSI_PER_FT: Final = 0.4333  # EPANET's own figure


@dataclass(frozen=True)
class _Units:
    """How a number of ours is written: flow, length, diameter, and pressure of a valve."""

    keyword: str
    flow: str
    length: str
    bore: str
    roughness: str
    pressure_per_m: float

    def emitter(self, per_root_kpa: float) -> float:
        """K per root of the file's pressure unit."""
        per_m = per_root_kpa * np.sqrt(KPA_PER_M_WATER)
        return float(from_si(per_m, self.flow) / np.sqrt(self.pressure_per_m))


_UNITS: Final = {
    UnitSystem.METRIC: _Units("LPS", "L/s", "m", "mm", "mm", 1.0),
    UnitSystem.US: _Units("GPM", "gpm", "ft", "in", "ft", _PSI_PER_FT / 0.3048),
}


class _Ids:
    """Ids that EPANET can hold, each once."""

    def __init__(self) -> None:
        self._taken: set[str] = set()

    def new(self, wanted: str) -> str:
        bare = _NOT_IN_IDS.sub("_", wanted)[:_LONGEST_ID]
        name, number = bare, 1
        while name in self._taken:
            number += 1
            name = f"{bare[: _LONGEST_ID - 4]}~{number}"
        self._taken.add(name)
        return name


def _shown(value: float, unit: str) -> str:
    return f"{float(from_si(value, unit)):.6g}"


@dataclass
class _Writer:
    """The network and what its parts are called."""

    network: HydraulicNetwork
    units: _Units
    links: list[str]
    extra: dict[str, list[str]]
    ids: _Ids
    placed: list[tuple[str, int]]

    def section(self, name: str, rows: Iterable[str]) -> str:
        return "\n".join([f"[{name}]", *rows, *self.extra.get(name, []), ""])

    def junctions(self) -> Iterator[str]:
        for row, level in enumerate(self.network.elevation_m):
            yield f"n{row} {_shown(level, self.units.length)} 0"

    def pipes(self) -> Iterator[str]:
        net, bore = self.network, self.units
        rough = bore.roughness if net.formula == DARCY_WEISBACH else None
        for row in np.flatnonzero(net.kind != REDUCING):
            size = _shown(net.length_m[row], bore.length), _shown(net.diameter_mm[row], bore.bore)
            wall = f"{net.roughness[row]:g}" if rough is None else _shown(net.roughness[row], rough)
            state = "Open" if net.is_open[row] else "Closed"
            ends = f"n{net.start[row]} n{net.end[row]}"
            yield f"{self.links[row]} {ends} {' '.join(size)} {wall} 0 {state}"

    def valves(self) -> Iterator[str]:
        net = self.network
        for row in np.flatnonzero(net.kind == REDUCING):
            setting = net.setting_m[row] * self.units.pressure_per_m
            bore = _shown(net.diameter_mm[row], self.units.bore)
            ends = f"n{net.start[row]} n{net.end[row]}"
            yield f"{self.links[row]} {ends} {bore} PRV {setting:.6g} 0"

    def emitters(self, open_heads: Collection[str]) -> Iterator[str]:
        """Open heads by node; the others as remarks, to be opened by hand."""
        net = self.network
        k = net.emitters.coefficients(np.where(net.emitters.known, net.emitters.design_kpa, np.nan))
        running: dict[int, float] = {}
        for name, node, each in zip(net.heads, net.head_node.tolist(), k, strict=True):
            if name in open_heads:
                running[node] = running.get(node, 0.0) + each
            else:
                yield f";n{node} {self.units.emitter(each):.6g} ;head {name}"
        for node, each in running.items():
            yield f"n{node} {self.units.emitter(each):.6g}"

    def feed(self, row: int) -> None:
        """Rows of one feed: water, its pumps, and the valve that stands for the held pressure."""
        feed, units, at = self.network.feeds[row], self.units, f"n{self.network.feeds[row].node}"
        add = self.extra
        if not feed.can_curve:
            held = f"hold{row} held{row} {at} {_shown(1, units.length)} "
            add["RESERVOIRS"].append(f"held{row} {_shown(feed.fixed_m, units.length)}")
            self.placed.append((f"held{row}", row))
            add["PIPES"].append(held + f"{_shown(3000, units.bore)} 150 0 Open")
            return
        add["RESERVOIRS"].append(f"water{row} {_shown(feed.suction_m, units.length)}")
        self.placed.append((f"water{row}", row))
        out = at
        if not np.isnan(feed.set_kpa):
            out, level = f"out{row}", feed.set_head_m - feed.set_kpa / KPA_PER_M_WATER
            setting = feed.set_head_m - self.network.elevation_m[feed.node]
            add["JUNCTIONS"].append(f"{out} {_shown(level, units.length)} 0")
            self.placed.append((out, row))
            bore = _shown(1000, units.bore)
            add["VALVES"].append(
                f"held{row} {out} {at} {bore} PRV {setting * units.pressure_per_m:.6g} 0"
            )
        for pump in feed.pumps:
            if pump.curve is not None:
                name = self.ids.new(pump.id)
                add["PUMPS"].append(f"{name} water{row} {out} HEAD {name}")
                add["CURVES"] += [
                    f"{name} {_shown(q, units.flow)} {_shown(h, units.length)}"
                    for q, h in pump.curve.points
                ]

    def coordinates(self) -> Iterator[str]:
        nodes = [f"n{row}" for row in range(len(self.network.places))]
        beside = [(name, self.network.feeds[row].node) for name, row in self.placed]
        for name, node in [*zip(nodes, range(len(nodes)), strict=True), *beside]:
            x, y = self.network.places[node].tolist()
            yield f"{name} {x:.3f} {y:.3f}"


def _line(ground: Ground, owner: Any, ends: np.ndarray) -> Any:
    """The part of a pipe between two places, or None."""
    shape = ground.pipes["geometry"].get(owner)
    if shape is None or shape.is_empty:
        return None
    points = [shapely.Point(place) for place in ends]
    part = min(
        shapely.get_parts(shape), key=lambda each: sum(each.distance(point) for point in points)
    )
    return substring(part, part.project(points[0]), part.project(points[1]))


def _vertices(ground: Ground, network: HydraulicNetwork, names: list[str]) -> Iterator[str]:
    for row in np.flatnonzero(network.kind == PIPE):
        ends = network.places[[network.start[row], network.end[row]]]
        line = _line(ground, network.owner[row], ends)
        bends = [] if line is None else shapely.get_coordinates(line)[1:-1].tolist()
        yield from (f"{names[row]} {x:.3f} {y:.3f}" for x, y in bends)


def _link_names(network: HydraulicNetwork, ids: _Ids) -> list[str]:
    """Each piece by its pipe and its number in it; each valve by its id."""
    count, names = dict[str, int](), []
    for kind, owner in zip(network.kind, network.owner, strict=True):
        if kind == PIPE:
            count[owner] = count.get(owner, 0) + 1
            names.append(ids.new(f"{owner}.{count[owner]}"))
        else:
            names.append(ids.new(f"{VALVE_PREFIX}{owner}"))
    return names


def network_text(
    network: HydraulicNetwork,
    ground: Ground,
    units: UnitSystem,
    open_heads: Collection[str] = (),
) -> str:
    """The network as the text of an EPANET file.

    Pipes are cut at heads and valves, as they are solved; each piece bears its pipe's id and a
    number. Open heads are emitters of one coefficient, at their design pressure; closed ones
    stand as remarks. EPANET knows no head that holds its pressure: such a one is written as the
    open nozzle it is below it, and draws more than its design flow above. A held pressure is
    a reducing valve behind the pumps.

    Args:
        network: as `build_hydraulic_network` gives it.
        ground: the record that it was built of, for the bends of pipes.
        units: gpm, ft, in and psi; or L/s, m and mm.
        open_heads: ids of the heads that run.
    """
    ids = _Ids()
    names = _link_names(network, ids)
    lists = ("JUNCTIONS", "RESERVOIRS", "PIPES", "VALVES", "PUMPS", "CURVES")
    writer = _Writer(network, _UNITS[units], names, {name: [] for name in lists}, ids, [])
    for row in range(len(network.feeds)):
        writer.feed(row)
    formula = "D-W" if network.formula == DARCY_WEISBACH else "H-W"
    options = (f"UNITS {_UNITS[units].keyword}", f"HEADLOSS {formula}", "EMITTER EXPONENT 0.5",
               "ACCURACY 0.0001", "TRIALS 100")  # fmt: skip
    title = f"{WRITTEN_BY}; coordinates in {ground.crs}; pieces of pipe are named PIPE.NUMBER"
    parts = [
        ("TITLE", [title]),
        ("JUNCTIONS", writer.junctions()),
        ("RESERVOIRS", ()),
        ("PIPES", writer.pipes()),
        ("PUMPS", ()),
        ("VALVES", writer.valves()),
        ("CURVES", ()),
        ("EMITTERS", writer.emitters(open_heads)),
        ("TIMES", ["DURATION 0"]),
        ("OPTIONS", options),
        ("COORDINATES", writer.coordinates()),
        ("VERTICES", _vertices(ground, network, names)),
        ("END", ()),
    ]
    return "\n".join(writer.section(name, rows) for name, rows in parts)
