"""as-built."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated
from zoneinfo import ZoneInfo

import typer

from nightwater.cli.options import CourseArgument, now
from nightwater.cli.printing import say
from nightwater.desk.as_built import as_built_pdf
from nightwater.desk.as_built_parts import hole_named, hole_order
from nightwater.desk.as_built_scale import paper_named
from nightwater.desk.course import Course, open_course
from nightwater.desk.documents import write_whole
from nightwater.findings import UserError


def _holes(course: Course, wanted: list[str], *, every: bool) -> list[str]:
    if every == bool(wanted):
        raise UserError("Say which hole with --hole 7 (as often as needed), or --all.")
    if every:
        found = hole_order(course.ground)
        if not found:
            raise UserError("The record has no holes yet. Survey the lines of play as holes.")
        return found
    return list(dict.fromkeys(hole_named(course.ground, each) for each in wanted))


def as_built(
    course: CourseArgument,
    out: Annotated[Path, typer.Option("--out", metavar="OUT.pdf", help="Where to write.")],
    hole: Annotated[
        list[str] | None, typer.Option("--hole", help="Number, label or id; as often as needed.")
    ] = None,
    every: Annotated[bool, typer.Option("--all", help="Every hole, in one PDF.")] = False,
    paper: Annotated[
        str | None,
        typer.Option("--paper", help="letter, tabloid, a4 or a3; the large one if not given."),
    ] = None,
) -> None:
    """A sheet of each hole to pin to the wall: map, heads, stations, valves, as PDF."""
    with open_course(course) as opened:
        site = opened.settings.site
        holes = _holes(opened, hole or [], every=every)
        sheet = paper_named(paper, site.units)
        today = now().astimezone(ZoneInfo(site.timezone)).date()
        write_whole(out, {".pdf": lambda: as_built_pdf(opened, holes, sheet, today)})
    say(f"Wrote {out}: {len(holes)} {'hole' if len(holes) == 1 else 'holes'}.")


def add_to(app: typer.Typer) -> None:
    """Register this module's commands."""
    app.command("as-built")(as_built)
