"""Stations proposed from the ground against the rows of the station list."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from nightwater.findings import UserError
from nightwater.ground.list_rows import list_rows
from nightwater.ground.number_rules import NumberRules
from nightwater.ground.order import head_order
from nightwater.ground.pairing import StationProposal
from nightwater.ground.record import Ground

Numbers = NDArray[np.float64]

AGREES: Final = "agrees"
DOUBTFUL: Final = "doubtful"
NO_ROW: Final = "no row"
NO_HEADS: Final = "no heads"
COLUMNS: Final = (
    "station", "label", "heads", "place", "letter", "number", "number_listed", "count",
    "count_listed", "flow_l_s", "flow_listed_l_s", "cost", "runner_up", "runner_up_cost", "verdict",
)  # fmt: skip

_TEXTS: Final = ("station", "label", "place", "letter", "runner_up")


@dataclass(frozen=True)
class MatchCosts:
    """What each disagreement of a station and a row of the list costs (no source).

    Attributes:
        place, letter: another hole; another kind of ground.
        unread: a label of which place or letter cannot be read.
        step, most_steps: a number that differs by one; the most for any difference.
        head, most_heads: a head too many or too few; the most for any count.
        flow_from, flow, most_flow: a flow that differs by more than this share costs this
            much per whole; the most for any flow.
        name: no head of the station is among those that the row names.
        alone: a station without a row, and a row without heads, each. A match that costs
            as much as leaving both alone is none.
        clear: a match whose runner-up costs less than this more is doubtful.
    """

    place: float = 6.0
    letter: float = 4.0
    unread: float = 1.0
    step: float = 0.4
    most_steps: float = 3.0
    head: float = 1.0
    most_heads: float = 2.0
    flow_from: float = 0.05
    flow: float = 2.0
    most_flow: float = 1.5
    name: float = 5.0
    alone: float = 3.0
    clear: float = 0.3


@dataclass(frozen=True)
class Reconciliation:
    """What ground and list say of each other.

    Attributes:
        rows: one a station or row of the list: station (id; None where heads have no row),
            label, heads (tuple of ids, empty where a row has none), place, letter, number
            and number_listed, count and count_listed, flow_l_s and flow_listed_l_s, cost (NaN
            where unmatched), runner_up (the id of the row that would fit next best) and
            runner_up_cost, verdict ("agrees", "doubtful", "no row", "no heads").
        listed: `list_rows`.
    """

    rows: pd.DataFrame
    listed: pd.DataFrame


def expected_stations(
    ground: Ground, proposal: StationProposal, rules: NumberRules
) -> pd.DataFrame:
    """Proposed stations with the label that the rules would give each.

    A station bears the number of its first head, or its own where the rule says so.

    Returns:
        One row a station: heads, place, letter, number, count, flow_l_s.
    """
    order = head_order(ground, rules)
    rows = proposal.rows
    first = order.reindex([heads[0] for heads in rows["heads"]])
    rule = [rules.rule(str(a), str(k)) for a, k in zip(first["area"], first["kind"], strict=True)]
    own = np.array([r.station_number == "own_order" for r in rule], dtype=bool)
    start = np.array([r.start for r in rule], dtype=float)
    number = np.where(
        own, rows["order"].to_numpy(dtype=float) - 1 + start, first["number"].to_numpy(dtype=float)
    )
    return pd.DataFrame(
        {
            "heads": rows["heads"].to_numpy(),
            "place": first["place"].to_numpy(),
            "letter": first["letter"].str.upper().to_numpy(),
            "number": number,
            "count": [float(len(heads)) for heads in rows["heads"]],
            "flow_l_s": rows["flow_l_s"].to_numpy(dtype=float),
        }
    )


def _unlike(one: pd.Series[Any], other: pd.Series[Any], apart: float, unread: float) -> Numbers:
    left, right = one.to_numpy(dtype=object), other.to_numpy(dtype=object)
    cost: Numbers = np.where(left[:, None] == right[None, :], 0.0, apart)
    cost[:, pd.isna(right)] = unread
    return cost


def _apart(one: pd.Series[Any], other: pd.Series[Any]) -> Numbers:
    left, right = one.to_numpy(dtype=float), other.to_numpy(dtype=float)
    apart: Numbers = np.abs(left[:, None] - right[None, :])
    return apart


def _number_cost(expected: pd.DataFrame, listed: pd.DataFrame, costs: MatchCosts) -> Numbers:
    steps = np.minimum(costs.step * _apart(expected["number"], listed["number"]), costs.most_steps)
    return np.where(np.isnan(steps), costs.unread, steps)


def _count_cost(expected: pd.DataFrame, listed: pd.DataFrame, costs: MatchCosts) -> Numbers:
    heads = np.minimum(costs.head * _apart(expected["count"], listed["count"]), costs.most_heads)
    return np.nan_to_num(heads)


def _flow_cost(expected: pd.DataFrame, listed: pd.DataFrame, costs: MatchCosts) -> Numbers:
    share = _apart(expected["flow_l_s"], listed["flow_l_s"]) / np.maximum(
        listed["flow_l_s"].to_numpy(dtype=float)[None, :], 1e-9
    )
    over = np.where(share > costs.flow_from, np.minimum(costs.flow * share, costs.most_flow), 0.0)
    return np.nan_to_num(over)


def _name_cost(
    expected: pd.DataFrame, listed: pd.DataFrame, ground: Ground, costs: MatchCosts
) -> Numbers:
    """Rows that name heads fit no station without any of them."""
    cost = np.zeros((len(expected), len(listed)))
    owner = {head: row for row, heads in enumerate(expected["heads"]) for head in heads}
    for head, label in ground.heads["label"].items():
        if isinstance(label, str) and head in owner:
            owner.setdefault(label, owner[str(head)])
    for column, names in enumerate(listed["named"]):
        rows = {owner[name] for name in names if name in owner}
        if names:
            cost[:, column] = costs.name
            cost[list(rows), column] = 0.0
    return cost


def match_costs(
    expected: pd.DataFrame, listed: pd.DataFrame, ground: Ground, costs: MatchCosts
) -> Numbers:
    """Cost of every station with every row of the list, shape (stations, rows)."""
    return (
        _unlike(expected["place"], listed["place"], costs.place, costs.unread)
        + _unlike(expected["letter"], listed["letter"], costs.letter, costs.unread)
        + _number_cost(expected, listed, costs)
        + _count_cost(expected, listed, costs)
        + _flow_cost(expected, listed, costs)
        + _name_cost(expected, listed, ground, costs)
    )


def _assigned(cost: Numbers, costs: MatchCosts) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The cheapest matching of all; a pair that costs as much as two left alone is none."""
    most = 2 * costs.alone
    station, row = linear_sum_assignment(np.minimum(cost, most))
    sound = cost[station, row] < most
    return station[sound], row[sound]


