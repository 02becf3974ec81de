"""dismiss: let a finding be, with a reason, or open it again."""

from __future__ import annotations

from typing import Annotated

import typer

from nightwater.cli.options import ByOption, CourseArgument, author, now
from nightwater.cli.printing import say
from nightwater.desk.checking import check as check_deed
from nightwater.desk.course import open_course
from nightwater.desk.dismissing import DismissWish
from nightwater.desk.dismissing import dismiss as dismiss_deed
from nightwater.desk.dismissing import restore as restore_deed


def dismiss(
    course: CourseArgument,
    code: Annotated[str, typer.Argument(metavar="CODE", help="As 'check' names it.")],
    subject: Annotated[str, typer.Argument(metavar="SUBJECT", help="As 'check' names it.")],
    why: Annotated[str, typer.Option("--why", help="Why it may be; others will read it.")] = "",
    restore: Annotated[
        bool, typer.Option("--restore", help="Open a dismissed finding again.")
    ] = False,
    by: ByOption = None,
) -> None:
    """Let a finding be until what it says changes. Errors cannot be dismissed."""
    with open_course(course) as opened:
        found = check_deed(opened)
        if restore:
            done = restore_deed(opened, found, code, subject, who=author(by), now=now())
            say(f"Opened again: {done[0].message}")
            return
        wish = DismissWish(code, subject, why)
        done = dismiss_deed(opened, found, wish, who=author(by), now=now())
    say(f"Dismissed: {done[0].message} It comes back when what it says changes.")


def add_to(app: typer.Typer) -> None:
    """Register this module's command."""
    app.command()(dismiss)
