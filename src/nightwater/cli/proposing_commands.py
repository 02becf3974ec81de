"""propose and reconcile."""

from __future__ import annotations

from typing import Annotated

import typer

from nightwater.cli.options import ByOption, CourseArgument, WhyOption, author, confirmed, now
from nightwater.cli.printing import (
    Format,
    FormatOption,
    frame_rows,
    leave_by,
    print_findings,
    print_rows,
    say,
)
from nightwater.desk.course import open_course
from nightwater.desk.proposing import PROPOSALS, accept_proposed, proposed_rows
from nightwater.desk.proposing import propose as propose_deed
from nightwater.desk.reconciling import accept_matches, reconcile_course
from nightwater.ground.reconcile import AGREES, COLUMNS

HolesOption = Annotated[
    list[str] | None,
    typer.Option("--hole", help="Only this hole or place, as labels say it; as often as needed."),
]
YesOption = Annotated[bool, typer.Option("--yes", "-y", help="Accept without asking.")]
ShowOption = Annotated[bool, typer.Option("--show", help="Only show; change nothing.")]
SHOWN = 40


def propose(
    course: CourseArgument,
    what: Annotated[str, typer.Argument(help=f"One of {', '.join(PROPOSALS)}.")],
    least: Annotated[
        float,
        typer.Option("--least", min=0, max=1, help="Least confidence of what is taken, 0 to 1."),
    ] = 0.0,
    hole: HolesOption = None,
    yes: YesOption = False,
    show_only: ShowOption = False,
    why: WhyOption = "proposal",
    by: ByOption = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """Propose what the record lacks, show it with its confidence, and accept it if wanted.

    stations: heads that share one; numbers: labels in the trade's order; arcs: arc and bearing
    from the turf around; nozzles: from the listed flow; lines: lines of play; perimeters: collars
    around greens. The club's own rules are the settings record.numbers and record.pairs.
    """
    with open_course(course) as opened:
        proposed = propose_deed(opened, what)
        rows = proposed.chosen(least, hole or ())
        listed = proposed_rows(proposed, rows)
        shown = listed[:SHOWN] if form is Format.TABLE else listed
        print_rows(shown, proposed.columns, form, f"Proposed {what}: {len(rows)}")
        if form is Format.TABLE and len(listed) > len(shown):
            say(f"… and {len(listed) - len(shown)} more; --format csv gives them all.")
        if form is Format.TABLE and proposed.findings:
            print_findings(proposed.findings, form)
        revision = None
        if len(rows) and not show_only and (yes or confirmed("Accept these?")):
            revision = accept_proposed(opened, proposed, rows, who=author(by), why=why, now=now())
    say(f"Accepted as revision {revision}." if revision else "Nothing was changed.")
    leave_by(proposed.findings)


def reconcile(
    course: CourseArgument,
    hole: HolesOption = None,
    anew: Annotated[
        bool, typer.Option("--anew", help="Match heads too that name a station already.")
    ] = False,
    yes: YesOption = False,
    show_only: ShowOption = False,
    why: WhyOption = "reconciled with the station list",
    by: ByOption = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """Match the heads in the ground with the station list, and tell every disagreement.

    The table shows what does not simply agree; csv and json show every row.
    """
    with open_course(course) as opened:
        whole = reconcile_course(opened, anew=anew)
        found = whole.of(hole or ())
        rows = found.matching.rows
        doubtful = rows[rows["verdict"] != AGREES]
        agree = len(rows) - len(doubtful)
        shown = doubtful if form is Format.TABLE else rows
        columns = SHORT if form is Format.TABLE else COLUMNS
        print_rows(frame_rows(shown), columns, form, "Rows that do not simply agree")
        if form is Format.TABLE:
            print_findings(found.findings, form)
        say(f"{agree} of {len(rows)} rows agree.")
        revision = None
        if (
            len(rows)
            and not show_only
            and (yes or confirmed("Put the matched heads on their stations?"))
        ):
            revision = accept_matches(opened, whole, hole or (), who=author(by), why=why, now=now())
    say(f"Accepted as revision {revision}." if revision else "Nothing was changed.")
    leave_by(found.findings)


SHORT = (
    "verdict", "label", "place", "letter", "number", "count", "count_listed", "heads", "runner_up",
)  # fmt: skip


def add_to(app: typer.Typer) -> None:
    """Register this module's commands."""
    for command in (propose, reconcile):
        app.command()(command)
