"""new, survey, check, history, undo, export, settings, backup."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from nightwater.cli.options import (
    ByOption,
    CourseArgument,
    WhyOption,
    author,
    confirmed,
    now,
    pairs,
)
from nightwater.cli.printing import (
    FINDING_COLUMNS,
    Format,
    FormatOption,
    leave_by,
    print_findings,
    print_rows,
    print_settings,
    say,
)
from nightwater.desk.checking import check as check_deed
from nightwater.desk.choosing import change_settings, settings_rows
from nightwater.desk.course import open_course
from nightwater.desk.creating import NewCourse, create_course
from nightwater.desk.dismissing import sort_findings
from nightwater.desk.exporting import write_record
from nightwater.desk.history import revision_rows
from nightwater.desk.surveying import accept, column_rows, proposal_rows, survey_file
from nightwater.findings import UserError
from nightwater.survey.hard_ground import told_width_m
from nightwater.survey.propose import Proposal
from nightwater.survey.read import ReadOptions
from nightwater.units import UnitSystem


def new(
    course: CourseArgument,
    name: Annotated[str, typer.Option("--name", help="What the course is called.")],
    near: Annotated[
        str, typer.Option("--near", metavar="LAT,LON", help="A place on it; north, east positive.")
    ],
    elevation: Annotated[
        float, typer.Option("--elevation", help="Metres above the sea, for reference ET.")
    ],
    timezone: Annotated[
        str | None, typer.Option("--timezone", help="IANA name; found from the place if not given.")
    ] = None,
    crs: Annotated[
        str | None,
        typer.Option("--crs", help="Projected metric system, EPSG:n; the UTM zone if not given."),
    ] = None,
    units: Annotated[UnitSystem, typer.Option("--units", help="What people read.")] = UnitSystem.US,
) -> None:
    """Make an empty course file, with timezone and metric system from its place."""
    made = create_course(NewCourse(course, name, near, elevation, timezone, crs, units))
    say(f"Made {course}: {made.name}, times in {made.timezone}, metres in {made.crs}.")


COLUMN_COLUMNS = ("theirs", "ours", "certain", "unit", "units", "why", "examples")
OverruleOption = Annotated[
    bool, typer.Option("--overrule", help="The file is right where the record knows better.")
]
OwnIdsOption = Annotated[
    bool, typer.Option("--own-ids", help="Its ids are its own: find rows by place.")
]
ForgetColumnsOption = Annotated[
    bool, typer.Option("--forget-columns", help="Forget what was said of such columns.")
]


def survey(
    course: CourseArgument,
    file: Annotated[
        Path,
        typer.Argument(
            metavar="FILE",
            help="GeoJSON, GeoPackage, Shapefile, KML, GPX, DXF, map XML, CSV, XLSX.",
        ),
    ],
    table: Annotated[
        str, typer.Option("--as", metavar="TABLE", help="Which table it fills: heads, areas …")
    ],
    crs: Annotated[
        str | None, typer.Option("--crs", help="Coordinate system, where the file does not say.")
    ] = None,
    layer: Annotated[
        str | None, typer.Option("--layer", help="Layer, folder or sheet; a pattern in a drawing.")
    ] = None,
    drawing_unit: Annotated[
        str | None,
        typer.Option("--drawing-unit", help="What a drawing is drawn in: m, mm, ft, us-ft, in …"),
    ] = None,
    column: Annotated[
        list[str] | None, typer.Option("--column", help="Theirs=ours, as often as needed.")
    ] = None,
    unit: Annotated[
        list[str] | None, typer.Option("--unit", help="Unit of one of their columns: Radius=ft.")
    ] = None,
    fixed: Annotated[
        list[str] | None,
        typer.Option("--set", help="Ours=value of every row, where no column has it: kind=green."),
    ] = None,
    within: Annotated[
        str | None, typer.Option("--within", help="Name or id of the course outline to take.")
    ] = None,
    path_width: Annotated[
        str | None, typer.Option("--path-width", help="Of mapped paths without one: 2.4m, 8ft.")
    ] = None,
    complete: Annotated[
        bool, typer.Option("--complete", help="The file lists all rows: others are removed.")
    ] = False,
    overrule: OverruleOption = False,
    own_ids: OwnIdsOption = False,
    forget_columns: ForgetColumnsOption = False,
    yes: Annotated[bool, typer.Option("--yes", "-y", help="Accept without asking.")] = False,
    doubtful: Annotated[
        bool, typer.Option("--with-doubtful", help="Accept the doubtful rows too.")
    ] = False,
    show_only: Annotated[
        bool, typer.Option("--show", help="Only show the proposal; change nothing.")
    ] = False,
    show_columns: Annotated[
        bool, typer.Option("--show-columns", help="Only show how columns would be matched.")
    ] = False,
    why: WhyOption = "survey",
    by: ByOption = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """Read somebody's file as a proposal: added, moved, changed, removed, doubtful.

    Tables: holes, areas, nozzles, controllers, stations, heads, pipes, valves, pumps, sources,
    meters, gauges; their columns stand in docs/tables.md. A header may say its unit: flow_gpm,
    Radius (ft). For example: survey my.gpkg heads.csv --as heads --column Sprinkler=nozzle
    --unit Throw=ft --crs EPSG:26912
    """
    options = ReadOptions(
        crs=crs,
        layer=layer,
        columns=pairs(column or [], "--column"),
        units=pairs(unit or [], "--unit"),
        within=within,
        fixed=pairs(fixed or [], "--set"),
        drawing_unit=drawing_unit,
        path_width_m=None if path_width is None else told_width_m(path_width),
    )
    if show_columns:
        with open_course(course) as opened:
            rows = column_rows(opened, file, table, options, forget_columns=forget_columns)
        print_rows(rows, COLUMN_COLUMNS, form, f"{file.name} as {table}")
        return
    with open_course(course) as opened:
        proposal = survey_file(
            opened,
            file,
            table,
            options,
            complete=complete,
            overrule=overrule,
            own_ids=own_ids,
            forget_columns=forget_columns,
        )
        _print_proposal(proposal, file, table, form)
        wanted = not show_only and (yes or confirmed("Accept this proposal?"))
        if wanted:
            take = partial(accept, opened, proposal, with_doubtful=doubtful, why=why)
            revision = take(who=author(by), now=now(), forget_columns=forget_columns)
            say(f"Accepted as revision {revision}." if revision else "Nothing to change.")
        else:
            say("Nothing was changed.")
    leave_by(proposal.findings)


def _print_proposal(proposal: Proposal, file: Path, table: str, form: Format) -> None:
    rows = proposal_rows(proposal)
    print_rows(rows, ("change", "count", "examples"), form, f"{file.name} as {table}")
    if form is Format.TABLE:
        print_findings(proposal.findings, form, f"Findings about {file.name}")


DISMISSED_COLUMNS = (*FINDING_COLUMNS, "reason", "author", "time")


def check(
    course: CourseArgument,
    dismissed: Annotated[
        bool, typer.Option("--dismissed", help="Show the dismissed findings in their place.")
    ] = False,
    form: FormatOption = Format.TABLE,
) -> None:
    """Every doubt about the record: what is missing, what disagrees, what cannot be."""
    with open_course(course) as opened:
        found = sort_findings(opened, check_deed(opened))
    if dismissed:
        rows = [one.as_row() for one in found.dismissed]
        print_rows(rows, DISMISSED_COLUMNS, form, f"Dismissed findings about {course.name}")
    else:
        print_findings(found.open, form, f"Findings about {course.name}")
        if found.dismissed and form is Format.TABLE:
            say(f"Dismissed besides: {len(found.dismissed)}; --dismissed shows them.")
    leave_by(found.open)


HISTORY_COLUMNS = ("revision", "time", "who", "why", "summary")


def history(course: CourseArgument, form: FormatOption = Format.TABLE) -> None:
    """Every accepted change: when (the course's own clock), who, why."""
    with open_course(course) as opened:
        rows = revision_rows(opened)
    print_rows(rows, HISTORY_COLUMNS, form, f"History of {course.name}")


def undo(
    course: CourseArgument,
    revision: Annotated[str, typer.Argument(metavar="REVISION", help="From 'history'.")],
    why: WhyOption = "undo",
    by: ByOption = None,
) -> None:
    """Take an accepted change back, as a new revision; refused where later work builds on it."""
    with open_course(course) as opened:
        made = opened.file.undo(revision, author(by), why, now())
    say(f"Revision {revision} is undone by revision {made}.")


def export(
    course: CourseArgument,
    out: Annotated[
        Path,
        typer.Argument(
            metavar="OUT.ENDING",
            help=".json, .gpkg, .geojson, .kml, .xlsx, .inp, .zip of CSV, or a folder for CSV.",
        ),
    ],
) -> None:
    """The whole record as a file for another program; surveying it again changes nothing."""
    with open_course(course) as opened:
        write_record(opened, out)
    say(f"Wrote {out}.")


SETTING_COLUMNS = ("name", "value", "default", "unit", "may_be", "meaning")


def settings(
    course: CourseArgument,
    changes: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="NAME=VALUE",
            help="For instance night.start=21:00, or record.numbers=@rules.json from a file.",
        ),
    ] = None,
    why: WhyOption = "settings",
    by: ByOption = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """Show what the course chooses, with meaning, unit, range and default, or change it."""
    with open_course(course) as opened:
        if changes:
            given = pairs(changes, "settings")
            opened = replace(  # noqa: PLW2901
                opened, settings=change_settings(opened, given, author(by), why, now())
            )
        rows = settings_rows(opened.settings)
    if form is Format.TABLE:
        print_settings(rows, f"Settings of {course.name}")
    else:
        print_rows(rows, SETTING_COLUMNS, form, f"Settings of {course.name}")


def backup(
    course: CourseArgument,
    out: Annotated[Path, typer.Argument(metavar="COPY.gpkg", help="Where to put the copy.")],
    replace_it: Annotated[
        bool, typer.Option("--replace", help="Take the place of a file that is there.")
    ] = False,
) -> None:
    """A complete copy of the course file, while others go on working."""
    if out.exists() and not replace_it:
        raise UserError(f"{out} exists already. Name another file, or say --replace.")
    with open_course(course) as opened:
        opened.file.backup(out)
    say(f"Copied {course} to {out}.")


def add_to(app: typer.Typer) -> None:
    """Register this module's commands."""
    for command in (new, survey, check, settings, history, undo, export, backup):
        app.command()(command)
