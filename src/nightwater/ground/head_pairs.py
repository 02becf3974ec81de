"""Which two heads may share a station, and the best way to pair the heads of a row."""

from __future__ import annotations

from typing import Final

import networkx as nx
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from nightwater.ground.linked import points_of
from nightwater.ground.pair_rules import PairRules

_WEIGHT_STEPS: Final = 1000  # whole weights: equal ways to pair come out equal, not by rounding
_FULL_DEG: Final = 360.0
_NO_LATERAL: Final = ""

Places = NDArray[np.int64]


def like_spacing_m(heads: pd.DataFrame) -> NDArray[np.float64]:
    """The spacing each head is held against [m].

    Its own `spacing_m`, else the median distance to the nearest head among these, else its
    `throw_m`; NaN where nothing tells.
    """
    own = heads["spacing_m"].to_numpy(dtype=float)
    throw = heads["throw_m"].to_numpy(dtype=float)
    if len(heads) > 1 and np.isnan(own).any():
        points = points_of(heads)
        _, near = shapely.STRtree(points).query_nearest(
            points, exclusive=True, return_distance=True, all_matches=False
        )
        if len(near):
            own = np.where(np.isnan(own), float(np.median(near)), own)
    return np.where(np.isnan(own), throw, own)


def _alike(one: pd.DataFrame, other: pd.DataFrame, rules: PairRules) -> NDArray[np.bool_]:
    """Same nozzle or like flow; full with full, part with part; not on two laterals."""
    flow = [rows["flow_l_s"].to_numpy(dtype=float) for rows in (one, other)]
    with np.errstate(invalid="ignore"):
        like_flow = np.abs(flow[0] - flow[1]) <= rules.flow_tolerance * np.maximum(*flow)
    nozzle = [rows["nozzle"].fillna("").to_numpy() for rows in (one, other)]
    unknown = np.isnan(flow[0]) & np.isnan(flow[1])
    arc = [rows["arc_deg"].to_numpy(dtype=float) for rows in (one, other)]
    full = [angle >= _FULL_DEG for angle in arc]
    like_arc = (full[0] == full[1]) & (np.abs(arc[0] - arc[1]) <= rules.arc_tolerance_deg)
    lateral = [rows["lateral"].to_numpy() for rows in (one, other)]
    unlike = (lateral[0] != lateral[1]) & (lateral[0] != _NO_LATERAL) & (lateral[1] != _NO_LATERAL)
    return np.asarray((like_flow | unknown & (nozzle[0] == nozzle[1])) & like_arc & ~unlike)


def _weights(one: pd.DataFrame, other: pd.DataFrame, share: NDArray[np.float64]) -> Places:
    """How much better a pair is than two singles: near one spacing, along a row, from the tee."""
    rank = [rows["rank"].to_numpy(dtype=int) for rows in (one, other)]
    same_row = one["side"].to_numpy() == other["side"].to_numpy()
    next_in_row = same_row & (np.abs(rank[0] - rank[1]) == 1)
    lateral = one["lateral"].to_numpy()
    same_lateral = (lateral == other["lateral"].to_numpy()) & (lateral != _NO_LATERAL)
    weight = 1.0 - 0.5 * np.abs(share - 1.0) + 0.3 * next_in_row + 0.3 * same_lateral
    weight += 0.1 * (next_in_row & (np.minimum(*rank) % 2 == 0))
    weight -= 0.3 * (one["area"].to_numpy() != other["area"].to_numpy())
    return np.asarray(np.round(np.maximum(weight, 0.01) * _WEIGHT_STEPS), dtype=np.int64)


def candidate_pairs(heads: pd.DataFrame, rules: PairRules) -> pd.DataFrame:
    """Every two of these heads that may share a station.

    Args:
        heads: of one kind and place, in the trade's order; columns x, y, spacing_m, throw_m,
            flow_l_s, nozzle, arc_deg, area, side, rank (place in its row) and lateral ("" for
            unknown).
        rules: the limits.

    Returns:
        Columns one and other (places in `heads`, one < other), distance_m, share (of the
        spacing) and weight (whole, more is better).
    """
    points, spacing = points_of(heads), like_spacing_m(heads)
    widest = np.where(np.isnan(spacing), 0.0, rules.reach * spacing)
    one, other = shapely.STRtree(points).query(points, "dwithin", distance=float(widest.max()))
    one, other = one[one < other], other[one < other]
    distance = np.asarray(shapely.distance(points[one], points[other]))
    share = distance / ((spacing[one] + spacing[other]) / 2.0)
    first, second = heads.iloc[one], heads.iloc[other]
    fits = (share <= rules.reach) & _alike(first, second, rules)
    weight = _weights(first, second, share)
    rows = {"one": one, "other": other, "distance_m": distance, "share": share, "weight": weight}
    found: pd.DataFrame = pd.DataFrame(rows).loc[fits]
    return found.reset_index(drop=True)


def matched(count: int, pairs: pd.DataFrame) -> tuple[NDArray[np.bool_], Places, NDArray[np.bool_]]:
    """The heaviest pairing that leaves as few heads single as can be.

    Args:
        count: how many heads there are.
        pairs: as `candidate_pairs` gives them.

    Returns:
        Which pairs are taken; how many heads each head can reach over pairs, itself
        included; and whether its heads branch (some head has more than two to pair with).
    """
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(range(count))
    for row, one, other, weight in pairs[["one", "other", "weight"]].itertuples():
        graph.add_edge(int(one), int(other), weight=int(weight), row=int(row))
    taken, size = np.zeros(len(pairs), dtype=bool), np.ones(count, dtype=np.int64)
    branched = np.zeros(count, dtype=bool)
    for members in nx.connected_components(graph):
        places = sorted(members)
        size[places] = len(places)
        branched[places] = max(graph.degree(place) for place in places) > 2
        for one, other in nx.max_weight_matching(graph.subgraph(places), maxcardinality=True):
            taken[graph.edges[one, other]["row"]] = True
    return taken, size, branched
