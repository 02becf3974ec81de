"""Weather files of any common layout in: our contract, others by matching, TMY3, TMY2, EPW."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd

from nightwater.findings import Finding, UserError, note, warning
from nightwater.survey.weather_columns import (
    NUMBER_TARGETS,
    TIME_TARGETS,
    ColumnMatch,
    fixed_value,
    guess_columns,
    match_columns,
)
from nightwater.survey.weather_text import TextTable, cell_numbers, read_cells
from nightwater.survey.weather_times import (
    DAY,
    HOUR,
    Times,
    in_one_year,
    read_times,
    step_of,
    to_utc,
)
from nightwater.survey.weather_typical import kind_of_typical, read_typical
from nightwater.units import SECONDS_PER_HOUR, to_si, unit_named
from nightwater.weather.air import Numbers, numbers
from nightwater.weather.columns import Step, columns_of
from nightwater.weather.sky import Place
from nightwater.weather.zones import zone_named

__all__ = ["ColumnMatch", "WeatherFile", "guess_columns", "header_of", "read_weather"]

TYPICAL_YEAR: Final = 2001  # any year of 365 days
LEAST_PART_OF_HOUR: Final = 0.75  # of its rows, before an hour made of them counts
_HOURS_A_DAY: Final = 24
_ADJECTIVE: Final[Mapping[Step, str]] = {"day": "daily", "hour": "hourly"}


@dataclass(frozen=True)
class WeatherFile:
    """A weather file as read, not yet checked (`weather.quality.check_weather`).

    Attributes:
        step: "day" or "hour".
        weather: the contract's columns of the step and `origin`; index datetime.date
            ("date") or the UTC start of the hour ("time").
        findings: doubts about the file.
        source_columns: our column by theirs.
        place: where the file says the station is, if it does.
    """

    step: Step
    weather: pd.DataFrame
    findings: tuple[Finding, ...]
    source_columns: Mapping[str, str]
    place: Place | None = None


def header_of(path: Path) -> list[str]:
    """The column names of a weather file; none for typical-year files, which need no matching.

    Raises:
        UserError: the file cannot be read as a table.
    """
    return [] if kind_of_typical(path) else list(read_cells(path).header)


def read_weather(
    path: Path,
    *,
    columns: Mapping[str, str] | None = None,
    units: Mapping[str, str] | None = None,
    timezone: str,
    step: Step | None = None,
    typical_year: int = TYPICAL_YEAR,
) -> WeatherFile:
    """Read a weather file; a unit is taken from the person, the file's words, or refused.

    Args:
        path: our contract's CSV, any other table of text, TMY3, TMY2 or EPW.
        columns: their column name to ours (or to one of `TIME_TARGETS`; "" leaves it
            out; "station=NAME" keeps the rows of one station). A fixed value may stand for a
            column: {"3 m": "wind_height_m"}. The rest is guessed by name.
        units: unit symbol by their name or ours.
        timezone: IANA name, or "UTC-07:00", of local times in the file.
        step: "day" or "hour" to insist on one.
        typical_year: the year that a typical year is set into.

    Raises:
        UserError: the file cannot be read, a name is unknown, a unit is not stated, the
            temperature is missing, or the rows are neither days nor (parts of) hours.
    """
    kind = kind_of_typical(path)
    if kind is not None:
        if columns:
            raise UserError(f"{path.name}: the format fixes the columns; do not match any.")
        year = read_typical(path, kind, typical_year, units or {})
        read = WeatherFile("hour", year.weather, year.findings, year.source_columns, year.place)
    else:
        read = _read_table(path, columns or {}, units or {}, timezone, typical_year)
    if step is not None and read.step != step:
        raise UserError(
            f"{path.name} holds {_ADJECTIVE[read.step]} rows, not {_ADJECTIVE[step]} ones."
        )
    return read


def _read_table(
    path: Path,
    columns: Mapping[str, str],
    units: Mapping[str, str],
    timezone: str,
    typical_year: int,
) -> WeatherFile:
    table = read_cells(path)
    matches = match_columns(table.header, columns, units, table.stated_units)
    table = _one_station(table, matches, path.name)
    cells = {m.ours: table.column(m.theirs) for m in matches if m.ours in TIME_TARGETS}
    times, typical = in_one_year(read_times(cells, path.name), typical_year, path.name)
    findings = [*table.findings, *times.findings]
    readable = times.local.notna().to_numpy()
    if not readable.any():
        raise UserError(f"{path.name}: no date or time could be read; match the time columns.")
    if not readable.all():
        findings.append(_unreadable(table, path.name, readable))
    length = DAY if times.date_only else step_of(times.local, path.name)
    step: Step = "day" if length == DAY else "hour"
    _check_temperature(matches, step, table, path.name)
    _check_one_station(table, times, matches, path.name)
    values, doubts = _values(table, matches, length, path.name)
    findings += doubts
    source = {match.theirs: match.ours for match in matches}
    frame = values.reindex(columns=list(_kept(step, values)))[readable]
    local = times.local[readable]
    if step == "day":
        index = pd.Index(local.dt.date, name="date")
        weather = frame.set_axis(index)
    else:
        zone, told = _stated_zone(table, timezone, path.name)
        weather, doubts = _hours(frame, replace(times, local=local), length, zone, path.name)
        findings += [*told, *doubts]
    place = _stated_place(table)
    return WeatherFile(
        step,
        weather.assign(origin="typical" if typical else "observed"),
        tuple(findings),
        source,
        place,
    )


def _kept(step: Step, values: pd.DataFrame) -> tuple[str, ...]:
    mean_humidity = ("rh_pct",) if step == "day" and "rh_pct" in values else ()
    return (*columns_of(step), *mean_humidity)


def _one_station(table: TextTable, matches: Sequence[ColumnMatch], name: str) -> TextTable:
    """The rows of the station that was asked for, where one was."""
    for match in matches:
        if not match.ours.startswith("station="):
            continue
        wanted = match.ours.removeprefix("station=")
        here = [at for at, cell in enumerate(table.column(match.theirs)) if cell == wanted]
        if not here:
            known = ", ".join(sorted(set(table.column(match.theirs)))[:12])
            raise UserError(f"{name} has no station '{wanted}' in {match.theirs}: {known}.")
        return replace(
            table,
            rows=[table.rows[at] for at in here],
            lines=[table.lines[at] for at in here],
        )
    return table


def _check_one_station(
    table: TextTable, times: Times, matches: Sequence[ColumnMatch], name: str
) -> None:
    """Refuse a file of several stations of which none was chosen."""
    if times.local.duplicated().mean() < 0.2:
        return
    read = {match.theirs for match in matches if match.ours != "station"}
    for theirs in table.header:
        if theirs in read:
            continue
        cells = pd.Series(table.column(theirs))
        if (
            1 < cells.nunique() < len(cells) / 10
            and not pd.DataFrame({"time": times.local, "cell": cells}).duplicated().any()
        ):
            known = ", ".join(sorted(cells.unique())[:12])
            raise UserError(
                f"{name} holds several stations in column {theirs}: {known}. Choose one by "
                f"matching {theirs} as station=NAME."
            )


def _unreadable(
    table: TextTable, name: str, readable: np.ndarray[tuple[int], np.dtype[np.bool_]]
) -> Finding:
    first = table.lines[int(np.flatnonzero(~readable)[0])]
    return warning(
        "weather-time-unreadable",
        f"{name}:{first}",
        f"The date or time of {int((~readable).sum())} line(s) cannot be read, the first is line "
        f"{first}; they were left out.",
        "Write dates as 2025-07-10 and times as 2025-07-10T14:00.",
    )


def _check_temperature(
    matches: Sequence[ColumnMatch], step: Step, table: TextTable, name: str
) -> None:
    needed = {"tmax_c", "tmin_c"} if step == "day" else {"temp_c"}
    missing = sorted(needed - {match.ours for match in matches})
    if missing:
        raise UserError(
            f"{name} holds {_ADJECTIVE[step]} rows but no column that we know as "
            f"{' and '.join(missing)}. Match them; its columns are {', '.join(table.header)}."
        )


def _values(
    table: TextTable, matches: Sequence[ColumnMatch], length: pd.Timedelta, name: str
) -> tuple[pd.DataFrame, list[Finding]]:
    columns: dict[str, Numbers] = {}
    findings: list[Finding] = []
    for match in matches:
        if match.ours in NUMBER_TARGETS and match.unit is not None:
            values, doubts = _column(table, match, name)
            columns[match.ours] = _inside(values, match.ours, match.unit, length)
            findings += doubts
    return pd.DataFrame(columns, index=range(len(table.rows))), findings


def _column(table: TextTable, match: ColumnMatch, name: str) -> tuple[Numbers, list[Finding]]:
    fixed = fixed_value(match.theirs)
    if fixed is not None and match.theirs not in table.header:
        return np.full(len(table.rows), fixed[0]), []
    return cell_numbers(table, match.theirs, match.ours, name)


def _inside(values: Numbers, ours: str, symbol: str, length: pd.Timedelta) -> Numbers:
    """Values in our unit; radiation over a step as its mean and the other way round."""
    quantity = unit_named(symbol).quantity
    inside = numbers(to_si(values, symbol))
    seconds = length.total_seconds()
    if ours == "solar_w_m2" and quantity == "radiation":
        return inside * 1e6 / seconds
    if ours == "solar_mj_m2" and quantity == "irradiance":
        return inside * _HOURS_A_DAY * SECONDS_PER_HOUR / 1e6
    return inside


def _hours(
    frame: pd.DataFrame, times: Times, length: pd.Timedelta, zone: str, name: str
) -> tuple[pd.DataFrame, list[Finding]]:
    """Rows by the UTC start of their hour; parts of an hour become one hour."""
    start = times.local - length if times.at_end else times.local
    findings: list[Finding] = []
    if times.is_utc:
        index = pd.DatetimeIndex(start).tz_localize("UTC")
    else:
        index, findings = to_utc(start, zone_named(zone), name)
    there = np.asarray(index.notna())
    hour = index[there].floor("h").rename("time")
    weather = frame[there].set_axis(hour)
    if length < HOUR:
        weather = _whole_hours(weather, round(HOUR / length))
        findings.append(_averaged(name, length))
    elif (hour != index[there]).any():
        findings.append(_mid_hour(name))
    return weather, findings


def _whole_hours(weather: pd.DataFrame, parts: int) -> pd.DataFrame:
    by_hour = weather.groupby(weather.index)
    count = by_hour.count()
    hours = by_hour.mean().where(count >= LEAST_PART_OF_HOUR * parts)
    hours["rain_mm"] = by_hour["rain_mm"].sum().where(count["rain_mm"] >= parts)
    return hours.rename_axis("time")


def _averaged(name: str, length: pd.Timedelta) -> Finding:
    minutes = length.total_seconds() / 60
    return note(
        "weather-part-hours-averaged",
        name,
        f"Rows are {minutes:g} min apart; each hour is their mean, its rain their sum.",
        "Nothing.",
    )


def _mid_hour(name: str) -> Finding:
    return note(
        "weather-mid-hour-labels",
        name,
        "Hours are labelled inside the hour; each was taken for the hour it lies in.",
        "Nothing, unless weather-clock-off says that the sun disagrees.",
    )


def _stated_zone(table: TextTable, timezone: str, name: str) -> tuple[str, list[Finding]]:
    """The zone that lines above the header state, or else the one given."""
    stated = table.facts.get("Time Zone")
    try:
        hours = float(stated) if stated else None
    except ValueError:
        hours = None
    if hours is None:
        return timezone, []
    zone = f"UTC{'-' if hours < 0 else '+'}{int(abs(hours)):02d}:{round(abs(hours) % 1 * 60):02d}"
    found = note(
        "weather-file-time-zone",
        name,
        f"The file states that its times are {zone}; that was used.",
        "Nothing.",
    )
    return zone, [found]


def _stated_place(table: TextTable) -> Place | None:
    try:
        return Place(
            float(table.facts["Latitude"]),
            float(table.facts["Longitude"]),
            float(table.facts["Elevation"]),
        )
    except (KeyError, ValueError):
        return None
