"""Break here: which valves to close, and what then has no water."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import breadth_first_order, connected_components, maximum_flow

from nightwater.pipes.segments import Segments

Whole = NDArray[np.int64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class FewerHands:
    """A set with fewer valves that cuts the break off, at the price of more dry ground."""

    close: tuple[str, ...]
    dry_heads: tuple[str, ...]


@dataclass(frozen=True)
class Detour:
    """Valves that stand closed, through which water comes back to a part behind the break.

    Attributes:
        close: valves between that part and the break; close them first.
        open: valves that stand closed, of which one is opened then.
        heads: heads that get water again.
    """

    close: tuple[str, ...]
    open: tuple[str, ...]
    heads: tuple[str, ...]


@dataclass(frozen=True)
class Isolation:
    """What shuts a break off.

    Attributes:
        close: valves to close. They cut the break off from every feed; none of them can be left
            out; and no other set of valves leaves any other part of the network dry less.
        stands_closed: valves that stand closed already and must hold, between dry and wet.
        stop: feeds that no valve parts from the break; they must stand still.
        broken: rows of the pieces that lie between the same valves as the break.
        dry: rows of the pieces that lose water, the broken ones included.
        heads: heads that lose water.
        unfed: whether the break had no water before, by the record.
        fittings: drains, air valves and quick couplers on the broken pieces.
        fewer: a smaller set, where there is one.
        detours: ways to bring water back behind the break.
    """

    close: tuple[str, ...]
    stands_closed: tuple[str, ...]
    stop: tuple[str, ...]
    broken: Whole
    dry: Whole
    heads: tuple[str, ...]
    unfed: bool
    fittings: tuple[str, ...]
    fewer: FewerHands | None
    detours: tuple[Detour, ...]


@dataclass(frozen=True)
class _Graph:
    """Segments as nodes and the valves between two of them as links."""

    whole: Segments
    label: Whole  # per node of the pieces
    one: Whole  # per link
    other: Whole
    valve: Whole
    closed: Flags
    feeds: Whole
    count: int

    def names(self, links: Flags) -> tuple[str, ...]:
        return tuple(sorted(self.whole.valves.ids[row] for row in self.valve[links]))

    def fed(self, links: Flags, blocked: Flags) -> Flags:
        """Segments that water reaches through some of the links and round what is blocked."""
        wet = np.zeros(self.count + 1, dtype=bool)
        use = links & ~blocked[self.one] & ~blocked[self.other]
        begin = self.feeds[~blocked[self.feeds]]
        start = np.full(len(begin), self.count)  # one more node, that all feeds hang on
        ends = np.concatenate([self.one[use], start]), np.concatenate([self.other[use], begin])
        shape = (self.count + 1, self.count + 1)
        graph = coo_array((np.ones(len(ends[0])), ends), shape=shape).tocsr()
        order = breadth_first_order(
            graph + graph.T, self.count, directed=False, return_predecessors=False
        )
        wet[order] = True
        return wet[: self.count]

    def of_piece(self) -> Whole:
        label: Whole = self.label[self.whole.pieces.one]
        return label

    def heads(self, segments: Flags) -> tuple[str, ...]:
        places = self.whole.heads
        hit = segments[self.of_piece()[places.piece]]
        return tuple(np.array(places.ids, dtype=object)[hit])


def _graph(segments: Segments, stuck: Collection[str]) -> _Graph:
    valves = segments.valves
    label = segments.labels(~np.isin(np.array(valves.ids, dtype=object), list(stuck)))
    one, other = label[valves.one], label[valves.other]
    links = np.flatnonzero(one != other)
    return _Graph(
        whole=segments,
        label=label,
        one=one[links],
        other=other[links],
        valve=links.astype(np.int64),
        closed=valves.closed[links],
        feeds=np.unique(label[segments.feed_nodes]),
        count=int(label.max()) + 1,
    )


def _between(graph: _Graph, one: Flags, other: Flags) -> Flags:
    """Links from one set of segments to another."""
    here, there = graph.one, graph.other
    return (one[here] & other[there]) | (other[here] & one[there])


def _fewest(graph: _Graph, broken: Flags, most: int) -> FewerHands | None:
    """The least number of open valves between break and feeds; None where `most` is the least.

    Of several such sets the one nearest to the break, which leaves least dry.
    Reference: maximum flow = minimum cut (Ford and Fulkerson 1956); the cut of what the
    residual still reaches from the source lies inside every other minimum cut.
    """
    if broken[graph.feeds].any():
        return None
    source, sink = graph.count, graph.count + 1
    plenty = len(graph.valve) + 1
    use = ~graph.closed
    one, other = graph.one[use], graph.other[use]
    at, feeds = np.flatnonzero(broken), graph.feeds
    rows = np.concatenate([one, other, np.full(len(at), source), feeds])
    columns = np.concatenate([other, one, at, np.full(len(feeds), sink)])
    capacity = np.concatenate(
        [np.ones(2 * len(one)), np.full(len(at) + len(feeds), plenty)]
    ).astype(np.int32)
    shape = (graph.count + 2, graph.count + 2)
    network = csr_array(coo_array((capacity, (rows, columns)), shape=shape))
    flow = maximum_flow(network, source, sink)
    if flow.flow_value >= most:
        return None
    residual = csr_array(network - flow.flow)
    residual.data = np.maximum(residual.data, 0)
    residual.eliminate_zeros()
    reached = breadth_first_order(residual, source, return_predecessors=False)
    near = np.zeros(graph.count + 2, dtype=bool)
    near[reached] = True
    shut = use & (near[graph.one] != near[graph.other])
    before = graph.fed(use, np.zeros(graph.count, dtype=bool))
    after = graph.fed(use & ~shut, np.zeros(graph.count, dtype=bool))
    return FewerHands(graph.names(shut), graph.heads(before & ~after))


def _detours(graph: _Graph, broken: Flags, dry: Flags, wet: Flags) -> Iterable[Detour]:
    """Parts behind the break that a valve standing closed would bring water to."""
    behind = dry & ~broken
    inside = ~graph.closed & behind[graph.one] & behind[graph.other]
    joined = coo_array(
        (np.ones(int(inside.sum())), (graph.one[inside], graph.other[inside])),
        shape=(graph.count, graph.count),
    )
    part = connected_components(joined, directed=False)[1]
    for name in np.unique(part[behind]):
        mine = behind & (part == name)
        ways = graph.closed & _between(graph, mine, wet)
        heads = graph.heads(mine)
        if ways.any() and heads:
            first = ~graph.closed & _between(graph, mine, broken)
            yield Detour(graph.names(first), graph.names(ways), heads)


def isolate(
    segments: Segments, broken_pieces: Collection[int] | Whole, stuck: Collection[str] = ()
) -> Isolation:
    """Which valves shut a break off, exact on the graph.

    Valves cut the pipes into segments. The segment of the break is dry whatever is closed; what
    reaches a feed only through it is dry with it. The valves between it and what is still fed
    are the first met on each way to a feed. Every set that cuts the break off leaves at
    least the same ground dry, and without any one of these water still comes to the break.

    Args:
        segments: the network parted by its valves.
        broken_pieces: rows of the pieces that may be broken.
        stuck: ids of valves that do not close; water passes them.

    Returns:
        Valves, feeds to stop, what loses water, and other ways.
    """
    graph = _graph(segments, stuck)
    of_piece = graph.of_piece()
    broken = np.zeros(graph.count, dtype=bool)
    broken[of_piece[np.asarray(list(broken_pieces), dtype=np.int64)]] = True
    nothing = np.zeros(graph.count, dtype=bool)
    before = graph.fed(~graph.closed, nothing)
    wet = graph.fed(~graph.closed, broken)
    dry = broken | (before & ~wet)
    close = ~graph.closed & _between(graph, broken, wet)
    in_broken = broken[of_piece]
    fitting = in_broken[segments.fittings.piece]
    return Isolation(
        close=graph.names(close),
        stands_closed=graph.names(graph.closed & _between(graph, dry, wet)),
        stop=tuple(
            name
            for name, node in zip(segments.feeds, segments.feed_nodes, strict=True)
            if broken[graph.label[node]]
        ),
        broken=np.flatnonzero(in_broken).astype(np.int64),
        dry=np.flatnonzero(dry[of_piece]).astype(np.int64),
        heads=graph.heads(before & ~wet),
        unfed=not before[broken].any(),
        fittings=tuple(np.array(segments.fittings.ids, dtype=object)[fitting]),
        fewer=_fewest(graph, broken, int(close.sum())),
        detours=tuple(_detours(graph, broken, dry, wet)),
    )


def dry_length_m(segments: Segments, isolation: Isolation) -> float:
    """Length of pipe that loses water [m]."""
    return float(shapely.length(segments.pieces.lines[isolation.dry]).sum())


def beyond_valves(segments: Segments) -> dict[tuple[str, ...], tuple[str, ...]]:
    """Pipes that cannot be shut off while a feed runs: ids of the feeds → ids of the pipes.

    A pipe is among them where one of its pieces has no valve between itself and the feed.
    """
    label = segments.labels(np.ones(len(segments.valves.ids), dtype=bool))
    of_piece, of_feed = label[segments.pieces.one], label[segments.feed_nodes]
    found: dict[tuple[str, ...], tuple[str, ...]] = {}
    for name in np.unique(of_feed):
        feeds = tuple(np.array(segments.feeds, dtype=object)[of_feed == name])
        rows = np.unique(segments.pieces.pipe[(of_piece == name) & segments.long_enough])
        if len(rows):  # none where a valve stands at the pump itself
            found[feeds] = tuple(segments.pipe_ids[row] for row in rows)
    return found
