"""The network that is solved for pressure: frozen nodes, links, heads and feeds."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from nightwater.pipes.emitters import Emitters
from nightwater.pipes.pump_curves import PumpCurve
from nightwater.units import KPA_PER_M_WATER

PIPE: Final = "pipe"
ISOLATION: Final = "isolation"
REDUCING: Final = "reducing"

Numbers = NDArray[np.float64]
Whole = NDArray[np.int64]


@dataclass(frozen=True)
class Pump:
    """One pump of a feed.

    Attributes:
        id: its id in the record.
        curve: at full speed; None where neither curve nor duty head is known.
        motor_efficiency: shaft power over power drawn, 0 to 1.
        variable: whether a drive slows it down; else what is too much is throttled.
    """

    id: str
    curve: PumpCurve | None
    motor_efficiency: float
    variable: bool


@dataclass(frozen=True)
class Feed:
    """Where water enters: pumps side by side, or a source that gives pressure by itself.

    Attributes:
        subject: `pumps:id` of the first pump, or `sources:id`.
        node: the node it feeds.
        pumps: in the order in which they are started; none for a source.
        suction_m: level of the water it draws from; of a source with pressure, its head.
        set_head_m: level to which the held pressure lifts water at the node, NaN where
            no pressure is held.
        set_kpa: the held pressure, NaN where none is.
    """

    subject: str
    node: int
    pumps: tuple[Pump, ...]
    suction_m: float
    set_head_m: float
    set_kpa: float

    @property
    def can_curve(self) -> bool:
        """Whether it can be solved by the curves of its pumps."""
        return any(pump.curve is not None for pump in self.pumps)

    @property
    def fixed_m(self) -> float:
        """The level that holds while it holds: of the set pressure, or of the source."""
        return self.suction_m if not self.pumps else self.set_head_m


@dataclass(frozen=True)
class HydraulicNetwork:
    """Everything that water can reach, as nodes and links.

    Attributes:
        places: x and y of each node [m], shape (nodes, 2).
        elevation_m: ground level of each node.
        kind: of each link: "pipe", "isolation" or "reducing".
        owner: id of its pipe, or of its valve.
        start, end: its nodes; a reducing valve passes water from start to end only.
        length_m, diameter_mm, roughness_c: its size; NaN length for a reducing valve.
        is_open: whether water may pass.
        setting_m: pressure that a reducing valve holds behind itself [m of water], else NaN.
        heads: ids of the heads on it.
        head_node: the node of each.
        station: id of the station of each head; "" where it has none.
        emitters: the heads as outlets, in the order of `heads`.
        feeds: where water enters.
        left_out: ids of heads that stand on no pipe that a feed reaches.
    """

    places: Numbers
    elevation_m: Numbers
    kind: NDArray[np.str_]
    owner: NDArray[np.object_]
    start: Whole
    end: Whole
    length_m: Numbers
    diameter_mm: Numbers
    roughness_c: Numbers
    is_open: NDArray[np.bool_]
    setting_m: Numbers
    heads: tuple[str, ...]
    head_node: Whole
    station: NDArray[np.object_]
    emitters: Emitters
    feeds: tuple[Feed, ...]
    left_out: frozenset[str]

    @property
    def pumps(self) -> tuple[Pump, ...]:
        """Every pump, feed by feed."""
        return tuple(pump for feed in self.feeds for pump in feed.pumps)

    def heads_of_stations(self, open_sets: Sequence[Collection[str]]) -> NDArray[np.bool_]:
        """Which heads run when stations do, shape (sets, heads).

        Args:
            open_sets: ids of the stations open in each set.
        """
        names, number = np.unique(self.station.astype(str), return_inverse=True)
        place = {str(name): row for row, name in enumerate(names) if name}
        on = np.zeros((len(open_sets), len(names)), dtype=bool)
        for row, stations in enumerate(open_sets):
            on[row, [place[name] for name in stations if name in place]] = True
        return on[:, number]

    def heads_named(self, open_sets: Sequence[Collection[str]]) -> NDArray[np.bool_]:
        """Which heads run in each set of head ids, shape (sets, heads)."""
        place = {name: row for row, name in enumerate(self.heads)}
        on = np.zeros((len(open_sets), len(self.heads)), dtype=bool)
        for row, heads in enumerate(open_sets):
            on[row, [place[name] for name in heads if name in place]] = True
        return on


def head_of_pressure_m(pressure_kpa: float) -> float:
    """Metres of water of a pressure."""
    return pressure_kpa / KPA_PER_M_WATER
