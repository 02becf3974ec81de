"""Which heads share a station, proposed where the record does not say."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import pandas as pd

from nightwater.findings import Finding, note
from nightwater.ground.head_pairs import candidate_pairs, matched
from nightwater.ground.linked import Linked
from nightwater.ground.number_rules import NumberRules
from nightwater.ground.order import head_order
from nightwater.ground.pair_rules import PairRules
from nightwater.ground.record import Ground

COLUMNS: Final = (
    *("heads", "place", "kind", "area", "order", "flow_l_s", "confidence", "reasons"),
)
_BY_RULE: Final = 0.95
_CLEAR_PAIR: Final = 0.9
_LEFT_OVER: Final = 0.5


@dataclass(frozen=True)
class StationProposal:
    """Stations that the record lacks.

    Attributes:
        rows: one a station, in the trade's order: heads (tuple of ids in that order), place
            (what stands for the hole), kind, area (of its first head), order (from 1 within
            place and kind), flow_l_s (of its heads; NaN where one is unknown), confidence
            (0 to 1) and reasons (in words).
        findings: heads that no station can be proposed for.
    """

    rows: pd.DataFrame
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class _Station:
    """A proposed station: places of its heads in the order, how sure, and why."""

    places: tuple[int, ...]
    confidence: float
    reasons: tuple[str, ...]


def _ordered_heads(
    ground: Ground, numbers: NumberRules, laterals: pd.Series[Any] | None
) -> pd.DataFrame:
    """Heads without a station in the trade's order, with what pairing compares."""
    order = head_order(ground, numbers)
    order = order.loc[ground.heads["station"].reindex(order.index).isna().to_numpy()]
    more = Linked(ground).heads.reindex(order.index)
    columns = ["nozzle", "arc_deg", "bearing_deg", "spacing_m", "throw_m", "flow_l_s"]
    lateral = "" if laterals is None else laterals.reindex(order.index).fillna("").astype(str)
    rank = order.groupby(["place", "kind", "side"], sort=False).cumcount()
    found: pd.DataFrame = order.assign(rank=rank, lateral=lateral)
    return found.join(more[columns])


def _singles(heads: pd.DataFrame, rules: PairRules) -> Iterator[_Station]:
    why = f"{heads['kind'].iloc[0]} heads run alone by the rules"
    yield from (_Station((place,), _BY_RULE, (why,)) for place in range(len(heads)))


def _pair(pair: Any, heads: pd.DataFrame, size: int, branched: bool) -> _Station:
    sure, reasons = _CLEAR_PAIR, [f"{pair.distance_m:.1f} m apart, {pair.share:.2f} × spacing"]
    one, other = (heads.iloc[place] for place in (pair.one, pair.other))
    if one["lateral"] and one["lateral"] == other["lateral"]:
        sure, reasons = sure + 0.08, [*reasons, "on one lateral"]
    if one["side"] == other["side"] and abs(one["rank"] - other["rank"]) == 1:
        reasons.append(f"next to each other in the {one['side'] or 'same'} row".replace("  ", " "))
    else:
        sure, reasons = sure - 0.2, [*reasons, "not next to each other in a row"]
    if np.isnan(one["flow_l_s"]):
        sure, reasons = sure - 0.2, [*reasons, "their flow is not known"]
    if size % 2:
        sure, reasons = sure - 0.3, [*reasons, f"{size} heads in the row: any could be the single"]
    if branched:
        sure, reasons = sure - 0.15, [*reasons, "other like heads stand as near"]
    return _Station((pair.one, pair.other), min(max(sure, 0.05), 0.99), tuple(reasons))


def _pairs(heads: pd.DataFrame, rules: PairRules) -> Iterator[_Station]:
    pairs = candidate_pairs(heads, rules)
    taken, size, branched = matched(len(heads), pairs)
    for pair in pairs[taken].itertuples(index=False):
        row = int(pair.one)  # type: ignore[arg-type]
        yield _pair(pair, heads, int(size[row]), bool(branched[row]))
    paired = pairs[["one", "other"]][taken].to_numpy()
    for place in np.setdiff1d(np.arange(len(heads)), paired).tolist():
        why = "the row has one head too many" if size[place] > 1 else "no like head in reach"
        yield _Station((place,), _LEFT_OVER, (why,))


