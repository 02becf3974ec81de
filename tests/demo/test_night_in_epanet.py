"""A whole night of the invented club, solved minute by minute by EPANET.

The planner keeps pipe limits on one way to every head, in a loop with a margin. Here EPANET says
how the water really parts, on the same joints: no pipe may carry more than its velocity limit.
"""

from __future__ import annotations

from datetime import date

import networkx as nx
import numpy as np
import pandas as pd
import pytest
import shapely
from epanet import toolkit as en

from nightwater.demo.vellenby import SETTINGS
from nightwater.ground.nozzle_performance import head_flow_l_s
from nightwater.ground.record import empty
from nightwater.ground.running_tables import HOLDS, TRIMS
from nightwater.night.build import plan_night
from nightwater.night.minutes import station_sums
from nightwater.pipes.joints import Stretches, stretches_of
from nightwater.pipes.limits import pipe_limits_l_s
from nightwater.pipes.network import build_network

NIGHT = date(2025, 7, 10)
NEED_MM = 6.5  # more than the night can carry, so that pipes run near their limits


@pytest.fixture(scope="module")
def night(ground):
    """A night of an even need, its runs at the pipes' limits."""
    crs = SETTINGS.site.crs
    need = pd.Series(NEED_MM, index=ground.areas.index)
    sums, _ = station_sums(ground, need, SETTINGS.minutes, empty(TRIMS, crs), NIGHT)
    return plan_night(ground, sums, SETTINGS, NIGHT, empty(HOLDS, crs))


@pytest.fixture(scope="module")
def stretches(ground):
    pumps = ground.pumps.geometry.to_numpy()
    return stretches_of(ground.pipes.geometry.to_numpy(), pumps)


def far_ends(ground, stretches: Stretches, points) -> np.ndarray:
    """Node of each point: the end, away from the pumps, of the piece of pipe it stands on."""
    graph = nx.Graph()
    for one, other, line in zip(stretches.start, stretches.end, stretches.lines, strict=True):
        graph.add_edge(int(one), int(other), length=line.length)
    away = nx.multi_source_dijkstra_path_length(
        graph, {int(n) for n in feed_nodes(ground, stretches)}, weight="length"
    )
    (_, piece), _ = shapely.STRtree(stretches.lines).query_nearest(
        points, return_distance=True, all_matches=False
    )
    ends = np.stack([stretches.start[piece], stretches.end[piece]])
    distance = np.vectorize(away.__getitem__)(ends)
    return np.where(distance[0] > distance[1], ends[0], ends[1])


def feed_nodes(ground, stretches: Stretches) -> np.ndarray:
    """The joints on which the pumps stand."""
    joints = np.concatenate(
        [shapely.get_point(stretches.lines, 0), shapely.get_point(stretches.lines, -1)]
    )
    nearest = shapely.STRtree(joints).nearest(ground.pumps.geometry.to_numpy())
    return np.concatenate([stretches.start, stretches.end])[nearest]


def demands_l_s(ground, stretches: Stretches, night) -> np.ndarray:
    """Flow out of every node in every minute, shape (minutes, nodes)."""
    flow = head_flow_l_s(ground.heads, ground.nozzles)
    nodes = far_ends(ground, stretches, ground.heads.geometry.to_numpy())
    station = ground.heads["station"].to_numpy()
    out = np.zeros((night.window.minutes, stretches.nodes))
    for run in night.runs:
        mine = station == run.station
        minutes = np.arange(run.start_min, run.start_min + run.run_min)
        for node, each in zip(nodes[mine], flow[mine], strict=True):
            out[minutes, node] += each
    return out


class Engine:
    """The network in EPANET: pumps as reservoirs of one level, pipes by Hazen–Williams."""

    def __init__(self, ground, stretches: Stretches) -> None:
        self._project = en.createproject()
        en.init(self._project, "", "", en.LPS, en.HW)
        feeds = set(feed_nodes(ground, stretches).tolist())
        self._nodes = {}
        for node in range(stretches.nodes):
            kind = en.RESERVOIR if node in feeds else en.JUNCTION
            self._nodes[node] = en.addnode(self._project, f"n{node}", kind)
            if node in feeds:
                en.setnodevalue(self._project, self._nodes[node], en.ELEVATION, 150.0)
        self._junctions = [node for node in range(stretches.nodes) if node not in feeds]
        bore = ground.pipes["diameter_mm"].to_numpy(dtype=float)[stretches.pipe]
        rough = ground.pipes["hazen_williams_c"].fillna(140).to_numpy(dtype=float)[stretches.pipe]
        ends = zip(stretches.start.tolist(), stretches.end.tolist(), strict=True)
        self._links = []
        for row, (one, other) in enumerate(ends):
            link = en.addlink(self._project, f"p{row}", en.PIPE, f"n{one}", f"n{other}")
            length = stretches.lines[row].length
            en.setpipedata(self._project, link, length, bore[row], rough[row], 0.0)
            self._links.append(link)
        en.openH(self._project)

    def flows_l_s(self, demand_l_s: np.ndarray) -> np.ndarray:
        """Flow in every stretch for the demand of every node."""
        for node in self._junctions:
            en.setnodevalue(
                self._project, self._nodes[node], en.BASEDEMAND, float(demand_l_s[node])
            )
        en.initH(self._project, en.INITFLOW)
        en.runH(self._project)
        return np.abs([en.getlinkvalue(self._project, link, en.FLOW) for link in self._links])

    def close(self) -> None:
        en.closeH(self._project)
        en.deleteproject(self._project)


def test_no_pipe_of_a_full_night_carries_more_than_its_limit(ground, stretches, night):
    """EPANET 2.3 on 480 minutes; velocity limit 5 ft/s as in common practice, no source."""
    demand = demands_l_s(ground, stretches, night)
    assert demand.sum() * 60 / 1000 == pytest.approx(night.volume_m3, rel=1e-9)
    worst = np.zeros(len(stretches.lines))
    engine = Engine(ground, stretches)
    try:
        for minute in range(night.window.minutes):
            worst = np.maximum(worst, engine.flows_l_s(demand[minute]))
    finally:
        engine.close()
    limits = pipe_limits_l_s(ground.pipes, (), SETTINGS.night)
    limit = np.array([limits[str(ground.pipes.index[row])] for row in stretches.pipe])
    share = worst / limit
    assert share.max() <= 1.001  # EPANET stops at changes of flow of 0.1 %
    assert share.max() > 0.95  # the night does bring pipes to their limit
    looped = build_network(ground)[0].looped
    on_loop = np.array([str(ground.pipes.index[row]) in looped for row in stretches.pipe])
    assert 0.7 < share[on_loop].max() < 0.95
