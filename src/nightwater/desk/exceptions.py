"""Trims and holds: hand changes with author, reason and end."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Final
from zoneinfo import ZoneInfo

import pandas as pd
import shapely
from shapely.geometry.base import BaseGeometry

from nightwater.desk.course import Course
from nightwater.desk.ending import INSTANT, end_early, ended_words
from nightwater.desk.patches import checked_patch, near_words
from nightwater.findings import NotFoundError, UserError
from nightwater.ground.changes import GEOMETRY
from nightwater.ground.running_tables import TRIMS
from nightwater.ground.tables import AREA_KINDS
from nightwater.night.map_trims import MAP_SUBJECT

_TABLES = ("areas", "stations", "holes")


@dataclass(frozen=True)
class TrimWish:
    """A hand change somebody asks for: minutes × factor + extra_min, both nights included.

    Attributes:
        subject: table:id, kind:KIND, "course", or "map" for a patch.
        factor, extra_min: times the minutes, and minutes added.
        first_night, last_night: both count.
        reason: others will read it.
        patch: outline in the record's system, for "map".
    """

    subject: str
    factor: float
    extra_min: float
    first_night: date
    last_night: date
    reason: str
    patch: BaseGeometry | None = None


def known_subject(course: Course, subject: str, tables: Sequence[str] = _TABLES) -> str:
    """A subject by id: as written, or by the label or number that people use.

    Raises:
        UserError: no such table, kind or row; with names like it.
    """
    table, _, name = subject.partition(":")
    if subject == "course" or (table == "kind" and name in AREA_KINDS):
        return subject
    if table == "kind":
        raise UserError(f"There is no kind of area '{name}'.{near_words(name, AREA_KINDS)}")
    if table not in tables:
        raise UserError(
            f"'{subject}' names nothing here. Write "
            f"{', '.join(f'{name}:ID' for name in tables)}, kind:KIND or course."
        )
    rows = course.ground.table(table)
    if name in rows.index:
        return subject
    found = [identity for identity in rows.index if name in _called(rows, identity)]
    if len(found) == 1:
        return f"{table}:{found[0]}"
    every = sorted({word for identity in rows.index for word in _called(rows, identity)})
    many = f" {len(found)} rows are called so; use the id." if found else near_words(name, every)
    raise UserError(f"Table {table} has no row '{name}'.{many}")


def _called(rows: pd.DataFrame, identity: str) -> set[str]:
    """What people call a row: its id, its label, a hole's number."""
    row = rows.loc[identity]
    words = (row.get(column) for column in ("label", "number"))
    return {str(identity)} | {
        f"{word:g}" if isinstance(word, float) else str(word) for word in words if pd.notna(word)
    }


def _map_trim(wish: TrimWish) -> shapely.MultiPolygon:
    if wish.extra_min != 0:
        raise UserError(
            "A patch on the map has a need, not minutes: it takes a factor, no added minutes. "
            "To add minutes, trim a station or an area."
        )
    return checked_patch(wish.patch)


def _one_row(values: Mapping[str, object]) -> pd.DataFrame:
    return pd.DataFrame([values], index=pd.Index([uuid.uuid4().hex], name="id"))


def _bounded(name: str, value: float) -> None:
    column = TRIMS.by_name[name]
    lowest, highest = column.lowest, column.highest
    if lowest is not None and highest is not None and not lowest <= value <= highest:
        raise UserError(f"{name} is {value:g}; it must lie between {lowest:g} and {highest:g}.")


def add_trim(course: Course, wish: TrimWish, *, who: str) -> None:
    """Keep a trim.

    Raises:
        UserError: unknown subject, last night before the first, numbers out of bounds, no
            reason; a patch on the map without a sound outline, or with minutes.
    """
    patch = _map_trim(wish) if wish.subject == MAP_SUBJECT else None
    subject = wish.subject if patch is not None else known_subject(course, wish.subject)
    if not wish.reason.strip():
        raise UserError("Give the reason; others will read it.")
    _bounded("factor", wish.factor)
    _bounded("extra_min", wish.extra_min)
    if wish.factor == 1 and wish.extra_min == 0:
        raise UserError("This trim changes nothing. Give --factor or --extra-min.")
    if wish.last_night < wish.first_night:
        raise UserError(
            f"The last night {wish.last_night} lies before the first, {wish.first_night}."
        )
    row = {
        "subject": subject,
        "factor": wish.factor,
        "extra_min": wish.extra_min,
        "reason": wish.reason,
        "author": who,
        "first_night": wish.first_night.isoformat(),
        "last_night": wish.last_night.isoformat(),
        **({} if patch is None else {GEOMETRY: patch}),
    }
    course.file.append("trims", _one_row(row))


def trim_words(factor: float, extra_min: float) -> str:
    """What a trim does, in short."""
    times = 1.0 if pd.isna(factor) else factor
    added = 0.0 if pd.isna(extra_min) else extra_min
    return f"× {times:g} + {added:g} min"


_KEPT: Final = ("subject", "reason", "author")
LISTED: Final = ("id", "what", "subject", "change", "first", "last", "reason", "author", "ended")


def exceptions(course: Course) -> list[dict[str, str]]:
    """Every trim and hold, the latest end last: id, what, subject, change, first, last, …"""
    zone = ZoneInfo(course.settings.site.timezone)

    def local(text: str) -> str:
        return datetime.fromisoformat(text).astimezone(zone).strftime("%Y-%m-%dT%H:%M")

    trims = [
        {
            "id": str(identity),
            "what": "trim",
            "change": trim_words(row["factor"], row["extra_min"]),
            "first": row["first_night"],
            "last": row["last_night"],
            "ended": ended_words(row, zone),
        }
        | {name: row[name] for name in _KEPT}
        for identity, row in course.file.running("trims").iterrows()
    ]
    holds = [
        {
            "id": str(identity),
            "what": "hold",
            "change": row["cause"],
            "first": local(row["start"]),
            "last": local(row["end"]),
            "ended": ended_words(row, zone),
        }
        | {name: row[name] for name in _KEPT}
        for identity, row in course.file.running("holds").iterrows()
    ]
    return sorted([*trims, *holds], key=lambda row: row["last"])


def end_exception(course: Course, identity: str, *, who: str, now: datetime, why: str = "") -> None:
    """End a trim with the night before today's, or a hold at once.

    Who did it, when, why, and how long it should have lasted are kept with it.

    Raises:
        NotFoundError: no trim or hold has that id.
        UserError: it is over already.
    """
    today = now.astimezone(ZoneInfo(course.settings.site.timezone)).date()
    ends = {
        "trims": (today - timedelta(days=1)).isoformat(),
        "holds": now.astimezone(UTC).strftime(INSTANT),
    }
    for table, end in ends.items():
        if identity in course.file.running(table).index:
            end_early(course, table, identity, end, who=who, why=why, now=now)
            return
    raise NotFoundError(
        f"There is no trim or hold '{identity}'. 'nightwater exceptions' lists them."
    )
