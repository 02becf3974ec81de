"""The station list as rows that can be compared: what each label, count and flow says."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from itertools import product
from string import Formatter
from typing import Any, Final

import pandas as pd

from nightwater.ground.number_rules import NumberRules
from nightwater.ground.pair_rules import PairRules
from nightwater.ground.shapes import texts
from nightwater.ground.station_lists import listed_names

_FIELD: Final = {"hole": r"[A-Za-z0-9]+?", "kind": r"[A-Za-z]+", "number": r"\d+"}
_MOST_AREAS: Final = 8  # of one place and letter: all 256 ways to group them are tried
COLUMNS: Final = (
    *("label", "place", "letter", "number", "count", "flow_l_s", "named", "controller", "output"),
)


def label_pattern(rules: NumberRules) -> re.Pattern[str]:
    """What a label of these rules looks like, with groups hole, kind and number."""
    written = ""
    for literal, name, _, _ in Formatter().parse(rules.pattern):
        written += re.escape(literal)
        written += f"(?P<{name}>{_FIELD[name]})" if name else ""
    return re.compile(written, re.IGNORECASE)


def label_parts(label: object, pattern: re.Pattern[str]) -> tuple[str | None, str | None, float]:
    """Place, letter and number that a label says; None and NaN where it is of another form."""
    match = pattern.fullmatch(label.strip()) if isinstance(label, str) else None
    if match is None:
        return None, None, float("nan")
    parts = match.groupdict()
    place = parts.get("hole")
    if place is not None and place.isdigit():
        place = str(int(place))
    letter = parts.get("kind")
    return place, letter.upper() if letter else None, float(parts.get("number") or "nan")


def list_rows(stations: pd.DataFrame, rules: NumberRules) -> pd.DataFrame:
    """The station list, one row a station, as far as its labels follow the rules.

    Args:
        stations: the record's stations.
        rules: the club's way to write labels.

    Returns:
        Index = station id; label, place (None where the label does not say), letter,
        number, count (listed heads, NaN where not listed), flow_l_s, named (tuple of the
        heads that the list names), controller, output.
    """
    pattern = label_pattern(rules)
    labels = texts(stations, "label")
    parts = [label_parts(label, pattern) for label in labels]
    rows = pd.DataFrame(parts, columns=["place", "letter", "number"], index=stations.index)
    named = [tuple(listed_names(text)) for text in stations["heads"]]
    count = stations["heads_listed"].astype(float)
    by_name = pd.Series([len(names) or float("nan") for names in named], stations.index)
    return rows.assign(
        label=pd.Series(labels, stations.index, dtype=object),
        count=count.fillna(by_name),
        flow_l_s=stations["flow_listed_l_s"].astype(float),
        named=pd.Series(named, index=stations.index, dtype=object),
        controller=stations["controller"],
        output=stations["output"].astype(float),
    )[list(COLUMNS)]


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
    if fit(best) >= fit((usual,) * len(names)):
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
