"""The record's pipes, valves, pumps and heads as a network that can be solved."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import dijkstra

from nightwater.findings import Finding, UserError, error, warning
from nightwater.ground.record import Ground
from nightwater.pipes.emitters import emitters_of
from nightwater.pipes.feeding import feeds_of
from nightwater.pipes.hydraulic_network import (
    ISOLATION,
    PIPE,
    REDUCING,
    Feed,
    HydraulicNetwork,
    head_of_pressure_m,
)
from nightwater.pipes.joints import Stretches, stretches_of
from nightwater.pipes.levels import known_levels, level_findings, levels_at
from nightwater.pipes.losses import USUAL_C
from nightwater.pipes.network import NEAR_M, REACH_M
from nightwater.pipes.stands import Pieces, Standing, cut_at, standing_on

VALVE_LENGTH_M: Final = 0.1
_NAMED: Final = 5  # so many ids stand in a message

Numbers = NDArray[np.float64]
Whole = NDArray[np.int64]
Flags = NDArray[np.bool_]


def _shapes(frame: pd.DataFrame) -> NDArray[np.object_]:
    return np.asarray(frame["geometry"].to_numpy(), dtype=object)


def _placed(shapes: NDArray[np.object_]) -> NDArray[np.object_]:
    return shapes[~(shapely.is_missing(shapes) | shapely.is_empty(shapes))]


def some_ids(ids: list[str]) -> str:
    """The first few ids, and that there are more."""
    return ", ".join(ids[:_NAMED]) + (" …" if len(ids) > _NAMED else "")


@dataclass(frozen=True)
class _Laid:
    """The cut pipes and what stands on them."""

    ground: Ground
    table: str
    stretches: Stretches
    heads: Standing
    feeds: Standing
    valves: Standing
    pieces: Pieces


def _in_line(valves: pd.DataFrame) -> Flags:
    """Valves that a pipe's water passes through."""
    reducing = valves["kind"].eq("pressure_reducing") & valves["setting_kpa"].notna()
    return (valves["kind"].eq(ISOLATION) | reducing).to_numpy(dtype=bool)


def _joined(one: Standing, other: Standing) -> Standing:
    return Standing(
        *(
            np.concatenate([getattr(part, name) for part in (one, other)])
            for name in ("row", "stretch", "along_m", "away_m")
        )
    )


def _lay(ground: Ground) -> _Laid:
    table = "pumps" if len(ground.pumps) else "sources"
    stretches = stretches_of(_shapes(ground.pipes), _placed(_shapes(ground.table(table))))
    bore = ground.pipes["diameter_mm"].to_numpy(dtype=float)[stretches.pipe]
    usable = bore > 0
    heads = standing_on(_shapes(ground.heads), stretches, REACH_M, usable)
    feeds = standing_on(_shapes(ground.table(table)), stretches, REACH_M, usable)
    valve_shapes = _shapes(ground.valves).copy()
    valve_shapes[~_in_line(ground.valves)] = None
    valves = standing_on(valve_shapes, stretches, NEAR_M, usable)
    pieces = cut_at(stretches, usable, _joined(heads, feeds), valves)
    return _Laid(ground, table, stretches, heads, feeds, valves, pieces)


@dataclass(frozen=True)
class _Links:
    """Columns of the links, as the network holds them."""

    kind: NDArray[np.str_]
    owner: NDArray[np.object_]
    start: Whole
    end: Whole
    length_m: Numbers
    diameter_mm: Numbers
    roughness_c: Numbers
    is_open: Flags
    setting_m: Numbers

    def kept(self, rows: Whole, number: Whole) -> _Links:
        """Some of the links, their nodes numbered anew."""
        columns = {name: getattr(self, name)[rows] for name in self.__dataclass_fields__}
        columns["start"], columns["end"] = number[columns["start"]], number[columns["end"]]
        return _Links(**columns)


