"""Approve a night: freeze it as an edition."""

from __future__ import annotations

from datetime import datetime

from nightwater.desk.course import Course
from nightwater.desk.nights import StoredNight, night_by_id
from nightwater.desk.planning import judge
from nightwater.findings import Severity, UserError


def check_can_approve(course: Course, stored: StoredNight) -> None:
    """Refuse what must not run.

    Raises:
        UserError: the edition is not a draft, or the referee has an error against it.
    """
    if stored.state != "draft":
        raise UserError(
            f"Edition {stored.edition} of {stored.plan.night} is {stored.state} already. "
            "Plan the night again to make a new edition."
        )
    errors = [f for f in judge(course, stored.plan) if f.severity is Severity.ERROR]
    if errors:
        raise UserError(
            f"The referee refuses this night: {errors[0].message} "
            f"({len(errors)} error{'s' if len(errors) > 1 else ''} in all.) Plan it again."
        )


def approve(course: Course, night_id: str, *, who: str, now: datetime) -> StoredNight:
    """Freeze a draft; an edition approved before for the same date becomes replaced.

    Raises:
        NotFoundError: no such night.
        UserError: see `check_can_approve`.
    """
    stored = night_by_id(course, night_id)
    check_can_approve(course, stored)
    course.file.approve_night(night_id, who, now)
    return night_by_id(course, night_id)
