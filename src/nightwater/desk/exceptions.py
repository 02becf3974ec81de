"""Trims and holds: hand changes with author, reason and end."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pandas as pd

from nightwater.desk.course import Course
from nightwater.findings import UserError
from nightwater.ground.tables import AREA_KINDS, HOLDS, TRIMS

_TABLES = ("areas", "stations", "holes")


@dataclass(frozen=True)
class TrimWish:
    """A hand change somebody asks for: minutes × factor + extra_min, both nights included."""

    subject: str
    factor: float
    extra_min: float
    first_night: date
    last_night: date
    reason: str


@dataclass(frozen=True)
class HoldWish:
    """A hold somebody asks for; start and end are local clock times, ISO 8601."""

    subject: str
    cause: str
    start: str
    end: str
    reason: str


def check_subject(course: Course, subject: str) -> None:
    """Refuse a subject that names nothing on this course.

    Raises:
        UserError: no such table, kind or row.
    """
    if subject == "course":
        return
    table, _, name = subject.partition(":")
    if table == "kind" and name in AREA_KINDS:
        return
    if table in _TABLES and name in course.ground.table(table).index:
        return
    raise UserError(
        f"'{subject}' names nothing here. Write areas:ID, stations:ID, holes:ID, kind:KIND "
        "or course, with an id of the record."
    )


def _one_row(values: Mapping[str, object]) -> pd.DataFrame:
    return pd.DataFrame([values], index=pd.Index([uuid.uuid4().hex], name="id"))


def _bounded(table: str, name: str, value: float) -> None:
    column = {"trims": TRIMS, "holds": HOLDS}[table].by_name[name]
    lowest, highest = column.lowest, column.highest
    if lowest is not None and highest is not None and not lowest <= value <= highest:
        raise UserError(f"{name} is {value:g}; it must lie between {lowest:g} and {highest:g}.")


def add_trim(course: Course, wish: TrimWish, *, who: str) -> None:
    """Keep a trim.

    Raises:
        UserError: unknown subject, last night before the first, or numbers out of bounds.
    """
    check_subject(course, wish.subject)
    _bounded("trims", "factor", wish.factor)
    _bounded("trims", "extra_min", wish.extra_min)
    if wish.last_night < wish.first_night:
        raise UserError(
            f"The last night {wish.last_night} lies before the first, {wish.first_night}."
        )
    row = {
        "subject": wish.subject,
        "factor": wish.factor,
        "extra_min": wish.extra_min,
        "reason": wish.reason,
        "author": who,
        "first_night": wish.first_night.isoformat(),
        "last_night": wish.last_night.isoformat(),
    }
    course.file.append("trims", _one_row(row))


def _utc(text: str, timezone: str) -> datetime:
    try:
        local = datetime.fromisoformat(text)
    except ValueError:
        raise UserError(f"'{text}' is not a time. Write it like 2026-07-14T22:30.") from None
    zoned = local if local.tzinfo else local.replace(tzinfo=ZoneInfo(timezone))
    return zoned.astimezone(UTC)


def add_hold(course: Course, wish: HoldWish, *, who: str) -> None:
    """Keep a hold.

    Raises:
        UserError: unknown subject or cause, or an end that is not after the start.
    """
    check_subject(course, wish.subject)
    causes = HOLDS.by_name["cause"].choices
    if wish.cause not in causes:
        raise UserError(f"'{wish.cause}' is no cause of a hold. Use one of {', '.join(causes)}.")
    zone = course.settings.site.timezone
    start, end = _utc(wish.start, zone), _utc(wish.end, zone)
    if end <= start:
        raise UserError(f"The hold ends at {wish.end}, which is not after {wish.start}.")
    row = {
        "subject": wish.subject,
        "cause": wish.cause,
        "reason": wish.reason,
        "author": who,
        "start": start.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "end": end.strftime("%Y-%m-%dT%H:%M:%SZ"),
    }
    course.file.append("holds", _one_row(row))
