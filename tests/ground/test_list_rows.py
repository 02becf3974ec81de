"""What a station list says: labels read by the club's rules, counts and names."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from nightwater.ground.list_rows import label_parts, label_pattern, list_rows
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
