"""elevations: levels of heads, pumps and pipes out of a raster of heights."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nightwater.cli.options import ByOption, CourseArgument, WhyOption, author, confirmed, now
from nightwater.cli.printing import Format, FormatOption, leave_by, print_findings, print_rows, say
from nightwater.desk.course import open_course
from nightwater.desk.levelling import accept_levels, propose_levels

COLUMNS = ("what", "new", "changed", "kept", "outside")


def elevations(
    course: CourseArgument,
    file: Annotated[Path, typer.Argument(metavar="FILE.tif", help="A raster of heights.")],
    unit: Annotated[
        str | None, typer.Option("--unit", help="What its heights are in: m, ft, us-ft, cm …")
    ] = None,
    crs: Annotated[
        str | None, typer.Option("--crs", help="Coordinate system, where the file does not say.")
    ] = None,
    overrule: Annotated[
        bool, typer.Option("--overrule", help="Change levels that the record has already.")
    ] = False,
    yes: Annotated[bool, typer.Option("--yes", "-y", help="Accept without asking.")] = False,
    show_only: Annotated[
        bool, typer.Option("--show", help="Only show the proposal; change nothing.")
    ] = False,
    why: WhyOption = "levels from a raster",
    by: ByOption = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """Read levels of heads, pumps and ends of pipes from a raster, as a proposal.

    For example: elevations my.gpkg ground.tif --unit m
    """
    with open_course(course) as opened:
        found = propose_levels(opened, file, unit=unit, crs=crs, overrule=overrule)
        print_rows(found.counts, COLUMNS, form, f"Levels out of {file.name}")
        if form is Format.TABLE:
            print_findings(found.findings, form, f"Findings about {file.name}")
        if not show_only and (yes or confirmed("Accept these levels?")):
            revision = accept_levels(opened, found, who=author(by), why=why, now=now())
            say(f"Accepted as revision {revision}." if revision else "Nothing to change.")
        else:
            say("Nothing was changed.")
    leave_by(found.findings)


def add_to(app: typer.Typer) -> None:
    """Register this module's command."""
    app.command()(elevations)
