"""The ledger of every approved night, and its totals."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

import pandas as pd

from nightwater.desk.course import Course
from nightwater.desk.nights import approved_nights
from nightwater.findings import UserError
from nightwater.ledger.book import Booked, ledger_rows
from nightwater.ledger.known import Book, evidence_rows
from nightwater.ledger.totals import Periods, month_of, season_of, totals

PERIODS: Final[Mapping[str, Callable[[pd.DataFrame], Periods]]] = {
    "month": lambda _sources: month_of,
    "season": season_of,
}


def _booked(course: Course) -> list[Booked]:
    return [(stored.plan, stored.proof) for stored in approved_nights(course)]


def ledger(course: Course) -> pd.DataFrame:
    """Water, energy and money, one row per approved night, oldest first."""
    return ledger_rows(_booked(course), course.ground, course.settings)


def night_book(course: Course) -> Book:
    """What `ledger` gives, with how each figure is known."""
    rows = ledger(course)
    return Book(rows, evidence_rows(rows))


def ledger_totals(course: Course, by: str) -> Book:
    """Totals of every month or season, whole course and each kind of area.

    Raises:
        UserError: `by` is neither "month" nor "season".
    """
    if by not in PERIODS:
        raise UserError(f"Totals are by {' or '.join(PERIODS)}; '{by}' is neither.")
    booked = _booked(course)
    rows = ledger_rows(booked, course.ground, course.settings)
    return totals(booked, rows, PERIODS[by](course.ground.sources))
