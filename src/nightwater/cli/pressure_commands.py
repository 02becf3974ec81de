"""pressures: what the solved pipes say of a minute."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

import typer

from nightwater.cli.options import CourseArgument, UnitsOption
from nightwater.cli.printing import (
    Format,
    FormatOption,
    frame_rows,
    leave_by,
    print_findings,
    print_read,
    say,
)
from nightwater.desk.course import night_date, open_course
from nightwater.desk.pressures import SolvedMinute, open_stations, solved_minute
from nightwater.findings import UserError
from nightwater.units import UnitSystem, shown

SHOWN_ROWS = 30
COLUMNS = {
    "heads": ("head", "label", "station", "pressure_kpa", "least_kpa", "flow_l_s", "radius_m",
              "short"),
    "pipes": ("pipe", "words", "flow_l_s", "velocity_m_s", "limit_m_s", "share"),
    "pumps": ("pump", "flow_l_s", "head_m", "speed", "efficiency", "power_kw"),
}  # fmt: skip


class Part(StrEnum):
    """What is listed."""

    HEADS = "heads"
    PIPES = "pipes"
    PUMPS = "pumps"


def _summary(found: SolvedMinute, units: UnitSystem) -> list[str]:
    water = shown(found.drawn_l_s, "l_s", units)
    lines = [f"{len(found.heads)} heads of {len(found.stations)} stations run and draw {water}."]
    if not found.heads.empty:
        low = found.heads["pressure_kpa"]
        lines.append(
            f"Lowest pressure {shown(float(low.min()), 'kpa', units)} at head {low.idxmin()}; "
            f"{len(found.short)} heads have less than they should."
        )
    if not found.pipes.empty:
        worst = found.pipes.iloc[0]
        lines.append(
            f"Fastest against its limit: {worst['words']}, "
            f"{shown(float(worst['velocity_m_s']), 'm_s', units)} of "
            f"{shown(float(worst['limit_m_s']), 'm_s', units)}."
        )
    if not found.pumps.empty:
        held = "hold" if found.holds else "cannot hold"
        lines.append(f"Pumps draw {found.power_kw:.1f} kW and {held} their pressure.")
    if found.left_out:
        lines.append(
            f"{len(found.left_out)} heads of these stations stand on no pipe that is fed: "
            f"{', '.join(found.left_out[:5])}{' …' if len(found.left_out) > 5 else ''}."
        )
    return lines


def pressures(
    course: CourseArgument,
    night: Annotated[
        str | None, typer.Option("--night", help="Date of a planned night, with --at.")
    ] = None,
    at: Annotated[
        str | None, typer.Option("--at", help="Local clock time of that night, like 23:40.")
    ] = None,
    station: Annotated[
        list[str] | None,
        typer.Option("--station", help="Instead: a station that runs; may be given again."),
    ] = None,
    part: Annotated[
        Part, typer.Option("--list", help="What to list: heads, pipes or pumps.")
    ] = Part.HEADS,
    units: UnitsOption = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """Pressure, flow and throw of every head in one minute, by the solved pipes; nothing runs.

    Of a minute of a planned night, or of stations that you name. Heads that lack pressure
    stand first; pipes by their velocity over the limit; pumps with duty, efficiency and power.

    Raises:
        UserError: neither a night with a time nor stations, or both.
    """
    minute = None if night is None or at is None else (night_date(night), at)
    if (minute is None) != bool(station) or (night is None) != (at is None):
        raise UserError("Name either a night with --night and --at, or stations with --station.")
    with open_course(course) as opened:
        chosen = tuple(station or ()) if minute is None else open_stations(opened, *minute)
        found = solved_minute(opened, chosen)
        usual = opened.settings.site.units
    rows = frame_rows(getattr(found, part.value))
    cut = rows[:SHOWN_ROWS] if form is Format.TABLE else rows
    title = f"{part.value.capitalize()} by the solved pipes"
    print_read(cut, COLUMNS[part.value], form, title, units=units, usual=usual)
    if len(cut) < len(rows):
        say(f"… and {len(rows) - len(cut)} more; --format csv gives them all.")
    for line in _summary(found, units or usual):
        say(line)
    if form is Format.TABLE and found.findings:
        print_findings(found.findings, form)
    leave_by(found.findings)


def add_to(app: typer.Typer) -> None:
    """Register this module's command."""
    app.command()(pressures)
