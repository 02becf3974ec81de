"""changes: what a night changes, before it is approved."""

from __future__ import annotations

from typing import Annotated, cast

import typer

from nightwater.cli.options import CourseArgument, NightOption, UnitsOption
from nightwater.cli.printing import Format, FormatOption, print_read, say
from nightwater.desk.changing import Against, change_lines, change_rows, compare
from nightwater.desk.course import night_date, open_course
from nightwater.desk.nights import required_night
from nightwater.night.changes import CHANGED_SHARE

COLUMNS = {
    "reason": ("reason", "stations", "change_min", "change_m3"),
    "kind": ("kind", "stations", "change_min", "change_m3"),
    "area": ("area", "label", "stations", "change_min", "change_m3"),
    "station": ("station", "label", "area", "before_min", "after_min", "change_m3", "reasons"),
}


def changes(
    course: CourseArgument,
    night: NightOption,
    against: Annotated[
        str,
        typer.Option("--against", help="last (the last approved night) or ordinary."),
    ] = "last",
    by: Annotated[str, typer.Option("--by", help="reason, kind, area or station.")] = "reason",
    share: Annotated[
        float, typer.Option("--share", help="Count stations that change by more than this share.")
    ] = CHANGED_SHARE,
    units: UnitsOption = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """What the latest plan of a night changes, and why: need, record, fit, trim, hold, left out.

    A station counts with each of its reasons; its minutes and water are split between them.
    """
    with open_course(course) as opened:
        stored = required_night(opened, night_date(night))
        made = compare(opened, stored, cast("Against", against), share)
        usual = opened.settings.site.units
        rows = [] if made is None else change_rows(made, opened.ground, by)
    title = f"Changes of the night of {night}, by {by}"
    print_read(rows, COLUMNS.get(by, ()), form, title, units=units, usual=usual)
    say(change_lines(made, units or usual)[0])


def add_to(app: typer.Typer) -> None:
    """Register this module's commands."""
    app.command()(changes)
