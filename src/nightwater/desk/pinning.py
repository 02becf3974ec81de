"""Pin a station's start: tried before the referee at once, kept as a new draft edition."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

from nightwater.desk.course import Course
from nightwater.desk.exceptions import known_subject
from nightwater.desk.nights import StoredNight, night_by_id
from nightwater.desk.planning import judge, plan
from nightwater.desk.sheet import clock
from nightwater.findings import Finding, Severity, UserError
from nightwater.night.document import night_to_document
from nightwater.night.pinning import can_move, moved, runs_of, unpinned
from nightwater.night.plan import Night, Run

_MINUTES_A_DAY: Final = 1440


@dataclass(frozen=True)
class Tried:
    """A pin as the referee sees it; nothing is kept.

    Attributes:
        night: the night with the station moved.
        station, label: which.
        before, after: local clock of its first start.
        errors: what the referee has against it.
        judged: all that the referee says of the night.
        highest_l_s: highest flow of the night while the station runs.
    """

    night: Night
    station: str
    label: str
    before: str
    after: str
    errors: tuple[Finding, ...]
    judged: tuple[Finding, ...]
    highest_l_s: float


def minute_of(night: Night, text: str, timezone: str) -> int:
    """The minute of the night at which the local clock shows HH:MM.

    Raises:
        UserError: no clock time, or one outside the night.
    """
    try:
        wanted = datetime.strptime(text.strip(), "%H:%M")
    except ValueError:
        raise UserError(f"'{text}' is no clock time. Write it like 02:30.") from None
    first = datetime.strptime(clock(night, 0, timezone), "%H:%M")
    guess = int((wanted - first).total_seconds() // 60) % _MINUTES_A_DAY
    # Right beside a change of clocks: the same time is up to an hour away, or is not there.
    for minute in (guess, guess - 60, guess + 60):
        if 0 <= minute <= night.window.minutes and clock(night, minute, timezone) == text.strip():
            return minute
    raise UserError(
        f"{text} is not in this night, which lasts from {clock(night, 0, timezone)} to "
        f"{clock(night, night.window.minutes, timezone)}."
    )


def _draft(course: Course, night_id: str) -> StoredNight:
    stored = night_by_id(course, night_id)
    if stored.state != "draft":
        raise UserError(
            f"Edition {stored.edition} of {stored.plan.night} is {stored.state}; only a draft can "
            "be changed. Plan the night again to make one."
        )
    return stored


def _highest_l_s(night: Night, runs: list[Run]) -> float:
    return max(max(night.flow_l_s[r.start_min : r.start_min + r.run_min]) for r in runs)


def try_pin(course: Course, night_id: str, station: str, start: str, *, who: str) -> Tried:
    """Move a station in a draft and ask the referee; nothing is kept.

    Args:
        course: the course.
        night_id: a draft.
        station: id or label.
        start: local clock HH:MM of its first cycle.
        who: who pins.

    Raises:
        NotFoundError: no such night.
        UserError: not a draft, an unknown station or time, or a start that cannot be.
    """
    night = _draft(course, night_id).plan
    timezone = course.settings.site.timezone
    identity = known_subject(course, f"stations:{station}").partition(":")[2]
    start_min = minute_of(night, start, timezone)
    refused = can_move(night, identity, start_min)
    if refused is not None:
        raise UserError(f"Station {station} cannot start at {start}: {refused}.")
    before = clock(night, runs_of(night, identity)[0].start_min, timezone)
    made = moved(night, identity, start_min, who)
    judged = judge(course, made)
    errors = tuple(finding for finding in judged if finding.severity is Severity.ERROR)
    label = course.ground.stations["label"].get(identity) or identity
    flow = _highest_l_s(made, runs_of(made, identity))
    judged_so = tuple(judged)
    return Tried(made, identity, str(label), before, start.strip(), errors, judged_so, flow)


def pin(
    course: Course, night_id: str, station: str, start: str, *, who: str, now: datetime
) -> StoredNight:
    """Keep a pin as the next draft edition; what else runs stays where it is.

    Raises:
        NotFoundError, UserError: see `try_pin`; also where the referee refuses the move.
    """
    tried = try_pin(course, night_id, station, start, who=who)
    if tried.errors:
        raise UserError(
            f"Station {tried.label} cannot start at {tried.after}: {tried.errors[0].message} "
            f"({len(tried.errors)} error{'s' if len(tried.errors) > 1 else ''} in all.) Choose "
            "another time, or plan the rest around it."
        )
    return _kept(course, _with_judged(course, night_id, tried), now)


def _with_judged(course: Course, night_id: str, tried: Tried) -> Night:
    """The moved night, in which what the referee said of the night before gives way."""
    before = night_by_id(course, night_id).plan
    gone = set(judge(course, before))
    kept = [finding for finding in before.findings if finding not in gone]
    return replace(tried.night, findings=tuple(dict.fromkeys([*kept, *tried.judged])))


def pin_and_replan(
    course: Course, night_id: str, station: str, start: str, *, who: str, now: datetime
) -> StoredNight:
    """Plan the night anew around a pin and those that were there; need and minutes as of now.

    Raises:
        NotFoundError, UserError: see `try_pin`.
    """
    tried = try_pin(course, night_id, station, start, who=who)
    return plan(course, tried.night.night, who=who, now=now, pins=tried.night.pins)


def unpin(course: Course, night_id: str, station: str, *, now: datetime) -> StoredNight:
    """Take a pin out, as the next draft edition; the station stays until a plan moves it.

    Raises:
        NotFoundError: no such night.
        UserError: not a draft, or nothing is pinned there.
    """
    night = _draft(course, night_id).plan
    if station not in {one.station for one in night.pins}:
        raise UserError(f"Station {station} is not pinned in this draft.")
    return _kept(course, unpinned(night, station), now)


def _kept(course: Course, night: Night, now: datetime) -> StoredNight:
    identity = course.file.save_night(night.night, night_to_document(night), now)
    return night_by_id(course, identity)
