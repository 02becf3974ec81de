"""What ground and station list say differently, as findings."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import pandas as pd

from nightwater.findings import Finding, note, warning
from nightwater.ground.reconcile import DOUBTFUL, NO_HEADS, NO_ROW, Reconciliation

_FLOW_SHARE: Final = 0.10
_HABIT: Final = 0.8  # share of stations whose outputs rise with numbers, from which it is a habit


def _records(rows: pd.DataFrame) -> Iterator[dict[str, Any]]:
    for row in rows.to_dict("records"):
        yield {str(key): value for key, value in row.items()}


def _called(row: Any) -> str:
    return str(row["label"]) if isinstance(row["label"], str) else str(row["station"])


def _labels_twice(listed: pd.DataFrame) -> Iterator[Finding]:
    known = listed[listed["label"].notna()]
    for label, same in known[known["label"].duplicated(keep=False)].groupby("label"):
        first, *others = (str(station) for station in same.index)
        yield warning(
            "list-label-twice",
            f"stations:{others[0]}",
            f"The list calls {len(same)} stations {label}: {', '.join((first, *others))}.",
            "Run both, see what they water, and correct the label of the wrong one.",
        )


def _alone(rows: pd.DataFrame) -> Iterator[Finding]:
    for row in _records(rows[rows["verdict"] == NO_HEADS]):
        yield warning(
            "list-row-without-heads",
            f"stations:{row['station']}",
            f"Row {_called(row)} of the station list fits no heads in the ground.",
            "Look whether its heads are surveyed, or the row is a spare or twice on the list.",
        )
    for row in _records(rows[rows["verdict"] == NO_ROW]):
        first = row["heads"][0]
        yield warning(
            "heads-without-row",
            f"heads:{first}",
            f"On {row['place']} no row of the station list fits {', '.join(row['heads'][:4])}.",
            "Find the output that fires it and add it to the list.",
        )


def _counts(rows: pd.DataFrame) -> Iterator[Finding]:
    differs = rows["count"].notna() & rows["count_listed"].notna()
    for row in _records(rows[differs & (rows["count"] != rows["count_listed"])]):
        yield warning(
            "list-count-differs",
            f"stations:{row['station']}",
            f"Station {_called(row)} lists {row['count_listed']:.0f} heads; {row['count']:.0f} "
            f"stand in the ground: {', '.join(row['heads'][:6])}.",
            "Run it, count the heads that rise, and correct the list or the heads.",
        )


def _flows(rows: pd.DataFrame) -> Iterator[Finding]:
    share = rows["flow_l_s"] / rows["flow_listed_l_s"] - 1.0
    same_count = (rows["count"] == rows["count_listed"]) | rows["count_listed"].isna()
    for row in _records(rows.assign(share=share)[(share.abs() > _FLOW_SHARE) & same_count]):
        yield warning(
            "list-flow-differs",
            f"stations:{row['station']}",
            f"Station {_called(row)} lists {row['flow_listed_l_s']:.2f} L/s; its heads add to "
            f"{row['flow_l_s']:.2f} L/s ({row['share']:+.0%}).",
            "Check nozzles and count of heads; the heads' flow counts meanwhile.",
        )


def _doubtful(rows: pd.DataFrame) -> Iterator[Finding]:
    unsure = rows[(rows["verdict"] == DOUBTFUL) & (rows["count"] == rows["count_listed"])]
    steps = (unsure["number"] - unsure["number_listed"]).abs()
    for row in _records(unsure[steps > 0]):
        yield note(
            "list-match-doubtful",
            f"stations:{row['station']}",
            f"Station {_called(row)} is matched with heads that would be number "
            f"{row['number']:.0f}; next best is {row['runner_up']}.",
            "Accept it, or choose the other on the map.",
        )


def _in_wiring_order(listed: pd.DataFrame) -> Iterator[pd.DataFrame]:
    """Stations of one controller, place and letter by number, where outputs are known.

    A label that two bear stands for nothing here; it is told by itself.
    """
    known = listed.dropna(subset=["controller", "place", "letter", "number", "output"])
    known = known[~known["label"].duplicated(keep=False)]
    for _, group in known.groupby(["controller", "place", "letter"], sort=False):
        yield group.sort_values("number", kind="stable")


def _cycles(places: list[int]) -> list[list[int]]:
    """Cycles of a permutation, those of one left out."""
    seen: set[int] = set()
    cycles = []
    for start in range(len(places)):
        cycle, at = [], start
        while at not in seen:
            seen.add(at)
            cycle.append(at)
            at = places[at]
        if len(cycle) > 1:
            cycles.append(cycle)
    return cycles


def _displaced(listed: pd.DataFrame) -> list[list[str]]:
    """Stations whose outputs would have to change places for outputs to rise with numbers.

    Two are an exchange, more a mixed order. Nothing where rising is not the list's habit.
    """
    found, displaced, total = [], 0, 0
    for group in _in_wiring_order(listed):
        rank = group["output"].rank(method="first").astype(int) - 1
        cycles = _cycles(rank.tolist())
        found += [[str(group.index[at]) for at in cycle] for cycle in cycles]
        displaced, total = displaced + sum(map(len, cycles)), total + len(group)
    return found if total and displaced <= (1 - _HABIT) * total else []


def _swapped_names(reconciled: Reconciliation) -> set[tuple[str, str]]:
    """Rows that name each other's heads."""
    rows = reconciled.rows.dropna(subset=["station"]).set_index("station")
    holder = {head: str(key) for key, heads in rows["heads"].items() for head in heads}
    points: dict[str, str] = {}
    for station, names in reconciled.listed["named"].items():
        at = {holder[name] for name in names if name in holder}
        if len(at) == 1 and (other := at.pop()) != str(station):
            points[str(station)] = other
    return {
        (one, other) if one < other else (other, one)
        for one, other in points.items()
        if points.get(other) == one
    }


def _swap(one: str, other: str, label: pd.Series[Any], why: str) -> Finding:
    return warning(
        "list-neighbours-swapped",
        f"stations:{one}",
        f"Stations {label[one]} and {label[other]} are likely exchanged on the list: {why}.",
        "Run both, see which heads rise, and exchange their labels or outputs.",
    )


def _swaps(reconciled: Reconciliation) -> Iterator[Finding]:
    label, told = reconciled.listed["label"], set()
    for one, other in sorted(_swapped_names(reconciled)):
        told.add(frozenset((one, other)))
        yield _swap(one, other, label, "each names the other's heads")
    for cycle in _displaced(reconciled.listed):
        if len(cycle) == 2 and frozenset(cycle) not in told:
            why = "their outputs run against their numbers, where nearly all others' run with them"
            yield _swap(min(cycle), max(cycle), label, why)
        elif len(cycle) > 2:
            names = ", ".join(str(label[station]) for station in sorted(cycle))
            yield note(
                "list-order-mixed",
                f"stations:{min(cycle)}",
                f"The outputs of {names} do not rise with their numbers, as nearly all others do.",
                "Run them one after the other and see which heads rise.",
            )


def list_doubts(reconciled: Reconciliation) -> list[Finding]:
    """Everything on which ground and list disagree.

    Returns:
        Findings: list-label-twice, list-row-without-heads, heads-without-row,
        list-count-differs, list-flow-differs, list-neighbours-swapped, list-order-mixed,
        list-match-doubtful.
    """
    rows = reconciled.rows
    return [
        *_labels_twice(reconciled.listed),
        *_alone(rows),
        *_counts(rows),
        *_flows(rows),
        *_swaps(reconciled),
        *_doubtful(rows),
    ]
