"""Trims and holds: hand changes with author, reason and end."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from difflib import get_close_matches
from typing import Final
from zoneinfo import ZoneInfo

import pandas as pd

from nightwater.desk.course import Course
from nightwater.findings import NotFoundError, UserError
from nightwater.ground.tables import AREA_KINDS, TRIMS

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


def known_subject(course: Course, subject: str, tables: Sequence[str] = _TABLES) -> str:
    """A subject by id: as written, or by the label or number that people use.

    Raises:
        UserError: no such table, kind or row; with names like it.
    """
    table, _, name = subject.partition(":")
    if subject == "course" or (table == "kind" and name in AREA_KINDS):
        return subject
    if table == "kind":
        raise UserError(f"There is no kind of area '{name}'.{_near(name, AREA_KINDS)}")
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
    many = f" {len(found)} rows are called so; use the id." if found else _near(name, every)
    raise UserError(f"Table {table} has no row '{name}'.{many}")


def _called(rows: pd.DataFrame, identity: str) -> set[str]:
    """What people call a row: its id, its label, a hole's number."""
    row = rows.loc[identity]
    words = (row.get(column) for column in ("label", "number"))
    return {str(identity)} | {
        f"{word:g}" if isinstance(word, float) else str(word) for word in words if pd.notna(word)
    }


def _near(name: str, known: Iterable[str]) -> str:
    near = get_close_matches(name, list(known), 3)
    return f" Did you mean {' or '.join(near)}?" if near else ""


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
        UserError: unknown subject, last night before the first, or numbers out of bounds.
    """
    subject = known_subject(course, wish.subject)
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
    }
    course.file.append("trims", _one_row(row))


LISTED: Final = ("id", "what", "subject", "change", "first", "last", "reason", "author")


def exceptions(course: Course) -> list[dict[str, str]]:
    """Every trim and hold, the latest end last: id, what, subject, change, first, last, …"""
    zone = ZoneInfo(course.settings.site.timezone)

    def local(text: str) -> str:
        return datetime.fromisoformat(text).astimezone(zone).strftime("%Y-%m-%dT%H:%M")

    trims = [
        {
            "id": str(identity),
            "what": "trim",
            "change": f"× {row['factor']:g} + {row['extra_min']:g} min",
            "first": row["first_night"],
            "last": row["last_night"],
        }
        | {name: row[name] for name in ("subject", "reason", "author")}
        for identity, row in course.file.running("trims").iterrows()
    ]
    holds = [
        {
            "id": str(identity),
            "what": "hold",
            "change": row["cause"],
            "first": local(row["start"]),
            "last": local(row["end"]),
        }
        | {name: row[name] for name in ("subject", "reason", "author")}
        for identity, row in course.file.running("holds").iterrows()
    ]
    return sorted([*trims, *holds], key=lambda row: row["last"])


def end_exception(course: Course, identity: str, *, who: str, now: datetime) -> None:
    """End a trim with the night before today's, or a hold at once; who did it is kept.

    Raises:
        NotFoundError: no trim or hold has that id.
    """
    today = now.astimezone(ZoneInfo(course.settings.site.timezone)).date()
    ends = {"trims": ("last_night", (today - timedelta(days=1)).isoformat())}
    ends["holds"] = ("end", now.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"))
    for table, (column, end) in ends.items():
        rows = course.file.running(table)
        if identity in rows.index:
            row = rows.loc[[identity]].iloc[0]
            changed = pd.DataFrame(
                [{column: min(end, row[column]), "reason": f"{row['reason']} (ended by {who})"}],
                index=pd.Index([identity], name="id"),
            )
            course.file.append(table, changed)
            return
    raise NotFoundError(
        f"There is no trim or hold '{identity}'. 'nightwater exceptions' lists them."
    )