def _runner_up(cost: Numbers, station: int, row: int) -> tuple[int, float]:
    """The row that would fit a station next best, and what it would cost."""
    others = cost[station].copy()
    others[row] = np.inf
    best = int(np.argmin(others))
    return best, float(others[best])


def _matched_rows(
    expected: pd.DataFrame, listed: pd.DataFrame, cost: Numbers, costs: MatchCosts
) -> list[dict[str, Any]]:
    found = []
    for station, row in zip(*_assigned(cost, costs), strict=True):
        own = float(cost[station, row])
        next_best, next_cost = (
            _runner_up(cost, int(station), int(row)) if len(listed) > 1 else (int(row), np.inf)
        )
        clear = own == 0.0 or (own < costs.head and next_cost - own >= costs.clear)
        found.append(
            _row(expected.iloc[station], listed.iloc[row], str(listed.index[row]))
            | {
                "cost": round(own, 6),
                "runner_up": str(listed.index[next_best]),
                "runner_up_cost": round(next_cost, 6),
                "verdict": AGREES if clear else DOUBTFUL,
                "at": int(station),
            }
        )
    return found


def _row(
    expected: pd.Series[Any] | None, listed: pd.Series[Any] | None, station: str | None
) -> dict[str, Any]:
    missing = {"place": None, "letter": None, "number": np.nan, "count": np.nan, "flow_l_s": np.nan}
    ours: Any = missing | {"heads": ()} if expected is None else expected
    theirs: Any = missing | {"label": None} if listed is None else listed
    return {
        "station": station,
        "label": theirs["label"],
        "heads": tuple(ours["heads"]),
        "place": theirs["place"] if expected is None else ours["place"],
        "letter": theirs["letter"] if expected is None else ours["letter"],
        "number": ours["number"],
        "number_listed": theirs["number"],
        "count": ours["count"],
        "count_listed": theirs["count"],
        "flow_l_s": ours["flow_l_s"],
        "flow_listed_l_s": theirs["flow_l_s"],
    }


def reconcile(
    ground: Ground,
    proposal: StationProposal,
    rules: NumberRules,
    costs: MatchCosts | None = None,
) -> Reconciliation:
    """Match proposed stations with the rows of the station list, all at once.

    Every disagreement – hole, kind, number, count of heads, flow, heads named – has a cost;
    the matching with the least sum is taken (linear sum assignment, Jonker and Volgenant 1987),
    and stations or rows that fit nothing are left alone.

    Args:
        ground: the record; its stations are the list.
        proposal: stations proposed for heads that have none.
        rules: how the club counts and writes labels.
        costs: what disagreements cost.
    """
    costs = costs or MatchCosts()
    listed = list_rows(ground.stations, rules)
    expected = expected_stations(ground, proposal, rules)
    cost = match_costs(expected, listed, ground, costs)
    found = _matched_rows(expected, listed, cost, costs) if cost.size else []
    taken = {row["station"] for row in found}
    placed = {row.pop("at") for row in found}
    alone = {"cost": np.nan, "runner_up": None, "runner_up_cost": np.nan}
    for place in range(len(expected)):
        if place not in placed:
            found.append(_row(expected.iloc[place], None, None) | alone | {"verdict": NO_ROW})
    for place, station in enumerate(listed.index):
        if str(station) not in taken:
            row = _row(None, listed.iloc[place], str(station))
            found.append(row | alone | {"verdict": NO_HEADS})
    rows = pd.DataFrame(found, columns=list(COLUMNS))
    for column in _TEXTS:  # a missing text is None, not NaN
        rows[column] = rows[column].astype(object).where(rows[column].notna(), None)
    return Reconciliation(rows, listed)


def with_matches(ground: Ground, rows: pd.DataFrame, places: Iterable[str] | None = None) -> Ground:
    """The ground with the heads of matched rows on their stations.

    Args:
        ground: the record that was reconciled.
        rows: `Reconciliation.rows`, all or those that a person accepts.
        places: only these holes (what stands for the hole); all where not given.

    Raises:
        UserError: a row names a head or station that the record does not have.
    """
    wanted = rows[rows["station"].notna() & (rows["heads"].map(len) > 0)]
    if places is not None:
        wanted = wanted[wanted["place"].isin(list(places))]
    heads = ground.heads.copy()
    for station, members in zip(wanted["station"], wanted["heads"], strict=True):
        lost = [head for head in members if head not in heads.index]
        if lost or station not in ground.stations.index:
            raise UserError(
                f"The match of station {station} names {', '.join(lost) or station}, which the "
                "record does not have. It has changed: reconcile again."
            )
        heads.loc[list(members), "station"] = station
    return ground.with_table("heads", heads)
