"""hold, exceptions, schema, serve, demo."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nightwater.cli.options import ByOption, CourseArgument, WhyOption, author, now
from nightwater.cli.printing import Format, FormatOption, print_json, print_rows, say
from nightwater.cli.serving import serve_course
from nightwater.cli.trim_commands import PLAN_AGAIN
from nightwater.demo.build import DEMO_NIGHT, build_demo
from nightwater.desk.course import open_course
from nightwater.desk.exceptions import LISTED, end_exception
from nightwater.desk.exceptions import exceptions as list_exceptions
from nightwater.desk.holding import HoldWish, add_hold
from nightwater.desk.schema import SCHEMAS
from nightwater.findings import UserError

PortOption = Annotated[int, typer.Option("--port", min=1, max=65535, help="Port on 127.0.0.1.")]
HoldArgument = Annotated[
    str,
    typer.Argument(
        metavar="SUBJECT",
        help="course, kind:KIND, areas:, holes:, stations:, heads:, controllers:ID or label, or "
        "point:X,Y,RADIUS in the course's metres.",
    ),
]


def hold(
    course: CourseArgument,
    subject: HoldArgument,
    start: Annotated[str, typer.Option("--from", help="Local time, YYYY-MM-DDTHH:MM.")],
    end: Annotated[str, typer.Option("--to", help="Local time, YYYY-MM-DDTHH:MM.")],
    cause: Annotated[
        str,
        typer.Option("--cause", help="rain, wind, frost, chemical, event, supply, people, other."),
    ],
    why: WhyOption,
    by: ByOption = None,
) -> None:
    """Do not water here, from–to, with a reason. What it keeps back stays owed in the account."""
    wish = HoldWish(subject, cause, start, end, why)
    with open_course(course) as opened:
        add_hold(opened, wish, who=author(by))
    say(f"{subject} is held from {start} to {end}. {PLAN_AGAIN}")


def exceptions(
    course: CourseArgument,
    end: Annotated[
        str | None, typer.Option("--end", metavar="ID", help="End this one now.")
    ] = None,
    why: Annotated[str, typer.Option("--why", help="Why it ends.")] = "",
    by: ByOption = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """Every trim and hold with author, reason and end; --end takes one back from now on."""
    with open_course(course) as opened:
        if end is not None:
            end_exception(opened, end, who=author(by), now=now(), why=why)
        rows = list_exceptions(opened)
    print_rows(rows, LISTED, form, f"Trims and holds of {course.name}")


def schema(
    name: Annotated[str, typer.Argument(help=f"One of {', '.join(SCHEMAS)}.")],
) -> None:
    """Print the JSON Schema of what scripts may rely on.

    Raises:
        UserError: no such schema.
    """
    if name not in SCHEMAS:
        raise UserError(f"There is no schema '{name}'. Known: {', '.join(SCHEMAS)}.")
    print_json(SCHEMAS[name]())


def serve(course: CourseArgument, port: PortOption = 8765) -> None:
    """Serve the pages on this machine only. The first start prints a link for the owner."""
    serve_course(course, port)


def demo(
    folder: Annotated[Path, typer.Argument(help="Where to put the demo.")] = Path("build/demo"),
    serve_it: Annotated[bool, typer.Option("--serve", help="Serve the page afterwards.")] = False,
    port: PortOption = 8765,
) -> None:
    """Build the invented demo club from survey files, plan tonight, and serve it if wanted."""
    course = build_demo(folder, progress=say)
    say(f"The demo course is {course}.")
    if serve_it:
        serve_course(course, port, today=lambda: DEMO_NIGHT)


def add_to(app: typer.Typer) -> None:
    """Register this module's commands."""
    for command in (hold, exceptions, schema, serve, demo):
        app.command()(command)
