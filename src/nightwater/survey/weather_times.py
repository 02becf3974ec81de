"""From the dates and hours of somebody's weather file to local dates or UTC hours."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import tzinfo
from typing import Final

import numpy as np
import pandas as pd

from nightwater.findings import Finding, UserError, note, warning

_OFFSET: Final = re.compile(r"(?:Z|[+-]\d\d:?\d\d)$")
_YEAR_FIRST: Final = re.compile(r"^\d{4}")
_MIDNIGHT_24: Final = re.compile(r"\b24:?00(?::00)?\b")
DAY: Final = pd.Timedelta(days=1)
HOUR: Final = pd.Timedelta(hours=1)


@dataclass(frozen=True)
class Times:
    """When each row is.

    Attributes:
        local: naive local times, or UTC instants where `is_utc`; NaT where unreadable.
        is_utc: whether the file states the offset from UTC itself.
        at_end: whether a time labels the end of its step.
        date_only: whether there is no time of day.
        findings: doubts about labels.
    """

    local: pd.Series
    is_utc: bool
    at_end: bool
    date_only: bool
    findings: tuple[Finding, ...]


def read_times(cells: Mapping[str, Sequence[str]], name: str) -> Times:
    """When each row is, from whichever time columns were matched.

    Args:
        cells: text by time target (`weather_columns.TIME_TARGETS`).
        name: the file's name.

    Raises:
        UserError: no columns that make a time, or an order of day and month that cannot
            be told.
    """
    ends = "time_end" in cells or "hour_end" in cells
    whole = cells.get("time", cells.get("time_end"))
    if whole is not None:
        if "date" in cells and all(len(cell) <= 8 for cell in whole[:50]):
            whole = [f"{day} {clock}" for day, clock in zip(cells["date"], whole, strict=True)]
        return _from_text(whole, name, ends, date_only=False)
    if "date" in cells and not {"hour", "hour_end"} & cells.keys():
        return _from_text(cells["date"], name, ends, date_only=True)
    return _from_parts(cells, name, ends)


def _from_text(texts: Sequence[str], name: str, ends: bool, date_only: bool) -> Times:
    text = pd.Series(list(texts), dtype=object).astype(str).str.strip()
    midnight = text.str.contains(_MIDNIGHT_24)
    text = text.str.replace(_MIDNIGHT_24, "00:00", regex=True)
    if text.str.contains(_OFFSET).any() and not date_only:
        local = pd.to_datetime(text, utc=True, format="ISO8601", errors="coerce")
        return Times(local.dt.tz_localize(None), True, ends, False, ())
    if text.str.match(_YEAR_FIRST).mean() > 0.5:
        local = pd.to_datetime(text.str.replace("/", "-"), format="ISO8601", errors="coerce")
    else:
        local = _day_and_month(text, name)
    local = local.where(~midnight, local + DAY)
    findings = _ends_by_24(bool(midnight.any()), ends, name)
    return Times(local, False, ends or bool(midnight.any()), date_only, findings)


def _ends_by_24(seen: bool, ends: bool, name: str) -> tuple[Finding, ...]:
    if not seen or ends:
        return ()
    found = note(
        "weather-hour-end-labels",
        name,
        "Hours run to 24, so a time was taken to label the end of its hour.",
        "Match the column as time_end or hour_end to say so yourself.",
    )
    return (found,)


def _day_and_month(text: pd.Series, name: str) -> pd.Series:
    """Dates such as 7/10/2025, where some date of the file shows which part is the day."""
    parts = text.str.extract(r"^(\d{1,2})[/.\-](\d{1,2})[/.\-]").astype(float)
    day_first, month_first = bool((parts[0] > 12).any()), bool((parts[1] > 12).any())
    if day_first == month_first:
        raise UserError(
            f"{name}: the order of day and month cannot be told from '{text.iloc[0]}'. Write "
            "dates as 2025-07-10, or match day, month and year columns."
        )
    return pd.to_datetime(text, dayfirst=day_first, format="mixed", errors="coerce")


def _part(cells: Mapping[str, Sequence[str]], target: str) -> pd.Series:
    return pd.to_numeric(pd.Series(list(cells[target]), dtype=object), errors="coerce")


def _dates_from_parts(cells: Mapping[str, Sequence[str]], name: str) -> pd.Series:
    if "date" in cells:
        return _from_text(cells["date"], name, False, date_only=True).local
    if "year_day" in cells:
        return pd.to_datetime(
            pd.Series(list(cells["year_day"]), dtype=object), format="%Y-%j", errors="coerce"
        )
    if {"year", "day_of_year"} <= cells.keys():
        joined = [f"{y}-{d}" for y, d in zip(cells["year"], cells["day_of_year"], strict=True)]
        return pd.to_datetime(pd.Series(joined, dtype=object), format="%Y-%j", errors="coerce")
    if {"year", "month", "day"} <= cells.keys():
        parts = {part: _part(cells, part) for part in ("year", "month", "day")}
        return pd.to_datetime(pd.DataFrame(parts), errors="coerce")
    raise UserError(
        f"{name} has no column of dates that we know. Match one as date or time, or year with "
        "month and day, or year with day_of_year."
    )


def _from_parts(cells: Mapping[str, Sequence[str]], name: str, ends: bool) -> Times:
    dates = _dates_from_parts(cells, name)
    target = "hour_end" if "hour_end" in cells else "hour"
    if target not in cells:
        return Times(dates, False, False, True, ())
    hour = _part(cells, target)
    if hour.max() > 24:  # 100, 200 … 2400: hours and minutes in one number
        hour = hour // 100 + hour % 100 / 60
    if "minute" in cells:
        hour = hour + _part(cells, "minute").fillna(0) / 60
    to_24 = bool((hour == 24).any()) and not bool((hour == 0).any())
    seconds = (hour * 3600).round()
    local = dates + pd.to_timedelta(seconds, unit="s")
    return Times(local, False, ends or to_24, False, _ends_by_24(to_24, ends, name))


def in_one_year(times: Times, year: int, name: str) -> tuple[Times, bool]:
    """Months of different years, each whole in one of them, set into one year.

    Typical years are made so: twelve months in a row, and the years jump.

    Returns:
        The times, and whether they were those of a typical year. A 29 February becomes
        NaT in a year that has none.
    """
    local = times.local.dropna()
    pairs = pd.DataFrame({"year": local.dt.year, "month": local.dt.month}).drop_duplicates()
    months_once = len(pairs) == pairs["month"].nunique() and pairs["month"].is_monotonic_increasing
    if not months_once or pairs["year"].is_monotonic_increasing:
        return times, False
    parts = {part: getattr(times.local.dt, part) for part in ("month", "day", "hour", "minute")}
    moved = pd.to_datetime(pd.DataFrame({"year": year, **parts}), errors="coerce")
    found = note(
        "weather-typical-year",
        name,
        f"A typical year: months of different years, all set into {year}.",
        "Use it to try a season out, not as last night's weather.",
    )
    return replace(times, local=moved, findings=(*times.findings, found)), True


def step_of(times: pd.Series, name: str) -> pd.Timedelta:
    """The usual distance between rows.

    Raises:
        UserError: neither a day, an hour, nor a part of an hour that divides it.
    """
    known = np.unique(times.dropna().to_numpy(dtype="datetime64[s]"))
    if len(known) < 2:
        return HOUR
    between = pd.Timedelta(np.median(np.diff(known)))
    if between in (DAY, HOUR) or (between < HOUR and HOUR % between == pd.Timedelta(0)):
        return between
    raise UserError(
        f"{name}: rows are {between} apart. Weather comes by the day, the hour, or a part of "
        "the hour that divides it (30, 15, 10, 5 or 1 min)."
    )


def to_utc(local: pd.Series, zone: tzinfo, name: str) -> tuple[pd.DatetimeIndex, list[Finding]]:
    """Naive local clock times as UTC instants.

    The hour that the clocks skip in spring does not exist: such rows come back as NaT
    with a finding. The hour they repeat in autumn: of two rows the first is daylight
    time; of one, nobody can tell, so it is taken for the first, with a finding.
    """
    clock = pd.DatetimeIndex(local)
    first = ~clock.duplicated()
    instants = clock.tz_localize(zone, ambiguous=first, nonexistent="NaT")
    findings = []
    skipped = np.asarray(instants.isna()) & np.asarray(clock.notna())
    if skipped.any():
        at = clock[skipped][0]
        findings.append(
            warning(
                "weather-hour-skipped",
                f"weather:{at:%Y-%m-%dT%H:%M}",
                f"{name}: {int(skipped.sum())} row(s) stand in an hour that the clocks of "
                f"{zone} skip, the first {at:%Y-%m-%d %H:%M}; they were left out.",
                "If the station's clock has no daylight saving, give its zone as UTC-07:00.",
            )
        )
    findings += _repeated(clock, instants, zone, name)
    return instants.tz_convert("UTC"), findings


def _repeated(
    clock: pd.DatetimeIndex, instants: pd.DatetimeIndex, zone: tzinfo, name: str
) -> list[Finding]:
    other = clock.tz_localize(zone, ambiguous=np.zeros(len(clock), bool), nonexistent="NaT")
    twofold = np.asarray((other != instants) & instants.notna() & other.notna())
    alone = twofold & ~np.asarray(clock.duplicated(keep=False))
    if not alone.any():
        return []
    at = clock[alone][0]
    found = warning(
        "weather-hour-ambiguous",
        f"weather:{at:%Y-%m-%dT%H:%M}",
        f"{name}: {at:%Y-%m-%d %H:%M} comes twice on the clocks of {zone} but once in the file; "
        "it was taken for the first, and the second is missing.",
        "If the station's clock has no daylight saving, give its zone as UTC-07:00.",
    )
    return [found]
