"""How the station list groups heads: what it counts, against what the ground would allow."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from itertools import product
from typing import Any, Final

import pandas as pd

from nightwater.ground.pair_rules import PairRules
from nightwater.ground.pairing import StationProposal

_MOST_AREAS: Final = 8  # of one place and letter: all 256 ways to group them are tried
_MORE_THAN_A_FAULT: Final = 3  # rows: two single heads for a pair; one wrong count explains 1
_SURE_BY_LIST: Final = 0.9


def _grouping(counts: Counter[float]) -> str:
    usual = counts.most_common(1)[0][0]
    return {1.0: "single", 2.0: "pair"}.get(usual, "zone")


def _counts(listed: pd.DataFrame, key: list[str]) -> Mapping[Any, Counter[float]]:
    """How many rows list how many heads, by place or letter."""
    known = listed.dropna(subset=[*key, "count"])
    return {
        name[0] if len(key) == 1 else name: Counter(rows["count"].tolist())
        for name, rows in known.groupby(key)
    }


def _stations_of(heads: int, grouping: str) -> Counter[float]:
    """Counts of the stations that so many heads of an area make, alone or in pairs."""
    if grouping == "single":
        return Counter({1.0: heads})
    return Counter({2.0: heads // 2, 1.0: heads % 2})


def _unlike(one: Counter[float], other: Counter[float]) -> int:
    return sum(abs(one[count] - other[count]) for count in {*one, *other})


def _mixed(areas: pd.Series[Any], counts: Counter[float], usual: str) -> dict[str, str]:
    """Groupings of areas that share a place and letter, such that the list's counts come out.

    Nothing where the areas are too many to try, or the usual grouping fits as well.
    """
    names, heads = list(areas.index), areas.tolist()
    if len(names) < 2 or len(names) > _MOST_AREAS or usual == "zone":
        return {}

    def fit(choice: tuple[str, ...]) -> int:
        made: Counter[float] = Counter()
        for number, grouping in zip(heads, choice, strict=True):
            made += _stations_of(number, grouping)
        return _unlike(made, counts)

    best = min(product(("single", "pair"), repeat=len(names)), key=fit)
    if fit((usual,) * len(names)) - fit(best) < _MORE_THAN_A_FAULT:
        return {}
    return {name: own for name, own in zip(names, best, strict=True) if own != usual}


def pair_rules_of_list(
    order: pd.DataFrame, listed: pd.DataFrame, usual: PairRules | None = None
) -> PairRules:
    """How the list groups heads: per kind what most of its rows count, and areas apart from it.

    Args:
        order: `order.head_order`: the heads with place, letter, kind and area.
        listed: `list_rows`.
        usual: rules for kinds that the list does not tell; reach and tolerances.
    """
    base = usual or PairRules()
    by_letter = _counts(listed, ["letter"])
    kinds, areas = dict(base.kinds), dict(base.areas)
    for (kind, letter), _ in order.groupby(["kind", "letter"]):
        if str(letter).upper() in by_letter:
            kinds[str(kind)] = _grouping(by_letter[str(letter).upper()])
    by_place = _counts(listed, ["place", "letter"])
    for (place, letter, kind), heads in order.groupby(["place", "letter", "kind"]):
        counts = by_place.get((place, str(letter).upper()))
        if counts is not None:
            areas |= _mixed(heads["area"].value_counts().sort_index(), counts, kinds[str(kind)])
    return PairRules(**(base.as_plain() | {"kinds": kinds, "areas": areas}))


def _singles_listed(listed: pd.DataFrame) -> set[tuple[str, str, float]]:
    """Place, letter and number of each row that counts one head, told once."""
    known = listed.dropna(subset=["place", "letter", "number"])
    known = known[(known["count"] == 1.0) & ~known["label"].duplicated(keep=False)]
    return set(zip(known["place"], known["letter"], known["number"], strict=True))


def _split(row: Mapping[str, Any], flow_l_s: pd.Series[float]) -> Iterator[dict[str, Any]]:
    for head in row["heads"]:
        yield dict(row) | {
            "heads": (head,),
            "flow_l_s": float(flow_l_s.get(head, float("nan"))),
            "confidence": _SURE_BY_LIST,
            "reasons": "the list has a row of one head for each of two neighbours",
        }


def split_by_list(
    proposal: StationProposal,
    order: pd.DataFrame,
    listed: pd.DataFrame,
    flow_l_s: pd.Series[float],
) -> StationProposal:
    """Pairs taken apart where the list has a row of one head for the number of each.

    A pair bears its first head's number, so its second head's number has no row of its own
    unless both run alone.

    Args:
        proposal: stations proposed.
        order: `order.head_order`: each head's place, letter and number.
        listed: `list_rows`.
        flow_l_s: flow of each head.
    """
    alone = _singles_listed(listed)
    own = {
        str(head): (place, str(letter).upper(), float(number))
        for head, place, letter, number in zip(
            order.index, order["place"], order["letter"], order["number"], strict=True
        )
    }
    rows: list[dict[str, Any]] = []
    for record in proposal.rows.to_dict("records"):
        row = {str(key): value for key, value in record.items()}
        apart = len(row["heads"]) == 2 and all(own.get(head) in alone for head in row["heads"])
        rows += _split(row, flow_l_s) if apart else [row]
    table = pd.DataFrame(rows, columns=proposal.rows.columns)
    table["order"] = table.groupby(["place", "kind"], sort=False).cumcount() + 1
    return StationProposal(table, proposal.findings)
