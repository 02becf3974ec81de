"""The station list as rows that can be compared: what each label, count and flow says."""

from __future__ import annotations

import re
from string import Formatter
from typing import Final

import pandas as pd

from nightwater.ground.number_rules import NumberRules
from nightwater.ground.shapes import texts
from nightwater.ground.station_lists import listed_names

_FIELD: Final = {"hole": r"[A-Za-z0-9]+?", "kind": r"[A-Za-z]+", "number": r"\d+"}
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
