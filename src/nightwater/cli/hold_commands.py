"""holds, end-hold: what is held, what it keeps back, and ending it early."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any
from zoneinfo import ZoneInfo

import typer

from nightwater.cli.options import ByOption, CourseArgument, UnitsOption, author, now
from nightwater.cli.printing import Format, FormatOption, print_read, say
from nightwater.desk.course import night_date, open_course
from nightwater.desk.holding import HoldState, ListedHold, end_hold, holds_listed

COLUMNS = (
    "id", "state", "holds", "cause", "reason", "author", "start", "end", "stations", "held_min",
    "held_m3", "before_m3", "ended",
)  # fmt: skip
# What fits a terminal; who, when and why stand in the other forms.
SHOWN = ("id", "state", "holds", "cause", "reason", "end", "stations", "held_m3")


def _row(hold: ListedHold, zone: ZoneInfo) -> dict[str, Any]:
    return {
        "id": hold.id,
        "state": hold.state.value,
        "holds": hold.words,
        "cause": hold.cause,
        "reason": hold.reason,
        "author": hold.author,
        "start": hold.start.astimezone(zone).strftime("%Y-%m-%dT%H:%M"),
        "end": hold.end.astimezone(zone).strftime("%Y-%m-%dT%H:%M"),
        "stations": hold.tonight.stations,
        "held_min": hold.tonight.minutes,
        "held_m3": hold.tonight.litres / 1000,
        "before_m3": hold.before.litres / 1000,
        "ended": hold.ended,
    }


def _night(given: str | None, moment: datetime, zone: ZoneInfo) -> str:
    return given or moment.astimezone(zone).date().isoformat()


def holds(
    course: CourseArgument,
    night: Annotated[
        str | None, typer.Option("--night", help="Whose latest plan tells the water; tonight's.")
    ] = None,
    every: Annotated[bool, typer.Option("--all", help="Also what is over.")] = False,
    units: UnitsOption = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """Every hold with its end, and the water it keeps back tonight and kept back before.

    What is kept back stays owed: it is lacking in the soil, and the account asks for it.
    """
    moment = now()
    with open_course(course) as opened:
        site = opened.settings.site
        zone = ZoneInfo(site.timezone)
        listed = holds_listed(opened, night_date(_night(night, moment, zone)), moment)
    standing = (HoldState.ON, HoldState.COMING)
    rows = [_row(hold, zone) for hold in listed if every or hold.state in standing]
    columns = SHOWN if form is Format.TABLE else COLUMNS
    print_read(rows, columns, form, f"Holds of {course.name}", units=units, usual=site.units)


def end_hold_early(
    course: CourseArgument,
    identity: Annotated[str, typer.Argument(metavar="ID", help="Id from 'nightwater holds'.")],
    why: Annotated[str, typer.Option("--why", help="Why it ends early; others will read it.")],
    by: ByOption = None,
) -> None:
    """End a hold now. It stays in the list with who ended it, when and why."""
    with open_course(course) as opened:
        end_hold(opened, identity, why, who=author(by), now=now())
    say(f"Hold {identity} is ended. A night that is planned already must be planned again.")


def add_to(app: typer.Typer) -> None:
    """Register this module's commands."""
    app.command()(holds)
    app.command(name="end-hold")(end_hold_early)
