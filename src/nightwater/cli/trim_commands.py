"""trim, trims: change the water by hand, and see what that costs."""

from __future__ import annotations

import math
from typing import Annotated, Final

import typer

from nightwater.cli.options import ByOption, CourseArgument, NightOption, author
from nightwater.cli.printing import Format, FormatOption, print_rows, say
from nightwater.desk.course import night_date, open_course
from nightwater.desk.exceptions import TrimWish, add_trim
from nightwater.desk.patches import patch_of_subject
from nightwater.desk.trimming import standing_trims

PLAN_AGAIN: Final = "A night that is planned already must be planned again."
TRIM_COLUMNS: Final = (
    "id", "subject", "change", "litres", "ground_m2", "last_night", "reason", "author",
)  # fmt: skip
TrimArgument = Annotated[
    str,
    typer.Argument(
        metavar="SUBJECT",
        help="areas:ID, stations:ID, holes:ID, kind:KIND, course, heads:ID (--around-m) or map "
        "(--outline).",
    ),
]


def trim(
    course: CourseArgument,
    subject: TrimArgument,
    first: Annotated[str, typer.Option("--first", help="First night, YYYY-MM-DD.")],
    last: Annotated[str, typer.Option("--last", help="Last night, YYYY-MM-DD.")],
    why: Annotated[str, typer.Option("--why", help="The reason; others will read it.")],
    factor: Annotated[float, typer.Option("--factor", help="Times the minutes.")] = 1.0,
    extra_min: Annotated[float, typer.Option("--extra-min", help="Minutes added.")] = 0.0,
    around_m: Annotated[
        float | None,
        typer.Option("--around-m", help="A round patch of this radius, in metres, round heads:ID."),
    ] = None,
    outline: Annotated[
        str | None,
        typer.Option("--outline", help="Of a patch: 'x y, x y, x y' in metres of the record."),
    ] = None,
    by: ByOption = None,
) -> None:
    """Change minutes or need by hand, with author, reason and last night. It ends by itself."""
    nights = night_date(first), night_date(last)
    with open_course(course) as opened:
        where, patch = patch_of_subject(opened, subject, around_m, outline)
        add_trim(opened, TrimWish(where, factor, extra_min, *nights, why, patch), who=author(by))
    say(f"{subject}: × {factor:g} + {extra_min:g} min from {first} to {last}. {PLAN_AGAIN}")


def _whole(value: float) -> float:
    return value if math.isnan(value) else round(value)


def trims(course: CourseArgument, night: NightOption, form: FormatOption = Format.TABLE) -> None:
    """What is not at 100 % on a night, with the litres each trim costs (minus: saves)."""
    with open_course(course) as opened:
        standing = standing_trims(opened, night_date(night))
    rows = [
        {name: getattr(one, name) for name in TRIM_COLUMNS}
        | {"ground_m2": round(one.ground_m2, 1), "litres": _whole(one.litres)}
        for one in standing.tonight
    ]
    if standing.why_no_litres:
        say(f"Litres cannot be told: {standing.why_no_litres}")
    print_rows(rows, TRIM_COLUMNS, form, f"Not at 100 % on {night}")


def add_to(app: typer.Typer) -> None:
    """Register this module's commands."""
    for command in (trim, trims):
        app.command()(command)