def _zones(heads: pd.DataFrame, rules: PairRules) -> Iterator[_Station]:
    """All like heads of an area together, in even parts of at most `zone_heads`."""
    like = heads["flow_l_s"].round(3).astype(str) + heads["nozzle"].fillna("")
    for _, places in heads.assign(at=range(len(heads))).groupby(["area", like])["at"]:
        parts = np.array_split(places.to_numpy(), -(-len(places) // rules.zone_heads))
        why = f"{len(places)} like heads of one area in {len(parts)} zone"
        sure = _BY_RULE if len(parts) == 1 else 0.6
        for part in parts:
            yield _Station(tuple(int(at) for at in part), sure, (why + "s" * (len(parts) > 1),))


_GROUPED: Final = {"single": _singles, "pair": _pairs, "zone": _zones}


def _stations(heads: pd.DataFrame, rules: PairRules) -> Iterator[_Station]:
    """Stations of one kind and place; areas may group their heads in ways of their own."""
    named = zip(heads["kind"], heads["area"], strict=True)
    grouping = np.array([rules.grouping(str(kind), str(area)) for kind, area in named])
    for name in dict.fromkeys(grouping.tolist()):
        own = np.flatnonzero(grouping == name)
        for station in _GROUPED[name](heads.iloc[own], rules):
            yield replace(station, places=tuple(int(own[at]) for at in station.places))


def _rows(stations: list[_Station], heads: pd.DataFrame) -> pd.DataFrame:
    """Proposed stations of one place and kind as rows, in the order of their first heads."""
    ordered = sorted(stations, key=lambda station: station.places)
    names, flow = [str(head) for head in heads.index], heads["flow_l_s"].to_numpy(dtype=float)
    first = heads.iloc[[station.places[0] for station in ordered]]
    return pd.DataFrame(
        {
            "heads": [tuple(names[place] for place in s.places) for s in ordered],
            "place": first["place"].to_numpy(),
            "kind": first["kind"].to_numpy(),
            "area": first["area"].to_numpy(),
            "order": np.arange(1, len(ordered) + 1),
            "flow_l_s": [float(flow[list(s.places)].sum()) for s in ordered],
            "confidence": [round(s.confidence, 2) for s in ordered],
            "reasons": ["; ".join(s.reasons) for s in ordered],
        }
    )


def _left_out(ground: Ground, heads: pd.DataFrame) -> tuple[Finding, ...]:
    without = ground.heads.index[ground.heads["station"].isna()]
    return tuple(
        note(
            "head-not-grouped",
            f"heads:{head}",
            f"No station is proposed for head {head}: it stands nowhere, or waters no area.",
            "Place it on the map, or say which area it waters.",
        )
        for head in without.difference(heads.index)
    )


def propose_stations(
    ground: Ground,
    rules: PairRules,
    numbers: NumberRules | None = None,
    laterals: pd.Series[Any] | None = None,
) -> StationProposal:
    """Stations for the heads that have none: pairs along rows, singles, zones.

    Heads are paired within one kind and place where they stand within `rules.reach` of
    their spacing and are alike; among all ways to pair them the heaviest that leaves the
    fewest single is taken (maximum-weight matching), so the result is the same every time.

    Args:
        ground: the record; heads that name a station are left as they are.
        rules: which kinds are paired, and how alike two heads must be.
        numbers: the club's order, for the order of stations and for what a row is.
        laterals: head id → the lateral that feeds it, where known; two laterals are never
            one station.
    """
    heads = _ordered_heads(ground, numbers or NumberRules(), laterals)
    rows = [
        _rows(list(_stations(group, rules)), group)
        for _, group in heads.groupby(["place", "kind"], sort=False)
    ]
    none = pd.DataFrame(columns=list(COLUMNS))
    table = pd.concat(rows, ignore_index=True) if rows else none
    return StationProposal(table, _left_out(ground, heads))


def _new_ids(count: int, known: pd.Index[Any]) -> list[str]:
    """Ids of the form S0001 that no station bears or bore among these."""
    taken, number = set(known), 0
    fresh: list[str] = []
    while len(fresh) < count:
        number += 1
        if (name := f"S{number:04d}") not in taken:
            fresh.append(name)
    return fresh


def with_stations(ground: Ground, rows: pd.DataFrame) -> Ground:
    """The ground with proposed stations and their heads; evidence "guessed".

    Args:
        ground: the record that they were proposed for.
        rows: `StationProposal.rows`, all or some of them.
    """
    ids = _new_ids(len(rows), ground.stations.index)
    heads = ground.heads.copy()
    for name, members in zip(ids, rows["heads"], strict=True):
        heads.loc[list(members), "station"] = name
    new = pd.DataFrame(
        {
            "heads_listed": [len(members) for members in rows["heads"]],
            "flow_listed_l_s": rows["flow_l_s"].to_numpy(dtype=float),
            "evidence": "guessed",
        },
        index=ids,
    )
    stations = pd.concat([ground.stations.astype(object), new.astype(object)])
    return ground.with_table("heads", heads).with_table("stations", stations)
