"""Plan one night: need → minutes → night → referee → a draft edition."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime

from nightwater.desk.course import Course, Progress, silent
from nightwater.desk.needing import need
from nightwater.desk.nights import StoredNight, night_by_id
from nightwater.findings import Finding, error
from nightwater.night.build import plan_night
from nightwater.night.document import night_to_document
from nightwater.night.minutes import station_sums
from nightwater.night.plan import Night, StationSum
from nightwater.night.referee import referee


def _nothing_to_run(sums: Sequence[StationSum]) -> list[Finding]:
    if sums:
        return []
    return [
        error(
            "no-station-can-run",
            "stations:*",
            "No station has minutes: the record has no station whose heads, nozzles and areas "
            "are all known, so this night is empty.",
            "Look at 'nightwater check'; survey stations, heads, nozzles and areas.",
        )
    ]


def computed_night(course: Course, night: date, progress: Progress = silent) -> Night:
    """The night as planner and referee see it, with all findings; nothing is saved.

    Raises:
        UserError: weather, pump or settings are missing or wrong.
    """
    progress("weather and soil to need")
    wanted = need(course, night)
    progress("need to minutes")
    sums, sum_findings = station_sums(
        course.ground,
        wanted.table["need_mm"],
        course.settings.minutes,
        course.file.running("trims"),
        night,
    )
    progress("minutes to a night")
    holds = course.file.running("holds")
    planned = plan_night(course.ground, sums, course.settings, night, holds)
    progress("referee")
    judged = referee(planned, course.ground, course.settings, holds)
    findings = [*_nothing_to_run(sums), *wanted.findings, *sum_findings, *planned.findings, *judged]
    return replace(planned, findings=tuple(dict.fromkeys(findings)))


def plan(
    course: Course, night: date, *, who: str, now: datetime, progress: Progress = silent
) -> StoredNight:
    """Plan a night and keep it as a draft edition.

    Raises:
        UserError: weather, pump or settings are missing or wrong; nothing is saved.
    """
    planned = computed_night(course, night, progress)
    progress(f"saving, for {who}")
    night_id = course.file.save_night(night, night_to_document(planned), now)
    return night_by_id(course, night_id)


def judge(course: Course, planned: Night) -> list[Finding]:
    """What the referee says of a night against the record as it is now."""
    return referee(planned, course.ground, course.settings, course.file.running("holds"))
