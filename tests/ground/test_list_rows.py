"""What a station list says: labels read by the club's rules, counts, and how heads are grouped."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest

from nightwater.ground.list_rows import (
    label_parts,
    label_pattern,
    list_rows,
    pair_rules_of_list,
)
from nightwater.ground.number_rules import NumberRules
from nightwater.ground.record import conform
from nightwater.ground.tables import STATIONS

RULES = NumberRules()
CRS = "EPSG:32612"


def stations(*rows: dict[str, object]) -> pd.DataFrame:
    frame = pd.DataFrame(rows).set_index("id")
    return conform(frame, STATIONS, CRS)


@pytest.mark.parametrize(
    ("label", "parts"),
    [
        ("07-F-12", ("7", "F", 12.0)),
        (" 07-f-12 ", ("7", "F", 12.0)),
        ("P1-G-03", ("P1", "G", 3.0)),
        ("P-P-63", ("P", "P", 63.0)),
        ("18-R-101", ("18", "R", 101.0)),
    ],
)
def test_a_label_is_read_as_the_rules_write_it(label: str, parts: tuple[str, str, float]) -> None:
    assert label_parts(label, label_pattern(RULES)) == parts


@pytest.mark.parametrize("label", ["7F12", "07-F", "07-F-12a", "", None, float("nan"), "07-12-F"])
def test_a_label_of_another_form_says_nothing(label: object) -> None:
    place, letter, number = label_parts(label, label_pattern(RULES))
    assert (place, letter) == (None, None)
    assert np.isnan(number)


def test_a_pattern_of_the_clubs_own_is_read_back() -> None:
    rules = NumberRules(pattern="{kind}{number}/{hole}", number_width=3)
    for place, letter, number in (("7", "F", 12), ("P1", "G", 3), ("18", "R", 245)):
        label = rules.label(place, letter, number)
        assert label_parts(label, label_pattern(rules)) == (place, letter, float(number))


def test_signs_in_a_pattern_are_taken_as_they_stand() -> None:
    pattern = label_pattern(NumberRules(pattern="{hole}.{kind}.{number}"))
    assert label_parts("7.F.1", pattern)[0] == "7"
    assert label_parts("7xFx1", pattern)[0] is None


def test_counts_come_from_the_count_or_from_the_heads_named() -> None:
    rows = list_rows(
        stations(
            {"id": "S1", "label": "01-R-01", "heads_listed": 2, "heads": None},
            {"id": "S2", "label": "01-R-03", "heads_listed": None, "heads": "H1 H2; H3"},
            {"id": "S3", "label": None, "heads_listed": None, "heads": None},
        ),
        RULES,
    )
    assert rows["count"].tolist()[:2] == [2.0, 3.0]
    assert np.isnan(rows["count"]["S3"])
    assert rows["named"]["S2"] == ("H1", "H2", "H3")
    assert rows["label"]["S3"] is None


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


def test_too_many_areas_to_try_are_left_to_their_kind(
    order: Callable[..., pd.DataFrame],
) -> None:
    heads = order(*[("1", "R", "rough", f"r{n}", 2) for n in range(9)])
    assert pair_rules_of_list(heads, listed(*[("1", "R", 1)] * 2, *[("1", "R", 2)] * 8)).areas == {}
