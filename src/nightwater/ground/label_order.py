"""Labels as they stand, in the order in which the club's rules count them."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterator
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.ground.number_rules import NumberRules
from nightwater.ground.numbering import LABELLED, propose_numbers
from nightwater.ground.record import Ground

_GROUPS: Final = {
    "hole": r"(?P<hole>.+?)",
    "kind": r"(?P<kind>[^\W\d_]+)",
    "number": r"(?P<number>\d+)",
}


def label_pattern(rules: NumberRules) -> re.Pattern[str]:
    """What a label by the club's rules looks like, with groups hole, kind and number."""
    written = re.escape(rules.pattern)
    for name, group in _GROUPS.items():
        written = written.replace(re.escape("{" + name + "}"), group, 1)
    return re.compile(written)


def rising(numbers: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which members of a sequence are left when the fewest are taken out so that it rises.

    Args:
        numbers: shape (n,).

    Returns:
        Shape (n,), true for the members of one longest strictly rising subsequence.
    """
    tops: list[int] = []  # the smallest end of a rising run of each length
    ends: list[int] = []  # and its place
    before = np.full(len(numbers), -1, dtype=np.int64)
    for place, number in enumerate(numbers.tolist()):
        length = bisect_left(tops, number)
        tops[length : length + 1], ends[length : length + 1] = [number], [place]
        before[place] = ends[length - 1] if length else -1
    kept = np.zeros(len(numbers), dtype=bool)
    place = ends[-1] if ends else -1
    while place >= 0:
        kept[place] = True
        place = int(before[place])
    return kept


def out_of_order(numbers: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Which members stand in the way of a rising order: two exchanged ones, else the fewest.

    Args:
        numbers: shape (n,).

    Returns:
        Shape (n,).
    """
    displaced = np.argsort(np.argsort(numbers, kind="stable")) != np.arange(len(numbers))
    return np.asarray(displaced if displaced.sum() == 2 else ~rising(numbers))


def _as_proposed(rows: pd.DataFrame, rules: NumberRules) -> pd.DataFrame:
    """Rows whose label names the place and the letter that the rules give, with its number."""
    pattern, found = label_pattern(rules), []
    for label, proposed in zip(rows["label_now"], rows["label_proposed"], strict=True):
        written = label if isinstance(label, str) else ""
        now, then = pattern.fullmatch(written), pattern.fullmatch(proposed)
        alike = now and then and now["hole"].lstrip("0") == then["hole"].lstrip("0")
        if now and then and alike and now["kind"] == then["kind"]:
            found.append((then["kind"], int(now["number"])))
        else:
            found.append(("", -1))
    read = rows.assign(letter=[kind for kind, _ in found], number_now=[n for _, n in found])
    return read[read["letter"] != ""]


def _with_sides(rows: pd.DataFrame, rules: NumberRules) -> pd.DataFrame:
    """Odd and even are counted apart, where the rules count the two sides so."""
    schemes = [rules.rule(None, str(kind)).scheme for kind in rows["kind"]]
    by_side = np.array(schemes, dtype=object) == "odd_left_even_right"
    odd, odd_now = (rows[name].to_numpy() % 2 for name in ("number", "number_now"))
    return rows.assign(side=np.where(by_side, odd, 0), on_side=~by_side | (odd == odd_now))


def counted_alike(
    ground: Ground, rules: NumberRules, holes: pd.Series[Any] | None = None
) -> Iterator[pd.DataFrame]:
    """Heads, then stations, that the rules count together, each group in the rules' order.

    Labels that the rules do not read, or that name another place or kind, are left out.
    `holes` is the hole of each area, where it is known already.

    Returns:
        Rows of `propose_numbers` with letter, number_now (the number in the label) and on_side
        (whether it is odd or even as the rules want it, where they do).
    """
    labels = [label for table in LABELLED for label in ground.table(table)["label"].dropna()]
    if not any(label_pattern(rules).fullmatch(str(label)) for label in labels):
        return
    rows = _with_sides(_as_proposed(propose_numbers(ground, rules, holes), rules), rules)
    for _, like in rows.groupby(["table", "place", "letter", "side"], sort=False):
        yield like.sort_values("number", kind="stable")
