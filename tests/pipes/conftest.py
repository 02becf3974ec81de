"""Small networks, and EPANET as a second opinion on their flows."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
import pytest
from epanet import toolkit
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiLineString, Point

from nightwater.ground.record import Ground, ground_from

CRS = "EPSG:32613"
Place = tuple[float, float]
Edge = tuple[int, int, float, float, float]  # nodes, length m, diameter mm, C
_MOST_TRIALS = 500


def _frame(rows: Mapping[str, dict[str, Any]]) -> pd.DataFrame:
    return pd.DataFrame.from_dict(dict(rows), orient="index")


def _points(places: Mapping[str, Place], **columns: Any) -> pd.DataFrame:
    return _frame({name: {"geometry": Point(place), **columns} for name, place in places.items()})


@pytest.fixture(scope="session")
def network_ground() -> Callable[..., Ground]:
    """A ground out of pipes (points of each line), heads and feeds."""

    def make(
        pipes: Mapping[str, Sequence[Place]],
        heads: Mapping[str, Place],
        *,
        pumps: Mapping[str, Place] | None = None,
        sources: Mapping[str, Place] | None = None,
        diameter_mm: Mapping[str, float] | None = None,
        roughness: Mapping[str, float] | None = None,
    ) -> Ground:
        bores, rough = diameter_mm or {}, roughness or {}
        lines = {
            name: {
                "diameter_mm": bores.get(name, 100.0),
                "hazen_williams_c": rough.get(name, np.nan),
                "geometry": MultiLineString([LineString(points)]),
            }
            for name, points in pipes.items()
        }
        tables = {"pipes": _frame(lines), "heads": _points(heads)}
        if pumps:
            tables["pumps"] = _points(pumps, capacity_l_s=50.0)
        if sources:
            tables["sources"] = _points(sources)
        return ground_from(CRS, {name: rows for name, rows in tables.items() if len(rows)})

    return make


def _steady_flows(
    edges: Sequence[Edge], feed: int, demands: Mapping[int, float]
) -> NDArray[np.float64]:
    """EPANET's flow of each edge [L/s], positive from its first node to its second."""
    project = toolkit.createproject()
    toolkit.init(project, os.devnull, "", toolkit.LPS, toolkit.HW)  # no report on the screen
    try:
        nodes = sorted({node for edge in edges for node in edge[:2]})
        for node in nodes:
            kind = toolkit.RESERVOIR if node == feed else toolkit.JUNCTION
            toolkit.addnode(project, f"N{node}", kind)
        for place, (one, other, length, diameter, rough) in enumerate(edges):
            ends = (f"N{one}", f"N{other}")
            link = toolkit.addlink(project, f"L{place}", toolkit.PIPE, *ends)
            toolkit.setpipedata(project, link, float(length), float(diameter), float(rough), 0.0)
        at_feed = toolkit.getnodeindex(project, f"N{feed}")
        toolkit.setnodevalue(project, at_feed, toolkit.ELEVATION, 1000.0)
        for node, flow in demands.items():
            at = toolkit.getnodeindex(project, f"N{node}")
            toolkit.setnodevalue(project, at, toolkit.BASEDEMAND, flow)
        toolkit.setoption(project, toolkit.TRIALS, _MOST_TRIALS)
        toolkit.setoption(project, toolkit.ACCURACY, 1e-6)
        toolkit.openH(project)
        toolkit.initH(project, toolkit.NOSAVE)
        toolkit.runH(project)
        links = [toolkit.getlinkindex(project, f"L{place}") for place in range(len(edges))]
        flows = [toolkit.getlinkvalue(project, link, toolkit.FLOW) for link in links]
        toolkit.closeH(project)
    finally:
        toolkit.deleteproject(project)
    return np.array(flows)


@pytest.fixture(scope="session")
def steady_flows() -> Callable[..., NDArray[np.float64]]:
    """EPANET's steady flows of a network with one feed."""
    return _steady_flows
