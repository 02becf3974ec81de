"""Read the field's own log of a night: what the control wrote, or what the meter read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

import pandas as pd

from nightwater.desk.course import Course
from nightwater.desk.nights import StoredNight
from nightwater.findings import Finding, UserError, warning
from nightwater.ground.tables import TABLES
from nightwater.survey.read import ReadOptions, read_table

LOGS: Final = ("commands", "samples")
_TOLD: Final = 5


@dataclass(frozen=True)
class LogRead:
    """What was read: lines kept, and doubts about the file."""

    kept: int
    findings: tuple[Finding, ...]


def _instant(text: str, zone: ZoneInfo) -> str | None:
    """A written time as the record keeps it; one without an offset is the course's clock."""
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        return None
    local = moment if moment.tzinfo else moment.replace(tzinfo=zone)
    return local.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _station_ids(named: pd.Series[str], course: Course) -> pd.Series[str]:
    """Stations by id, where the log names them by label."""
    stations = course.ground.stations
    once = stations["label"].dropna()
    once = once[~once.duplicated(keep=False)]
    by_label = {str(label): str(identity) for identity, label in once.items()}
    known = set(stations.index.astype(str))
    return named.map(lambda name: name if name in known else by_label.get(str(name), name))


def _bad_lines(rows: pd.DataFrame, places: Mapping[str, str], name: str, what: str) -> Finding:
    first = ", ".join(places[str(row)] for row in rows.index[:_TOLD])
    more = f" and {len(rows) - _TOLD} more" if len(rows) > _TOLD else ""
    return warning(
        "log-line-left-out",
        f"file:{name}",
        f"{name}: {what} on {first}{more}; these lines were left out.",
        "Put them right in the file and read it again; the whole file takes the place of this one.",
    )


def _sound(
    rows: pd.DataFrame, places: Mapping[str, str], course: Course, name: str
) -> tuple[pd.DataFrame, list[Finding]]:
    """Rows with a time and, where they name one, a station of the record; and what is wrong."""
    zone = ZoneInfo(course.settings.site.timezone)
    times = [_instant(str(text), zone) for text in rows["time"]]
    rows = rows.assign(time=pd.Series(times, index=rows.index, dtype=object))
    findings = []
    timeless = rows["time"].isna()
    if timeless.any():
        findings.append(_bad_lines(rows[timeless], places, name, "no time like 2026-07-14T22:30"))
    rows = rows[~timeless]
    if "station" in rows:
        rows = rows.assign(station=_station_ids(rows["station"], course))
        known = rows["station"].isna() | rows["station"].isin(course.ground.stations.index)
        if not known.all():
            findings.append(_bad_lines(rows[~known], places, name, "no station of the record"))
        rows = rows[known]
    return rows, findings


def read_log(
    course: Course, stored: StoredNight, path: Path, table: str, options: ReadOptions
) -> LogRead:
    """Keep a night's command log or meter series; takes the place of one read before.

    Args:
        course: the open course.
        stored: the approved night that it belongs to.
        path: CSV with the table's columns; times without an offset are the course's clock.
        table: "commands" or "samples".
        options: how its columns are matched.

    Raises:
        UserError: another table, an unreadable file, no sound line, or a rehearsal's log is
            there already.
    """
    if table not in LOGS:
        raise UserError(f"A night has no log '{table}'. Known: {', '.join(LOGS)}.")
    kept = course.file.running(table, night=stored.id)
    if (kept["origin"] == "rehearsal").any():
        raise UserError(
            f"The log of {stored.plan.night} is that of a rehearsal; a real one would mix with it."
        )
    fixed = {"night": stored.id} | dict(options.fixed)
    told = ReadOptions(columns=options.columns, units=options.units, fixed=fixed)
    read = read_table(path, TABLES[table], course.ground.crs, told)
    if "time" not in read.rows or read.rows.empty:
        raise UserError(f"{path.name} has no line with a time; say --column THEIRS=time.")
    rows, findings = _sound(read.rows, read.places, course, path.name)
    if rows.empty:
        raise UserError(f"{path.name} has no line that can be kept; nothing was changed.")
    course.file.replace_log(stored.id, {table: rows}, origin="field")
    doubts = [finding for finding in read.findings if finding.code != "ids-made-up"]
    return LogRead(len(rows), (*doubts, *findings))
