"""How a list groups heads: kinds by their counts, areas apart, pairs that are none."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd
import pytest

from nightwater.ground.list_grouping import pair_rules_of_list, split_by_list
from nightwater.ground.pairing import COLUMNS, StationProposal


@pytest.fixture
def order() -> Callable[..., pd.DataFrame]:
    """Heads as `head_order` gives them: so many of each (place, letter, kind, area)."""

    def made(*groups: tuple[str, str, str, str, int]) -> pd.DataFrame:
        rows = [
            {"place": place, "letter": letter, "kind": kind, "area": area}
            for place, letter, kind, area, count in groups
            for _ in range(count)
        ]
        return pd.DataFrame(rows)

    return made


def listed(*rows: tuple[str, str, int]) -> pd.DataFrame:
    """Rows of a list: place, letter and count of each."""
    return pd.DataFrame(rows, columns=["place", "letter", "count"]).astype({"count": float})


def test_kinds_are_grouped_as_most_rows_of_the_list_say(
    order: Callable[..., pd.DataFrame],
) -> None:
    heads = order(("1", "F", "fairway", "01-f", 6), ("1", "R", "rough", "01-r", 8))
    rows = listed(*[("1", "F", 1)] * 5, ("1", "F", 2), *[("1", "R", 2)] * 4)
    rules = pair_rules_of_list(heads, rows)
    assert (rules.grouping("fairway"), rules.grouping("rough")) == ("single", "pair")
    assert rules.grouping("tee") == "pair"  # the list says nothing of tees


def test_zones_are_known_by_their_counts(order: Callable[..., pd.DataFrame]) -> None:
    heads = order(("C", "Z", "grounds", "lawn", 16))
    assert pair_rules_of_list(heads, listed(*[("C", "Z", 8)] * 2)).grouping("grounds") == "zone"


def test_an_area_apart_from_its_kind_is_found_by_the_counts(
    order: Callable[..., pd.DataFrame],
) -> None:
    """Range in pairs, short game alone: 8 pairs and 4 singles are possible in no other way."""
    heads = order(("P", "P", "practice", "range", 16), ("P", "P", "practice", "short", 4))
    rows = listed(*[("P", "P", 2)] * 8, *[("P", "P", 1)] * 4)
    rules = pair_rules_of_list(heads, rows)
    assert rules.areas == {"short": "single"}
    assert rules.grouping("practice", "short") == "single"
    assert rules.grouping("practice", "range") == "pair"


def test_a_list_with_one_wrong_count_changes_no_area(
    order: Callable[..., pd.DataFrame],
) -> None:
    heads = order(("1", "R", "rough", "west", 10), ("1", "R", "rough", "east", 6))
    rows = listed(*[("1", "R", 2)] * 7, ("1", "R", 1))
    assert pair_rules_of_list(heads, rows).areas == {}


def test_two_heads_alone_are_told_from_one_wrong_count(
    order: Callable[..., pd.DataFrame],
) -> None:
    """Three tees of two heads: a row of one is a fault, two rows of one are a tee apart."""
    heads = order(*[("1", "T", "tee", f"tee-{n}", 2) for n in (1, 2, 3)])
    fault = listed(*[("1", "T", 2)] * 2, ("1", "T", 1))
    assert pair_rules_of_list(heads, fault).areas == {}
    apart = listed(*[("1", "T", 2)] * 2, *[("1", "T", 1)] * 2)
    assert len(pair_rules_of_list(heads, apart).areas) == 1


def test_too_many_areas_to_try_are_left_to_their_kind(
    order: Callable[..., pd.DataFrame],
) -> None:
    heads = order(*[("1", "R", "rough", f"r{n}", 2) for n in range(9)])
    assert pair_rules_of_list(heads, listed(*[("1", "R", 1)] * 2, *[("1", "R", 2)] * 8)).areas == {}


# Pairs that are none


def rough(*numbers: int) -> pd.DataFrame:
    """Heads of one rough in their order, H1, H2 … with these numbers."""
    rows = [{"place": "P", "letter": "p", "kind": "practice", "number": n} for n in numbers]
    return pd.DataFrame(rows, index=[f"H{n}" for n in numbers])


def proposed(*stations: tuple[str, ...]) -> StationProposal:
    rows = [
        dict.fromkeys(COLUMNS) | {"heads": heads, "place": "P", "kind": "practice", "order": n}
        for n, heads in enumerate(stations, 1)
    ]
    return StationProposal(pd.DataFrame(rows, columns=list(COLUMNS)))


def rows_of(*rows: tuple[int, int]) -> pd.DataFrame:
    """List rows: number and count."""
    made = [
        {"label": f"P-P-{n}", "place": "P", "letter": "P", "number": float(n), "count": float(c)}
        for n, c in rows
    ]
    return pd.DataFrame(made)


FLOW = pd.Series({f"H{n}": float(n) for n in range(1, 9)})


def test_a_pair_is_split_where_both_numbers_have_a_row_of_one() -> None:
    found = split_by_list(
        proposed(("H1", "H2"), ("H3", "H4")),
        rough(1, 2, 3, 4),
        rows_of((1, 2), (3, 1), (4, 1)),
        FLOW,
    )
    assert found.rows["heads"].tolist() == [("H1", "H2"), ("H3",), ("H4",)]
    assert found.rows["order"].tolist() == [1, 2, 3]
    assert found.rows["flow_l_s"].tolist()[1:] == [3.0, 4.0]


@pytest.mark.parametrize(
    "rows",
    [
        ((1, 2), (3, 2)),  # both pairs
        ((1, 2), (3, 1)),  # a wrong count has no second row
        ((1, 2), (4, 1)),
        (),
    ],
)
def test_less_evidence_leaves_a_pair_together(rows: tuple[tuple[int, int], ...]) -> None:
    pairs = proposed(("H1", "H2"), ("H3", "H4"))
    listed = rows_of(*rows) if rows else rows_of((9, 1))
    found = split_by_list(pairs, rough(1, 2, 3, 4), listed, FLOW)
    assert found.rows["heads"].tolist() == [("H1", "H2"), ("H3", "H4")]


def test_a_label_that_two_rows_bear_is_no_evidence() -> None:
    listed = rows_of((3, 1), (4, 1), (4, 1))
    found = split_by_list(proposed(("H3", "H4")), rough(3, 4), listed, FLOW)
    assert found.rows["heads"].tolist() == [("H3", "H4")]
