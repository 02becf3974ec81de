"""The ledger of every approved night."""

from __future__ import annotations

import pandas as pd

from nightwater.desk.course import Course
from nightwater.desk.nights import approved_nights
from nightwater.ledger.book import ledger_rows


def ledger(course: Course) -> pd.DataFrame:
    """Water, energy and money, one row per approved night, oldest first."""
    booked = [(stored.plan, stored.proof) for stored in approved_nights(course)]
    return ledger_rows(booked, course.ground, course.settings)
