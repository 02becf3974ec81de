"""Trims and holds as a plan keeps them: what, until when, by whom and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from nightwater.night.reading import DocumentReader

TRIM_KEYS = ("subject", "factor", "extra_min", "last_night", "reason", "author", "share")
HOLD_KEYS = ("cause", "until", "reason", "author")


@dataclass(frozen=True)
class ActingTrim:
    """A trim that acts on a station on a night.

    Attributes:
        subject: what it changes, as the trims table has it; "map" for a drawn patch.
        factor: times the minutes; of a patch, times the need of its ground.
        extra_min: minutes added; 0 of a patch.
        last_night: the last on which it acts.
        reason, author: as given.
        share: share of the station's water that falls where it acts; below 1 only of a patch.
    """

    subject: str
    factor: float
    extra_min: float
    last_night: date
    reason: str
    author: str
    share: float = 1.0


@dataclass(frozen=True)
class ActingHold:
    """The hold that keeps a station out of a night: its cause, instant of its end, and words."""

    cause: str
    until: datetime
    reason: str
    author: str


def trim_to_row(trim: Mapping[str, Any]) -> dict[str, Any]:
    """The fields of a trim as plain values of a document."""
    return {**trim, "last_night": trim["last_night"].isoformat()}


def hold_to_row(hold: ActingHold | None) -> dict[str, Any] | None:
    """A hold as plain values of a document; null without one."""
    return None if hold is None else {**vars(hold), "until": hold.until.isoformat()}


def _night(reader: DocumentReader, value: Any, where: str) -> date:
    try:
        return date.fromisoformat(value)
    except (TypeError, ValueError):
        reader.faults.append(f"{where} 'last_night' is {value!r}, not a date like 2026-07-14")
        return date.min


def trims_from_rows(
    reader: DocumentReader, row: Mapping[str, Any], where: str
) -> tuple[ActingTrim, ...]:
    """The trims of a sum's row; faults are told to the reader."""
    return tuple(
        ActingTrim(
            subject=reader.text(trim, "subject", place),
            factor=reader.number(trim["factor"], f"{place} 'factor'"),
            extra_min=reader.number(trim["extra_min"], f"{place} 'extra_min'"),
            last_night=_night(reader, trim["last_night"], place),
            reason=reader.text(trim, "reason", place),
            author=reader.text(trim, "author", place),
            share=reader.number(trim["share"], f"{place} 'share'"),
        )
        for inner, trim in reader.rows(row, "trims", TRIM_KEYS, TRIM_KEYS)
        for place in [f"{where} {inner}"]
    )


def hold_from_row(reader: DocumentReader, value: Any, where: str) -> ActingHold | None:
    """The hold of a row that is left out; None for null. Faults are told to the reader."""
    if value is None:
        return None
    row = reader.mapping(value, f"{where} 'hold'", HOLD_KEYS, HOLD_KEYS)
    until = None if row is None else reader.instant(row["until"], f"{where} hold 'until'")
    if row is None or until is None:
        return None
    return ActingHold(
        cause=reader.text(row, "cause", where),
        until=until,
        reason=reader.text(row, "reason", where),
        author=reader.text(row, "author", where),
    )
