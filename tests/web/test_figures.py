"""Numbers as pages show them."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from nightwater.units import UnitSystem
from nightwater.web import figures

US, METRIC = UnitSystem.US, UnitSystem.METRIC


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (0, "0"), (1, "1"), (0.7, "0.7"), (1.2195121, "1.22"), (0.048312, "0.04831"),
        (36.29, "36.29"), (12345.6, "12,346"), (-2.5, "-2.5"), (float("nan"), "–"), (None, "–"),
        (100.0, "100"), (1000, "1,000"),
    ],
)  # fmt: skip
def test_four_digits_are_enough_to_redo_a_sum(value: float | None, shown: str) -> None:
    assert figures.plain(value) == shown


def test_fine_numbers_carry_the_readers_unit() -> None:
    assert figures.fine(6.1, "mm", US) == "0.2402 in"
    assert figures.fine(6.1, "mm", METRIC) == "6.1 mm"
    assert figures.fine(8.9e-16, "mm", US) == "0 in"
    assert figures.fine(18.58, "m2", US) == "200 ft²"
    assert figures.fine(float("nan"), "mm", US) == "–"


def test_quantities_print_their_powers_and_degrees() -> None:
    assert figures.quantity(10, "m3", METRIC) == "10.0 m³"
    assert figures.quantity(1, "m3", US) == "264 gal"
    assert figures.quantity(None, "l_s", US) == "–"
    assert figures.quantity(1000, "m2", METRIC) == "0.10 ha"


def test_minutes_shares_and_counts() -> None:
    assert figures.minutes(1234.4) == "1,234 min"
    assert figures.minutes(float("nan")) == "–"
    assert figures.percent(0.0213) == "2.1 %"
    assert figures.percent(None) == "–"
    assert figures.counted(1, "station") == "1 station"
    assert figures.counted(1944, "station") == "1,944 stations"
    assert figures.counted(2, "jetty", "jetties") == "2 jetties"


def test_text_of_the_record_or_a_stand_in() -> None:
    assert figures.text_or(None) == "–"
    assert figures.text_or(float("nan"), "?") == "?"
    assert figures.text_or("", "?") == "?"
    assert figures.text_or(7) == "7"


def test_instants_are_shown_in_the_courses_time() -> None:
    moment = datetime(2026, 7, 15, 3, 5, tzinfo=UTC)
    assert figures.clock(moment, "America/Denver") == "21:05"
    assert figures.local_moment(moment, "America/Denver") == "14 Jul 2026, 21:05"
    assert figures.local_moment(None, "America/Denver") == "–"
    assert figures.day(date(2026, 7, 4)) == "Sat 4 July 2026"