def _links(laid: _Laid) -> _Links:
    """Pieces of pipe, then the valves between them."""
    pipes, pieces, valves = laid.ground.pipes, laid.pieces, laid.ground.valves.iloc[laid.valves.row]
    pipe = laid.stretches.pipe[np.concatenate([pieces.stretch, laid.valves.stretch])]
    count, fittings = len(pieces.stretch), len(valves)
    reducing = valves["kind"].eq("pressure_reducing").to_numpy(dtype=bool)
    closed = valves["open"].eq(False).to_numpy(dtype=bool)
    setting = np.where(reducing, valves["setting_kpa"].to_numpy(dtype=float), np.nan)
    names = np.array([str(name) for name in pipes.index], dtype=object)[pipe[:count]]
    length = np.concatenate([pieces.length_m, np.where(reducing, np.nan, VALVE_LENGTH_M)])
    return _Links(
        kind=np.concatenate(
            [np.full(count, PIPE, dtype="U9"), np.where(reducing, REDUCING, ISOLATION)]
        ),
        owner=np.concatenate([names, np.array([str(v) for v in valves.index], dtype=object)]),
        start=np.concatenate([pieces.start, pieces.split[:, 0]]),
        end=np.concatenate([pieces.end, pieces.split[:, 1]]),
        length_m=length,
        diameter_mm=pipes["diameter_mm"].to_numpy(dtype=float)[pipe],
        roughness_c=pipes["hazen_williams_c"].fillna(USUAL_C).to_numpy(dtype=float)[pipe],
        is_open=np.concatenate([np.ones(count, dtype=bool), ~closed[:fittings]]),
        setting_m=np.concatenate([np.full(count, np.nan), head_of_pressure_m(1.0) * setting]),
    )


def _way_m(links: _Links, nodes: int, feeds: Whole) -> Numbers:
    """Length of the shortest open way from a feed to each node; infinite where there is none."""
    go = np.flatnonzero(links.is_open & (links.start != links.end))
    length = np.maximum(np.nan_to_num(links.length_m[go], nan=VALVE_LENGTH_M), 1e-3)
    # Twins would be added up by the sparse array: the order of rows keeps the shortest.
    order = np.argsort(-length, kind="stable")
    pairs = {(int(links.start[e]), int(links.end[e])): length[i] for i, e in
             ((i, go[i]) for i in order)}  # fmt: skip
    ends = np.array(list(pairs), dtype=np.int64).reshape(-1, 2)
    graph = coo_array((list(pairs.values()), (ends[:, 0], ends[:, 1])), shape=(nodes, nodes))
    found: Numbers = dijkstra(graph.tocsr(), directed=False, indices=feeds, min_only=True)
    return found


def _turned(links: _Links, way_m: Numbers) -> _Links:
    """Reducing valves turned so that their end lies farther from the feed."""
    back = (links.kind == REDUCING) & (way_m[links.start] > way_m[links.end])
    start = np.where(back, links.end, links.start)
    end = np.where(back, links.start, links.end)
    return _Links(**{**links.__dict__, "start": start, "end": end})


def _bore_findings(ground: Ground) -> list[Finding]:
    bore = ground.pipes["diameter_mm"].to_numpy(dtype=float)
    return [
        error(
            "pipe-without-bore",
            f"pipes:{name}",
            f"Pipe {name} has no inside diameter above zero, so no water is let through it when "
            "pressures are solved.",
            "Enter its inside diameter.",
        )
        for name in ground.pipes.index[~(bore > 0)]
    ]


def _valve_findings(laid: _Laid) -> list[Finding]:
    valves = laid.ground.valves
    wanted = np.flatnonzero(_in_line(valves))
    away = [str(valves.index[row]) for row in np.setdiff1d(wanted, laid.valves.row)]
    unset = valves["kind"].eq("pressure_reducing") & valves["setting_kpa"].isna()
    findings = [
        warning(
            "valve-off-pipe",
            f"valves:{name}",
            f"Valve {name} stands on no pipe within {NEAR_M:.0f} m, so it does nothing when "
            "pressures are solved.",
            "Move it onto its pipe.",
        )
        for name in away
    ]
    return findings + [
        warning(
            "reducer-without-setting",
            f"valves:{name}",
            f"Reducing valve {name} has no pressure setting, so it is taken as wide open.",
            "Enter the pressure that it holds.",
        )
        for name in valves.index[unset]
    ]


def _left_out_findings(ground: Ground, left: list[str], shut: list[str]) -> list[Finding]:
    if not left:
        return []
    why = f" Shut valves: {some_ids(shut)}." if shut else ""
    return [
        warning(
            "heads-cut-off",
            f"heads:{left[0]}",
            f"{len(left)} of {len(ground.heads)} heads have no open way to a pump and are left "
            f"out of the solved network: {some_ids(left)}.{why}",
            "Draw the missing pipe, or open the valve in the record.",
        )
    ]


