"""From weather and past nights to the need of every area."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import pandas as pd

from nightwater.desk.course import Course
from nightwater.desk.nights import StoredNight, approved_nights
from nightwater.findings import UserError
from nightwater.ground.settings import NeedRules
from nightwater.ground.tables import WATERED_KINDS
from nightwater.proof.irrigation import planned_irrigation
from nightwater.soil.need import NeedResult, area_needs
from nightwater.weather.days import days_from_hours
from nightwater.weather.et import daily_reference_et

_ORIGIN_RANK = {"observed": 0, "forecast": 1, "typical": 2}


def stored_weather(course: Course, step: str) -> pd.DataFrame:
    """The weather rows of one step, one per time: observed before forecast before typical."""
    rows = course.file.running("weather", step=step)
    rank = rows["origin"].map(_ORIGIN_RANK).fillna(0)
    rows = rows.assign(rank=rank).sort_values(["time", "rank"], kind="stable")
    return rows.drop_duplicates("time").drop(columns="rank")


def _day_rows(course: Course) -> pd.DataFrame:
    rows = stored_weather(course, "day")
    return rows.set_index(pd.Index([date.fromisoformat(t) for t in rows["time"]], name="date"))


def _hour_days(course: Course) -> pd.DataFrame:
    rows = stored_weather(course, "hour")
    if rows.empty:
        return rows
    hours = rows.set_index(pd.DatetimeIndex(pd.to_datetime(rows["time"], utc=True), name="time"))
    return days_from_hours(hours, course.settings.site.timezone)


def daily_weather(course: Course) -> pd.DataFrame:
    """One row per local date: daily rows where there are any, else days made of hours."""
    days, hours = _day_rows(course), _hour_days(course)
    extra = hours.loc[[day for day in hours.index if day not in days.index]]
    return days if extra.empty else pd.concat([days, extra]).sort_index()


def daily_reference(course: Course) -> pd.DataFrame:
    """Reference ET and rain per date: columns eto_mm, etr_mm, rain_mm, flags.

    Raises:
        UserError: the course has no weather.
    """
    weather = daily_weather(course)
    if weather.empty:
        raise UserError(
            "This course has no weather yet. Add a file with 'nightwater weather COURSE FILE'."
        )
    site = course.settings.site
    reference = daily_reference_et(
        weather, latitude_deg=site.latitude_deg, elevation_m=site.elevation_m
    )
    return reference.assign(rain_mm=weather["rain_mm"])


def past_irrigation(past: Sequence[StoredNight]) -> pd.DataFrame:
    """Net water of past nights: proved where proved, else planned."""
    parts = [
        stored.proof.irrigation if stored.proof else planned_irrigation(stored.plan)
        for stored in past
    ]
    columns = ["night", "area", "depth_mm", "evidence"]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=columns)


def opened_rules(rules: NeedRules, past: Sequence[StoredNight], night: date) -> NeedRules:
    """The need rules with the day on which the account opens filled in."""
    if rules.account_start is not None:
        return rules
    first = min([night, *(stored.plan.night for stored in past)])
    return replace(rules, account_start=first.isoformat())


def need(course: Course, night: date) -> NeedResult:
    """How much water each watered area should get on a night, with every factor.

    Raises:
        UserError: no weather, or none for the night's own date.
    """
    areas = course.ground.areas
    watered = areas[areas["kind"].isin(WATERED_KINDS)]
    past = [stored for stored in approved_nights(course) if stored.plan.night < night]
    return area_needs(
        watered,
        daily_reference(course),
        past_irrigation(past),
        night,
        opened_rules(course.settings.need, past, night),
    )
