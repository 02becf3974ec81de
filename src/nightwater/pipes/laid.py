"""The pipes as they lie, worked out once, for everything that checks them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from nightwater.findings import UserError
from nightwater.ground.linked import Linked
from nightwater.ground.record import Ground
from nightwater.ground.settings import NightRules
from nightwater.ground.shapes import Geometries, sound_shapes
from nightwater.pipes.joints import Stretches, stretches_of
from nightwater.pipes.limits import pipe_limits_l_s
from nightwater.pipes.network import Network
from nightwater.pipes.segments import Segments, build_segments

TRUNKS: Final = ("header", "main", "loop", "spur")  # all that is no lateral
GAP_M: Final = 3.0  # an end this near to another pipe was meant to reach it


@dataclass(frozen=True)
class Laid:
    """A record's pipes and what follows from them; each is computed when first asked for.

    Attributes:
        ground: the record; at least one pipe has a line.
        network: the network of it.
        rules: the course's velocity limit and loop margin.
    """

    ground: Ground
    network: Network
    rules: NightRules

    @cached_property
    def lines(self) -> Geometries:
        """The line of each pipe, empty where there is none."""
        return sound_shapes(self.ground.pipes, "pipes")

    @cached_property
    def stretches(self) -> Stretches:
        """The pipes cut at every joint."""
        feeds = self.ground.table("pumps" if len(self.ground.pumps) else "sources")
        places = sound_shapes(feeds, "pumps")
        return stretches_of(self.lines, places[~shapely.is_empty(places)])

    @cached_property
    def limits_l_s(self) -> Mapping[str, float]:
        """Flow of each pipe at its velocity limit; none for one without a bore [L/s]."""
        return pipe_limits_l_s(self.ground.pipes, self.network.looped, self.rules)

    @cached_property
    def linked(self) -> Linked:
        """The record with its other links."""
        return Linked(self.ground)

    @cached_property
    def part(self) -> NDArray[np.int64]:
        """Which part of the network each node belongs to; parts are joined nowhere."""
        pieces = self.stretches
        ends = (np.ones(len(pieces.start)), (pieces.start, pieces.end))
        graph = coo_array(ends, shape=(pieces.nodes, pieces.nodes))
        return connected_components(graph, directed=False)[1].astype(np.int64)

    @cached_property
    def segments(self) -> Segments | None:
        """The pipes parted by their isolation valves; None where no feed stands on a pipe."""
        try:
            return build_segments(self.ground)
        except UserError:  # told by `no-feed` already
            return None

    @cached_property
    def loose_ends(self) -> pd.DataFrame:
        """Ends of pipes that no other pipe is joined to.

        Columns pipe (its id), kind, node, point, other (id of the nearest other pipe within
        `GAP_M`, None for none), gap_m to it, other_part (whether that belongs to another
        part of the network) and head_m to the nearest head; NaN where there is none.
        """
        pieces = self.stretches
        joined = np.bincount(np.concatenate([pieces.start, pieces.end]), minlength=pieces.nodes)
        first, last = (shapely.get_point(pieces.lines, place) for place in (0, -1))
        ends = pd.DataFrame(
            {
                "row": np.concatenate([pieces.pipe, pieces.pipe]),
                "node": np.concatenate([pieces.start, pieces.end]),
                "point": np.concatenate([first, last]),
            }
        )
        ends = ends[joined[ends["node"]] == 1].reset_index(drop=True)
        pipes = self.ground.pipes
        ends["pipe"] = [str(name) for name in pipes.index[ends["row"]]]
        ends["kind"] = pipes["kind"].to_numpy()[ends["row"]]
        ends["head_m"] = self._head_m(ends["point"].to_numpy())
        with_neighbours: pd.DataFrame = ends.join(self._near(ends))
        return with_neighbours

    def _head_m(self, points: Geometries) -> NDArray[np.float64]:
        heads = sound_shapes(self.ground.heads, "heads")
        heads, away = heads[~shapely.is_empty(heads)], np.full(len(points), np.nan)
        if len(heads) and len(points):
            (row, _), away_m = shapely.STRtree(heads).query_nearest(
                points, return_distance=True, all_matches=False
            )
            away[row] = away_m
        return away

    def _near(self, ends: pd.DataFrame) -> pd.DataFrame:
        """The nearest other pipe of each loose end."""
        points, pieces = ends["point"].to_numpy(), self.stretches
        end, piece = shapely.STRtree(pieces.lines).query(points, "dwithin", distance=GAP_M)
        strange = pieces.pipe[piece] != ends["row"].to_numpy()[end]
        end, piece = end[strange], piece[strange]
        part = self.part[pieces.start[piece]]
        found = pd.DataFrame(
            {
                "other": [str(name) for name in self.ground.pipes.index[pieces.pipe[piece]]],
                "gap_m": shapely.distance(points[end], pieces.lines[piece]),
                "other_part": part != self.part[ends["node"].to_numpy()[end]],
            },
            index=end,
        ).sort_values("gap_m", kind="stable")
        nearest: pd.DataFrame = found[~found.index.duplicated()]
        return nearest

    def name(self, table: str, identity: Any) -> str:
        """What people call a row: its label, else its id."""
        return self.linked.name(table, identity)
