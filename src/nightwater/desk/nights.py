"""Nights as the course file holds them."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import Any, Final

import pandas as pd

from nightwater.desk.course import Course
from nightwater.findings import NotFoundError
from nightwater.night.document import night_from_document
from nightwater.night.plan import Night
from nightwater.proof.document import proof_from_document
from nightwater.proof.verdict import Proof


@dataclass(frozen=True)
class StoredNight:
    """One edition of a night.

    Attributes:
        id: key in the course file.
        plan: the night itself.
        edition: 1, 2 … for the same date.
        state: "draft", "approved" or "replaced".
        made, approved: UTC instants.
        proof: what log and meters say, once known.
    """

    id: str
    plan: Night
    edition: int
    state: str
    made: datetime
    approved_by: str | None
    approved: datetime | None
    proof: Proof | None


_PARSED: Final = 12  # a night of 950 stations takes 3 MB


@lru_cache(maxsize=_PARSED)
def _parsed(text: str) -> Night:
    """A kept document as a night; the same text gives the same night, which nobody can change."""
    return night_from_document(json.loads(text))


def _instant(text: str | None) -> datetime | None:
    return datetime.fromisoformat(text) if text else None


def _stored(identity: str, row: pd.Series[Any]) -> StoredNight:
    proof = row["proof"]
    return StoredNight(
        id=identity,
        plan=_parsed(row["plan"]),
        edition=int(row["edition"]),
        state=str(row["state"]),
        made=datetime.fromisoformat(row["made"]),
        approved_by=row["approved_by"],
        approved=_instant(row["approved"]),
        proof=proof_from_document(json.loads(proof)) if proof else None,
    )


def _read(rows: pd.DataFrame) -> list[StoredNight]:
    ordered = rows.sort_values(["night", "edition"])
    return [_stored(str(identity), row) for identity, row in ordered.iterrows()]


def nights(course: Course) -> list[StoredNight]:
    """Every edition of every night, oldest first."""
    return _read(course.file.nights())


def approved_nights(course: Course) -> list[StoredNight]:
    """The approved edition of every night, oldest first."""
    return _read(course.file.running("nights", state="approved"))


def approved_between(course: Course, first: date, before: date) -> list[StoredNight]:
    """The approved editions of the nights from one date up to another, which is not among them."""
    rows = course.file.running("nights", state="approved")
    return _read(rows[rows["night"].between(first.isoformat(), before.isoformat(), "left")])


def recent_approved(course: Course, until: date, most: int) -> list[StoredNight]:
    """The latest approved nights up to a date, that date's own included, oldest first."""
    rows = course.file.running("nights", state="approved")
    rows = rows[rows["night"] <= until.isoformat()].sort_values("night")
    return _read(rows.tail(most))


def _latest(rows: pd.DataFrame) -> StoredNight | None:
    if rows.empty:
        return None
    row = rows.sort_values("edition").iloc[-1]
    return _stored(str(row.name), row)


def stored_night(course: Course, night: date) -> StoredNight | None:
    """The latest edition of a date's night, or None."""
    return _latest(course.file.running("nights", night=night.isoformat()))


def approved_night(course: Course, night: date) -> StoredNight | None:
    """The approved edition of a date's night, or None."""
    return _latest(course.file.running("nights", night=night.isoformat(), state="approved"))


def night_by_id(course: Course, night_id: str) -> StoredNight:
    """The edition with that id.

    Raises:
        NotFoundError: there is none.
    """
    rows = course.file.nights()
    if night_id not in rows.index:
        raise NotFoundError(f"There is no night '{night_id}' in this course.")
    return _stored(night_id, rows.loc[[night_id]].iloc[0])


def required_night(course: Course, night: date) -> StoredNight:
    """The latest edition of a date's night.

    Raises:
        NotFoundError: nothing is planned for that date.
    """
    found = stored_night(course, night)
    if found is None:
        raise NotFoundError(f"No night is planned for {night.isoformat()}. Plan it first.")
    return found


def latest_night(course: Course) -> StoredNight:
    """The latest edition of the last night that is planned.

    Raises:
        NotFoundError: no night is planned.
    """
    dates = course.file.nights()["night"]
    if dates.empty:
        raise NotFoundError("No night is planned in this course. Plan one first.")
    return required_night(course, date.fromisoformat(str(dates.max())))


def required_approved(course: Course, night: date) -> StoredNight:
    """The approved edition of a date's night.

    Raises:
        NotFoundError: none is approved.
    """
    found = approved_night(course, night)
    if found is None:
        raise NotFoundError(
            f"No night is approved for {night.isoformat()}. Approve its plan first."
        )
    return found
