"""weather and et."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nightwater.cli.options import CourseArgument, UnitsOption, pairs
from nightwater.cli.printing import (
    Format,
    FormatOption,
    leave_by,
    print_findings,
    print_read,
    print_rows,
    say,
)
from nightwater.desk.course import open_course
from nightwater.desk.weathering import add_weather, file_columns, file_reference
from nightwater.units import UnitSystem

FileArgument = Annotated[Path, typer.Argument(metavar="FILE", help="CSV, TMY3 or EPW file.")]
ColumnOption = Annotated[
    list[str] | None,
    typer.Option("--column", help="Theirs=ours, for instance --column 'Rain total=rain_mm'."),
]
UnitOption = Annotated[
    list[str] | None,
    typer.Option("--unit", help="Unit of one of their columns: --unit 'Rain total=in'."),
]


def weather(
    course: CourseArgument,
    file: FileArgument,
    column: ColumnOption = None,
    unit: UnitOption = None,
    origin: Annotated[
        str, typer.Option("--origin", help="observed, forecast or typical.")
    ] = "observed",
    replace: Annotated[
        bool, typer.Option("--replace", help="Let new numbers replace observed ones.")
    ] = False,
    show_columns: Annotated[
        bool, typer.Option("--show-columns", help="Only show how columns would be matched.")
    ] = False,
    form: FormatOption = Format.TABLE,
) -> None:
    """Read weather: our own CSV, other layouts by column matching, TMY3 and EPW files."""
    columns, units = pairs(column or [], "--column"), pairs(unit or [], "--unit")
    if show_columns:
        matched = file_columns(file, columns)
        print_rows(matched, ("theirs", "ours", "unit"), form, f"Columns of {file.name}")
        return
    with open_course(course) as opened:
        added = add_weather(
            opened, file, columns=columns, units=units, origin=origin, replace=replace
        )
    print_findings(added.findings, form, f"Findings about {file.name}")
    say(
        f"{added.new} rows added, {added.changed} changed, {added.same} known already; "
        f"{origin} weather now reaches from {added.reach[0]} to {added.reach[1]}."
    )
    leave_by(added.findings)


def et(
    file: FileArgument,
    latitude: Annotated[float, typer.Option("--latitude", min=-90, max=90, help="North positive.")],
    longitude: Annotated[
        float, typer.Option("--longitude", min=-180, max=180, help="East positive.")
    ],
    elevation: Annotated[float, typer.Option("--elevation", help="Metres above the sea.")],
    hourly: Annotated[
        bool, typer.Option("--hourly", help="One row an hour, from hourly weather.")
    ] = False,
    timezone: Annotated[
        str, typer.Option("--timezone", help="Of times without an offset, as an IANA name.")
    ] = "UTC",
    column: ColumnOption = None,
    unit: UnitOption = None,
    units: UnitsOption = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """Reference ET of a weather file: short (ETo) and tall (ETr), with every fallback named."""
    result = file_reference(
        file,
        latitude_deg=latitude,
        longitude_deg=longitude,
        elevation_m=elevation,
        timezone=timezone,
        hourly=hourly,
        columns=pairs(column or [], "--column"),
        units=pairs(unit or [], "--unit"),
    )
    key = "time" if hourly else "date"
    print_read(
        result.rows,
        (key, "eto_mm", "etr_mm", "flags"),
        form,
        "Reference ET",
        units=units,
        usual=UnitSystem.METRIC,
    )
    if form is Format.TABLE:
        print_findings(result.findings, form)
    leave_by(result.findings)


def add_to(app: typer.Typer) -> None:
    """Register this module's commands."""
    for command in (weather, et):
        app.command()(command)
