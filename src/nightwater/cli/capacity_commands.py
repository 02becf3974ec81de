"""capacity: what the system can do on a peak day."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nightwater.cli.options import CourseArgument, UnitsOption
from nightwater.cli.printing import Format, FormatOption, print_json, print_rows, say
from nightwater.desk.capacity import USUAL_PERCENTILE, study, study_document
from nightwater.desk.capacity_sheet import METHOD, printed, study_pdf
from nightwater.desk.course import open_course
from nightwater.desk.documents import write_whole

_OUTCOMES = ("change", "buys", "placed", "no_plan_more_than", "left_out", "ends_at")
_LOADS = ("what", "least_min", "hours_min", "share")


def capacity(
    course: CourseArgument,
    percentile: Annotated[
        float,
        typer.Option("--percentile", help="Of the daily ET in the weather record, 50 to 100."),
    ] = USUAL_PERCENTILE,
    et_mm: Annotated[
        float | None, typer.Option("--et-mm", help="Reference ET of the peak day in mm, entered.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", help="Write the page: a file ending in .pdf or .json.")
    ] = None,
    units: UnitsOption = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """Can the system water a peak day in its window, what binds first, what would a change buy."""
    with open_course(course) as opened:
        done = study(opened, percentile=percentile, entered_mm=et_mm, progress=say)
        settings = opened.settings
    if out is not None:
        makers = {
            ".pdf": lambda: study_pdf(done, settings, units),
            ".json": lambda: study_document(done),
        }
        write_whole(out, makers)
        say(f"Wrote {out}.")
    if form is Format.JSON:
        print_json(study_document(done))
        return
    page = printed(done, settings, units)
    outcomes = [dict(zip(_OUTCOMES, row, strict=True)) for row in page["outcomes"]]
    print_rows(outcomes, _OUTCOMES, form, "What a change would buy")
    loads = [dict(zip(_LOADS, row, strict=True)) for row in page["loads"]]
    print_rows(loads, _LOADS, form, "What is loaded most")
    first = (page[name] for name in ("peak", "verdict", "binding", "pipes"))
    for words in (*first, *page["prices"], METHOD):
        say(words)


def add_to(app: typer.Typer) -> None:
    """Register this module's command."""
    app.command()(capacity)
