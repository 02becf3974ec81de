"""rescue: the morning's list on one page."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nightwater.cli.options import CourseArgument, NightOption, UnitsOption
from nightwater.cli.printing import say
from nightwater.desk.course import night_date, open_course
from nightwater.desk.documents import write_whole
from nightwater.desk.nights import required_approved
from nightwater.desk.rescue_sheet import rescue_begin, rescue_document, rescue_pdf


def rescue(
    course: CourseArgument,
    night: NightOption,
    out: Annotated[
        Path | None,
        typer.Option("--out", help="File ending in .pdf or .json; rescue-DATE.pdf if not given."),
    ] = None,
    begin: Annotated[
        str | None,
        typer.Option("--from", help="Local clock time of the first start; the night's end if not."),
    ] = None,
    units: UnitsOption = None,
) -> None:
    """Write the rescue list of a proved night on one page, to be walked before play.

    It advises only: nothing starts before somebody on site has seen that the ground is clear.
    """
    target = out or Path(f"rescue-{night}.pdf")
    with open_course(course) as opened:
        stored = required_approved(opened, night_date(night))
        first = rescue_begin(stored, opened.settings, begin)
        given = (stored, opened.ground, opened.settings)
        makers = {
            ".pdf": lambda: rescue_pdf(*given, units=units, begin=first),
            ".json": lambda: rescue_document(*given, units=units, begin=first),
        }
        write_whole(target, makers)
    say(f"Wrote {target}. It advises; see that the ground is clear before any water starts.")


def add_to(app: typer.Typer) -> None:
    """Register this module's command."""
    app.command()(rescue)