def _silent_findings(heads: tuple[str, ...], known: Flags) -> list[Finding]:
    silent = [name for name, told in zip(heads, known, strict=True) if not told]
    if not silent:
        return []
    return [
        warning(
            "heads-without-flow",
            f"heads:{silent[0]}",
            f"{len(silent)} heads have neither a usable nozzle nor a flow measured at a known "
            f"pressure, and take no water in the solved network: {some_ids(silent)}.",
            "Give each its nozzle.",
        )
    ]


def _elevations(laid: _Laid) -> Numbers:
    """Level of each node; a head's own where heads stand."""
    level = levels_at(laid.pieces.places, *known_levels(laid.ground))
    own = laid.ground.heads["elevation_m"].to_numpy(dtype=float)[laid.heads.row]
    node = laid.pieces.stand[: len(laid.heads.row)]
    told = np.isfinite(own)
    count = np.bincount(node[told], minlength=len(level))
    total = np.bincount(node[told], weights=own[told], minlength=len(level))
    return np.where(count > 0, total / np.maximum(count, 1), level)


def _reached(
    laid: _Laid, level: Numbers, feeds: tuple[Feed, ...], findings: list[Finding]
) -> tuple[HydraulicNetwork, list[Finding]]:
    """The part that feeds reach, its nodes numbered anew, and all doubts."""
    links = _links(laid)
    way = _way_m(links, len(level), np.array([feed.node for feed in feeds], dtype=np.int64))
    wet = np.isfinite(way)
    rows = np.flatnonzero(wet[links.start] & wet[links.end] & (links.start != links.end))
    number = np.cumsum(wet) - 1
    kept = _turned(links, way).kept(rows, number)
    ground, stands = laid.ground, laid.pieces.stand[: len(laid.heads.row)]
    on = wet[stands]
    head_rows = laid.heads.row[on]
    heads = ground.heads.iloc[head_rows]
    names = tuple(str(name) for name in heads.index)
    emitters = emitters_of(heads, ground.nozzles)
    left = sorted({str(name) for name in ground.heads.index} - set(names))
    shut = [str(name) for name in links.owner[~links.is_open]]
    network = HydraulicNetwork(
        places=laid.pieces.places[wet],
        elevation_m=level[wet],
        **kept.__dict__,
        heads=names,
        head_node=number[stands[on]],
        station=np.where(heads["station"].notna(), heads["station"], "").astype(object),
        emitters=emitters,
        feeds=tuple(replace(feed, node=int(number[feed.node])) for feed in feeds),
        left_out=frozenset(left),
    )
    return network, [
        *_bore_findings(ground),
        *_valve_findings(laid),
        *level_findings(ground, laid.stretches),
        *findings,
        *_left_out_findings(ground, left, shut),
        *_silent_findings(names, emitters.known),
    ]


def build_hydraulic_network(ground: Ground) -> tuple[HydraulicNetwork, list[Finding]]:
    """The network of a record, as it is solved for pressure, and what is doubtful about it.

    Pipes join as in `build_network`. Heads, pumps and valves stand on the nearest pipe, which is
    cut there: the water between the pipe and a head's own body loses nothing. Isolation and
    reducing valves are links; drains, air valves and couplers are not there. What no open
    way joins to a feed is left out and told. Pumps within 30 m that hold the same pressure are
    one feed. Doubts about joints are those of `check_pipes` and not told again.

    Args:
        ground: the record.

    Returns:
        The network and findings.

    Raises:
        UserError: no pipe with a bore, or no pump or source that gives water.
    """
    if not len(_placed(_shapes(ground.pipes))) or not (ground.pipes["diameter_mm"] > 0).any():
        raise UserError(
            "The record has no pipes with a place and an inside diameter, so pressures cannot "
            "be solved. Survey the pipes first."
        )
    laid = _lay(ground)
    level = _elevations(laid)
    nodes = dict(zip(
        (str(ground.table(laid.table).index[row]) for row in laid.feeds.row),
        laid.pieces.stand[len(laid.heads.row) :].tolist(), strict=True,
    ))  # fmt: skip
    feeds, findings = feeds_of(
        ground, laid.table, nodes, {name: float(level[node]) for name, node in nodes.items()}
    )
    if not feeds:
        told = " ".join(finding.message for finding in findings)
        raise UserError(
            "No pump or source that gives water stands on a pipe, so pressures cannot be solved. "
            f"{told} Give the pump station its place, and its curve or set pressure.".replace(
                "  ", " "
            )
        )
    return _reached(laid, level, feeds, findings)
