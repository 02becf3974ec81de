"""Weather files in: into the course, or straight to reference ET."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from nightwater.desk.course import Course
from nightwater.findings import ConflictError, Finding, UserError, error
from nightwater.survey.weather_files import guess_columns, header_of, read_weather
from nightwater.weather.et import reference_et
from nightwater.weather.quality import check_weather

_ORIGINS = ("observed", "forecast", "typical")


@dataclass(frozen=True)
class AddedWeather:
    """What reading a weather file changed.

    Attributes:
        new, changed, same: rows.
        reach: first and last time of this step and origin that the course now has.
        findings: doubts about the file and its numbers.
    """

    new: int
    changed: int
    same: int
    reach: tuple[str, str]
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class FileReference:
    """Reference ET of a file: `rows` as the contract for scripts says."""

    rows: list[dict[str, object]]
    findings: tuple[Finding, ...]


def file_columns(path: Path, columns: Mapping[str, str]) -> list[dict[str, Any]]:
    """How the columns of a weather file would be matched, for a person to confirm."""
    header = header_of(path)
    guessed = {match.theirs: match for match in guess_columns(header)}
    rows = []
    for theirs in header:
        match = guessed.get(theirs)
        ours = columns.get(theirs, match.ours if match else None)
        rows.append({"theirs": theirs, "ours": ours, "unit": match.unit if match else None})
    return rows


def _identified(weather: pd.DataFrame, step: str, origin: str, gauge: str | None) -> pd.DataFrame:
    times = [
        value.isoformat() if step == "day" else value.strftime("%Y-%m-%dT%H:%M:%SZ")
        for value in weather.index
    ]
    kept = weather.assign(step=step, time=times, origin=origin, gauge=gauge)
    prefix = f"{gauge or 'course'}:{origin}:{step}"
    return kept.set_index(pd.Index([f"{prefix}:{time}" for time in times], name="id"))


def _differs(new: pd.DataFrame, old: pd.DataFrame) -> pd.Series[bool]:
    both = new.index.intersection(old.index)
    numbers = [c for c in new.columns if c in old and pd.api.types.is_numeric_dtype(old[c])]
    left = new.loc[both, numbers].astype(float)
    right = old.loc[both, numbers].astype(float)
    same = (left.sub(right).abs() < 1e-9) | (left.isna() & right.isna())
    return ~same.all(axis=1)


def add_weather(
    course: Course,
    path: Path,
    *,
    columns: Mapping[str, str],
    units: Mapping[str, str],
    origin: str,
    replace: bool,
) -> AddedWeather:
    """Read a weather file into the course; observed numbers are replaced only when told so.

    Raises:
        UserError: the file cannot be read or a unit is not declared.
        ConflictError: observed rows would change and `replace` is not given.
    """
    if origin not in _ORIGINS:
        raise UserError(f"Weather is {', '.join(_ORIGINS)}; '{origin}' is none of them.")
    site = course.settings.site
    read = read_weather(path, columns=columns, units=units, timezone=site.timezone)
    clean, doubts = check_weather(
        read.weather,
        read.step,
        latitude_deg=site.latitude_deg,
        longitude_deg=site.longitude_deg,
        elevation_m=site.elevation_m,
    )
    rows = _identified(clean, read.step, origin, None)
    kept = course.file.running("weather", step=read.step, origin=origin)
    changed = _differs(rows, kept)
    count = int(changed.sum())
    if count and origin == "observed" and not replace:
        first = rows.loc[changed[changed].index[0], "time"]
        raise ConflictError(
            f"{path.name} changes {count} observed rows, the first at {first}. Nothing was "
            "saved; say --replace if the new numbers are right."
        )
    course.file.append("weather", rows)
    new = len(rows) - len(changed)
    times = [*rows["time"], *kept["time"]]
    reach = (min(times), max(times))
    return AddedWeather(new, count, len(changed) - count, reach, (*read.findings, *doubts))


def file_reference(
    path: Path,
    *,
    latitude_deg: float,
    longitude_deg: float,
    elevation_m: float,
    timezone: str,
    hourly: bool,
    columns: Mapping[str, str],
    units: Mapping[str, str],
) -> FileReference:
    """Reference ET of a weather file, without a course.

    Raises:
        UserError: the file cannot be read, or hourly rows are wanted of daily weather.
    """
    read = read_weather(path, columns=columns, units=units, timezone=timezone)
    if hourly and read.step != "hour":
        raise UserError(f"{path.name} holds one row a day; leave --hourly away.")
    clean, doubts = check_weather(
        read.weather,
        read.step,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        elevation_m=elevation_m,
    )
    rows = reference_et(
        clean,
        read.step,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        elevation_m=elevation_m,
        timezone=timezone,
        rows="hour" if hourly else "day",
    )
    empty = (
        ()
        if rows
        else (error("no-weather", path.name, "The file holds no usable row.", "Check the file."),)
    )
    return FileReference(rows, (*read.findings, *doubts, *empty))
