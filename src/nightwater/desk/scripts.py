"""The deeds as Python scripts call them: dates may be written as text."""

from __future__ import annotations

from datetime import date

from nightwater.desk.course import Course, night_date
from nightwater.desk.morning import morning as morning_deed
from nightwater.desk.needing import need as need_deed
from nightwater.desk.nights import StoredNight
from nightwater.desk.planning import computed_night
from nightwater.night.plan import Night
from nightwater.soil.need import NeedResult


def _date(night: date | str) -> date:
    return night if isinstance(night, date) else night_date(night)


def need(course: Course, night: date | str) -> NeedResult:
    """How much water each area should get on a night, with every factor.

    Raises:
        UserError: not a date, or weather is missing.
    """
    return need_deed(course, _date(night))


def plan(course: Course, night: date | str) -> Night:
    """The night as planner and referee see it; nothing is saved.

    Raises:
        UserError: not a date; weather, pump or settings are missing or wrong.
    """
    return computed_night(course, _date(night))


def morning(course: Course, night: date | str) -> StoredNight:
    """The approved night with its proof, which is kept in the course file.

    Raises:
        UserError: not a date.
        NotFoundError: no approved night for that date.
    """
    return morning_deed(course, _date(night))
