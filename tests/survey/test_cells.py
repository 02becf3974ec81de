"""A cell of somebody's file as a value, or the reason why not."""

from __future__ import annotations

import math
from datetime import date, datetime
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.ground.tables import TABLES
from nightwater.survey.cells import BadCellError, cell_value, is_missing
from nightwater.survey.source_files import written_number


def value(cell: Any, name: str, unit: str | None = None, *, comma: bool = False) -> Any:
    table, column = name.split(".")
    return cell_value(cell, TABLES[table].by_name[column], unit, decimal_comma=comma)


@pytest.mark.parametrize(
    ("cell", "name", "expected"),
    [
        ("90", "heads.arc_deg", 90.0),
        (" 90.5 ", "heads.arc_deg", 90.5),
        (np.float64(90.5), "heads.arc_deg", 90.5),
        (90, "heads.arc_deg", 90.0),
        ("+9e1", "heads.arc_deg", 90.0),
        ("90.", "heads.arc_deg", 90.0),
        ("7", "stations.output", 7),
        (7.0, "stations.output", 7),
        ("7.0", "stations.output", 7),
        ("Yes", "valves.open", True),
        (False, "valves.open", False),
        ("CLOSED", "valves.open", False),
        ("1", "valves.open", True),
        ("Quick coupler", "valves.kind", "quick_coupler"),
        ("quick-coupler", "valves.kind", "quick_coupler"),
        (" H 7 ", "heads.label", "H 7"),
        (12.0, "heads.label", "12"),
        (12.5, "heads.label", "12.5"),
        ("2026-07-14", "meters.calibrated_on", "2026-07-14"),
        ("2026-07-14T00:00:00", "meters.calibrated_on", "2026-07-14"),
        (date(2026, 7, 14), "meters.calibrated_on", "2026-07-14"),
        (datetime(2026, 7, 14, 5), "meters.calibrated_on", "2026-07-14"),
        (pd.Timestamp("2026-07-14"), "meters.calibrated_on", "2026-07-14"),
    ],
)
def test_sound_cells(cell: Any, name: str, expected: Any) -> None:
    found = value(cell, name)
    assert found == expected
    assert type(found) is type(expected)


@pytest.mark.parametrize(
    ("cell", "name", "words"),
    [
        ("wide", "heads.arc_deg", "'wide', which is no number"),
        (True, "heads.arc_deg", "no number"),
        ([1], "heads.arc_deg", "no number"),
        ("0x10", "heads.arc_deg", "no number"),
        ("1 000", "heads.arc_deg", "no number"),
        ("٣", "heads.arc_deg", "no number"),
        ("1e999", "heads.arc_deg", "not finite"),
        (math.inf, "heads.arc_deg", "not finite"),
        ("5", "heads.arc_deg", "5, outside 10 to 360"),
        ("2.5", "stations.output", "not a whole number"),
        ("-1", "stations.output", "outside 0 to 100000"),
        ("maybe", "valves.open", "write yes or no"),
        ("gate", "valves.kind", "not one of isolation, drain"),
        ("7/14/2026", "meters.calibrated_on", "not a date like 2026-07-14"),
        ("2026-02-30", "meters.calibrated_on", "not a date"),
        ("2026-07-14T05:00:00", "meters.calibrated_on", "not a date"),
        ("", "valves.kind", "kind is missing"),
        (None, "pipes.diameter_mm", "diameter_mm is missing"),
    ],
)
def test_cells_that_are_refused_say_why(cell: Any, name: str, words: str) -> None:
    with pytest.raises(BadCellError, match=words.replace("(", r"\(")):
        value(cell, name)


@pytest.mark.parametrize("cell", [None, "", "  ", "-", "--", "N/A", "NaN", math.nan, pd.NA, "?"])
def test_nothing_is_nothing(cell: Any) -> None:
    assert is_missing(cell)
    assert value(cell, "heads.arc_deg") is None
    assert value(cell, "heads.condition") is None


@pytest.mark.parametrize("cell", [0, "0", False, "none of it", "x"])
def test_something_is_not_nothing(cell: Any) -> None:
    assert not is_missing(cell)


@pytest.mark.parametrize(
    ("cell", "name", "unit", "words"),
    [
        ("200", "nozzles.radius_m", "ft", "200 ft, outside 1.64 to 131.2 ft"),
        ("8000", "heads.pressure_kpa", "psi", "8000 psi, outside 7.252 to 174 psi"),
        ("150", "weather.tmax_c", "F", "150 F, outside -76 to 140 F"),
        ("60.96", "nozzles.radius_m", None, "60.96, outside 0.5 to 40"),
    ],
)
def test_a_bound_is_told_in_the_unit_of_the_file(
    cell: str, name: str, unit: str | None, words: str
) -> None:
    with pytest.raises(BadCellError) as refused:
        value(cell, name, unit)
    assert str(refused.value).endswith(f"is {words}")


@pytest.mark.parametrize(
    ("text", "comma", "expected"),
    [
        ("1,5", True, 1.5),
        ("1.5", True, 1.5),
        (",5", True, 0.5),
        ("1,5", False, None),
        ("1.234,5", True, None),
        ("1,234.5", True, None),
        ("1,234,567", True, None),
        ("1'000", True, None),
        ("", True, None),
        (".", False, None),
        ("--5", False, None),
        ("-5", False, -5.0),
    ],
)
def test_commas_are_decimal_only_where_the_file_says_so(
    text: str, comma: bool, expected: float | None
) -> None:
    if expected is None:
        with pytest.raises(ValueError, match=r".*"):
            written_number(text, decimal_comma=comma)
    else:
        assert written_number(text, decimal_comma=comma) == expected


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_every_number_survives_its_text(number: float) -> None:
    assert written_number(repr(number), decimal_comma=False) == number
    assert written_number(repr(number).replace(".", ","), decimal_comma=True) == number


@given(st.text(max_size=12), st.sampled_from(["heads.arc_deg", "stations.output", "valves.open"]))
def test_any_text_is_a_value_nothing_or_a_reason(text: str, name: str) -> None:
    try:
        found = value(text, name)
    except BadCellError as reason:
        words = str(reason)
    else:
        words = "fine"
        assert found is None or isinstance(found, (float, int))
    assert words
