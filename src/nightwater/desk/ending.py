"""Trims and holds that somebody ended early: what is kept of it, and how it is told."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

import pandas as pd

from nightwater.desk.course import Course
from nightwater.findings import UserError

INSTANT: Final = "%Y-%m-%dT%H:%M:%SZ"
_END: Final = {"trims": "last_night", "holds": "end"}


def end_early(
    course: Course, table: str, identity: str, end: str, *, who: str, why: str, now: datetime
) -> None:
    """Give a trim or hold an earlier end, and keep beside it who, when, why and the old one.

    Args:
        course: the course.
        table: "trims" or "holds".
        identity: which, known to be there.
        end: its new end as the table writes it.
        who: that ends it.
        why: as said; may be empty.
        now: when.

    Raises:
        UserError: it ends no later than that anyway.
    """
    column, row = _END[table], course.file.running(table).loc[identity]
    before = str(row[column])
    if before <= end:
        raise UserError(f"The {table[:-1]} on {row['subject']} is over already.")
    changed = {
        column: end,
        "meant_until": before,
        "ended": now.astimezone(UTC).strftime(INSTANT),
        "ended_by": who,
        "ended_why": why.strip() or None,
    }
    course.file.append(table, pd.DataFrame([changed], index=pd.Index([identity], name="id")))


def _clock(text: str, zone: ZoneInfo) -> str:
    return datetime.fromisoformat(text).astimezone(zone).strftime("%Y-%m-%d %H:%M")


def ended_words(row: Mapping[str, Any] | pd.Series[Any], zone: ZoneInfo) -> str:
    """Who ended a trim or hold early, when, its old end and why; empty where nobody did."""
    if pd.isna(row["ended"]):
        return ""
    meant = str(row["meant_until"])
    until = meant if len(meant) == len(date.min.isoformat()) else _clock(meant, zone)
    why = "" if pd.isna(row["ended_why"]) else f": {row['ended_why']}"
    when = _clock(str(row["ended"]), zone)
    return f"{row['ended_by']}, {when} (it was to last until {until}){why}"
