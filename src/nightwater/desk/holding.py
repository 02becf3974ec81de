"""Holds: where no water goes, from when to when, why, by whom, and what it keeps back."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import UTC, date, datetime
from enum import StrEnum
from typing import Final
from zoneinfo import ZoneInfo

import pandas as pd

from nightwater.desk.course import Course
from nightwater.desk.ending import INSTANT, end_early, ended_words
from nightwater.desk.exceptions import known_subject
from nightwater.desk.nights import recent_approved, stored_night
from nightwater.findings import NotFoundError, UserError
from nightwater.ground.running_tables import HOLDS
from nightwater.night.holds import (
    NOTHING_KEPT,
    POINT,
    Circle,
    KeptBack,
    circle_of,
    kept_back,
)

TABLES: Final = ("areas", "holes", "stations", "heads", "controllers")
CAUSES: Final = HOLDS.by_name["cause"].choices
MOST_RADIUS_M: Final = 2000.0  # beyond a course's own size it is a hold on the course


@dataclass(frozen=True)
class HoldWish:
    """A hold somebody asks for; start and end are local clock times, ISO 8601."""

    subject: str
    cause: str
    start: str
    end: str
    reason: str


class HoldState(StrEnum):
    """Where a hold stands at an instant."""

    ON = "on"
    COMING = "coming"
    OVER = "over"
    ENDED = "ended early"


@dataclass(frozen=True)
class ListedHold:
    """A hold as the standing list shows it.

    Attributes:
        id, subject, cause, author: as kept.
        words: what it holds, as people call it.
        reason: why, as it was given.
        ended: who ended it early, when, why and until when it was to last; else empty.
        start, end: instants; the end is what counts now.
        state: at the instant asked for.
        tonight: what it keeps back in the latest plan of the night asked for.
        before: what it kept back in the approved nights before that.
    """

    id: str
    subject: str
    words: str
    cause: str
    reason: str
    ended: str
    author: str
    start: datetime
    end: datetime
    state: HoldState
    tonight: KeptBack
    before: KeptBack


def held_subject(course: Course, subject: str) -> str:
    """A subject of a hold by id, or a circle to the decimetre.

    Raises:
        UserError: it names nothing, or no circle that can be one.
    """
    if not subject.startswith(f"{POINT}:"):
        return known_subject(course, subject, TABLES)
    circle = circle_of(subject)
    if circle is None:
        raise UserError(
            f"'{subject}' is no circle. Write point:X,Y,RADIUS in the course's metres, for "
            "instance point:502310.5,4338120.0,25."
        )
    if circle.radius_m > MOST_RADIUS_M:
        raise UserError(
            f"The radius is {circle.radius_m:g} m; it may be up to {MOST_RADIUS_M:g} m. Hold the "
            "whole course instead."
        )
    return circle.subject


def around_head(course: Course, head: str, radius_m: float) -> str:
    """The circle around a head, as a subject.

    Raises:
        UserError: no such head, a head without a place, or no radius.
    """
    identity = known_subject(course, f"heads:{head}", TABLES).partition(":")[2]
    place = course.ground.heads.geometry[identity]
    if place is None or place.is_empty:
        raise UserError(f"Head {head} has no place in the record, so nothing lies around it.")
    if not 0 < radius_m <= MOST_RADIUS_M:
        raise UserError(f"The radius must be above 0 and up to {MOST_RADIUS_M:g} m.")
    return Circle(place.x, place.y, radius_m).subject


def _utc(text: str, timezone: str) -> datetime:
    try:
        local = datetime.fromisoformat(text)
    except ValueError:
        raise UserError(f"'{text}' is not a time. Write it like 2026-07-14T22:30.") from None
    zoned = local if local.tzinfo else local.replace(tzinfo=ZoneInfo(timezone))
    return zoned.astimezone(UTC)


def add_hold(course: Course, wish: HoldWish, *, who: str) -> str:
    """Keep a hold; gives its id.

    Raises:
        UserError: unknown subject or cause, no reason, or an end that is not after the start.
    """
    subject = held_subject(course, wish.subject)
    if wish.cause not in CAUSES:
        raise UserError(f"'{wish.cause}' is no cause of a hold. Use one of {', '.join(CAUSES)}.")
    if not wish.reason.strip():
        raise UserError("A hold needs a reason; others will read it.")
    zone = course.settings.site.timezone
    start, end = _utc(wish.start, zone), _utc(wish.end, zone)
    if end <= start:
        raise UserError(f"The hold ends at {wish.end}, which is not after {wish.start}.")
    row = {
        "subject": subject,
        "cause": wish.cause,
        "reason": wish.reason.strip(),
        "author": who,
        "start": start.strftime(INSTANT),
        "end": end.strftime(INSTANT),
    }
    identity = uuid.uuid4().hex[:10]
    course.file.append("holds", pd.DataFrame([row], index=pd.Index([identity], name="id")))
    return identity


def end_hold(course: Course, identity: str, why: str, *, who: str, now: datetime) -> None:
    """End a hold now; the hold stays in the list with who ended it, when, why, and its old end.

    A hold that has not begun ends before it starts: it then holds nothing.

    Raises:
        NotFoundError: no such hold.
        UserError: it is over already, or nobody says why.
    """
    rows = course.file.running("holds")
    if identity not in rows.index:
        raise NotFoundError(f"There is no hold '{identity}'. 'nightwater holds' lists them.")
    if not why.strip():
        raise UserError("Say why the hold ends early; others will read it.")
    end_early(
        course, "holds", identity, now.astimezone(UTC).strftime(INSTANT), who=who, why=why, now=now
    )


def _label(course: Course, table: str, identity: str) -> str:
    rows = course.ground.table(table)
    for column in ("label", "number"):
        if column in rows and identity in rows.index and pd.notna(rows[column][identity]):
            value = rows[column][identity]
            return f"{value:g}" if isinstance(value, float) else str(value)
    return identity


def subject_words(course: Course, subject: str) -> str:
    """What a hold holds, as people call it; circles in metres."""
    table, _, name = subject.partition(":")
    if subject == "course":
        return "the whole course"
    if table == "kind":
        return f"every {name}"
    circle = circle_of(subject)
    if circle is not None:
        return f"{circle.radius_m:g} m around {circle.x_m:.0f}, {circle.y_m:.0f}"
    if table not in TABLES:
        return subject
    label, one = _label(course, table, name), table.removesuffix("s")
    return label.lower() if label.lower().startswith(f"{one} ") else f"{one} {label}"


def _state(ended: str, start: datetime, end: datetime, now: datetime) -> HoldState:
    if ended:
        return HoldState.ENDED
    if end <= now:
        return HoldState.OVER
    return HoldState.COMING if start > now else HoldState.ON


def _added(one: KeptBack, more: KeptBack) -> KeptBack:
    return KeptBack(
        max(one.stations, more.stations), one.minutes + more.minutes, one.litres + more.litres
    )


MOST_NIGHTS: Final = 30


def _kept_before(course: Course, holds: pd.DataFrame, night: date) -> dict[str, KeptBack]:
    """What holds kept back in the approved nights before one; of these the last thirty."""
    found: dict[str, KeptBack] = {}
    for stored in recent_approved(course, night, MOST_NIGHTS):
        touched = _touching(holds, stored.plan.window.start, stored.plan.window.end)
        if stored.plan.night == night or touched.empty or not stored.plan.left_out:
            continue
        for identity, kept in kept_back(stored.plan, course.ground, touched).items():
            found[identity] = _added(found.get(identity, NOTHING_KEPT), kept)
    return found


def _touching(holds: pd.DataFrame, start: datetime, end: datetime) -> pd.DataFrame:
    """The holds whose given time, whenever they ended, may touch a stretch."""
    begun = pd.to_datetime(holds["start"], utc=True) < pd.Timestamp(end)
    lasting = pd.to_datetime(holds["end"], utc=True) > pd.Timestamp(start)
    return holds[begun & (lasting | holds["ended"].notna())]


def holds_listed(course: Course, night: date, now: datetime) -> list[ListedHold]:
    """Every hold, those that are on first, then those to come, then what is over.

    Args:
        course: the course.
        night: of which night's latest plan the water kept back is told.
        now: a hold whose end is past is over by itself.
    """
    rows = course.file.running("holds")
    if rows.empty:
        return []
    planned, ground = stored_night(course, night), course.ground
    tonight = {} if planned is None else kept_back(planned.plan, ground, rows)
    before = _kept_before(course, rows, night)
    listed, zone = [], ZoneInfo(course.settings.site.timezone)
    for identity, row in rows.iterrows():
        start, end = (datetime.fromisoformat(row[name]) for name in ("start", "end"))
        ended = ended_words(row, zone)
        listed.append(
            ListedHold(
                id=str(identity),
                subject=row["subject"],
                words=subject_words(course, row["subject"]),
                cause=row["cause"],
                reason=row["reason"],
                ended=ended,
                author=row["author"],
                start=start,
                end=end,
                state=_state(ended, start, end, now),
                tonight=tonight.get(str(identity), NOTHING_KEPT),
                before=before.get(str(identity), NOTHING_KEPT),
            )
        )
    order = list(HoldState)
    return sorted(listed, key=lambda hold: (order.index(hold.state), hold.end, hold.id))
