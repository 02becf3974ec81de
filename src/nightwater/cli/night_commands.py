"""need, plan, referee, approve, rehearse, sheet, log, morning."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer
from rich.progress import Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

from nightwater.cli.morning_print import print_morning
from nightwater.cli.options import (
    ByOption,
    CourseArgument,
    NightOption,
    UnitsOption,
    author,
    now,
    pairs,
)
from nightwater.cli.printing import (
    NOTICES,
    Format,
    FormatOption,
    frame_rows,
    leave_by,
    print_findings,
    print_json,
    print_read,
    print_rows,
    say,
)
from nightwater.desk.approving import approve as approve_deed
from nightwater.desk.changing import change_lines, compare
from nightwater.desk.costing import cost_words, night_cost
from nightwater.desk.course import night_date, open_course
from nightwater.desk.documents import read_document, write_whole
from nightwater.desk.field_logs import read_log
from nightwater.desk.morning import morning as morning_deed
from nightwater.desk.needing import need as need_deed
from nightwater.desk.nights import (
    StoredNight,
    approved_night,
    required_approved,
    required_night,
)
from nightwater.desk.planning import judge
from nightwater.desk.planning import plan as plan_deed
from nightwater.desk.rehearsing import rehearse as rehearse_deed
from nightwater.desk.sheet import clock, sheet_csv, sheet_json, sheet_pdf, station_labels
from nightwater.ground.settings import Settings
from nightwater.night.document import document_findings, night_from_document, night_to_document
from nightwater.night.plan import Night
from nightwater.night.rehearsal import Faults, Rehearsal
from nightwater.night.rehearsal_water import HEAD_COLUMNS
from nightwater.survey.read import ReadOptions
from nightwater.units import shown

NEED_COLUMNS = (
    "area", "label", "kind", "need_mm", "eto_mm", "kc", "area_factor", "etc_mm", "rain_mm",
    "irrigation_mm", "irrigation_evidence", "carried_mm", "depletion_mm", "target_mm", "method",
    "assumed", "flags",
)  # fmt: skip
# What fits a terminal; every factor stands in the other forms.
NEED_SHOWN = (
    "area", "label", "kind", "need_mm", "etc_mm", "rain_mm", "irrigation_mm", "depletion_mm",
)  # fmt: skip
RUN_COLUMNS = ("station", "label", "start", "end", "run_min", "cycle", "of_cycles")
RUNS_SHOWN = 40


def need(
    course: CourseArgument,
    night: NightOption,
    units: UnitsOption = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """How much water each area should get tonight, with every factor of the sum."""
    with open_course(course) as opened:
        result = need_deed(opened, night_date(night))
        areas = opened.ground.areas[["label", "kind"]]
        usual = opened.settings.site.units
    table = result.table.join(areas).rename_axis(index="area")
    columns = NEED_SHOWN if form is Format.TABLE else NEED_COLUMNS
    title = f"Need for the night of {night}"
    print_read(frame_rows(table), columns, form, title, units=units, usual=usual)
    if form is Format.TABLE:
        say("Every factor, with what is assumed: --format csv or json.")
    if form is Format.TABLE and result.findings:
        print_findings(result.findings, form)
    leave_by(result.findings)


def _run_rows(night: Night, labels: dict[str, str], timezone: str) -> list[dict[str, Any]]:
    return [
        {
            "station": run.station,
            "label": labels.get(run.station),
            "start": clock(night, run.start_min, timezone),
            "end": clock(night, run.start_min + run.run_min, timezone),
            "run_min": run.run_min,
            "cycle": run.cycle,
            "of_cycles": run.of_cycles,
        }
        for run in sorted(night.runs, key=lambda run: (run.start_min, run.station))
    ]


def _show_plan(stored: StoredNight, labels: dict[str, str], timezone: str) -> None:
    night = stored.plan
    rows = _run_rows(night, labels, timezone)
    print_rows(rows[:RUNS_SHOWN], RUN_COLUMNS, Format.TABLE, f"Night of {night.night}")
    if len(rows) > RUNS_SHOWN:
        say(f"… and {len(rows) - RUNS_SHOWN} more runs; --format csv or 'sheet' gives them all.")
    left = [
        {
            "station": item.station,
            "label": labels.get(item.station),
            "owed_min": item.owed_min,
            "reason": item.reason,
        }
        for item in night.left_out
    ]
    print_rows(left, ("station", "label", "owed_min", "reason"), Format.TABLE, "Left out")
    print_findings(night.findings, Format.TABLE)


def _summary(stored: StoredNight, settings: Settings) -> str:
    night, timezone = stored.plan, settings.site.timezone
    ran = len({run.station for run in night.runs})
    volume = shown(night.volume_m3, "m3", settings.site.units)
    return (
        f"Edition {stored.edition}, {stored.state}: {ran} stations run, "
        f"{len(night.left_out)} left out, {volume}; "
        f"finishes {clock(night, night.finish_min, timezone)}, no plan can finish before "
        f"{clock(night, night.bound.minutes, timezone)} ({night.bound.binding}), "
        f"{100 * night.gap:.1f} % over."
    )


def _spinner() -> Progress:
    """Shows what is being done, and for how long already."""
    return Progress(
        SpinnerColumn(), TextColumn("{task.description}"), TimeElapsedColumn(),
        console=NOTICES, transient=True,
    )  # fmt: skip


def plan(
    course: CourseArgument,
    night: NightOption,
    by: ByOption = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """Work out tonight: which station runs when, and what does not fit and why.

    The plan is kept as a draft edition; approve it before anybody sets a controller by it.
    """
    with open_course(course) as opened:
        with _spinner() as spinner:
            task = spinner.add_task("reading the record")
            stored = plan_deed(
                opened,
                night_date(night),
                who=author(by),
                now=now(),
                progress=lambda step: spinner.update(task, description=step),
            )
        labels, zone = station_labels(opened.ground), opened.settings.site.timezone
        summary = _summary(stored, opened.settings)
        cost = cost_words(night_cost(opened, stored.plan))
    if form is Format.JSON:
        print_json(night_to_document(stored.plan))
    elif form is Format.CSV:
        print_rows(_run_rows(stored.plan, labels, zone), RUN_COLUMNS, form, "")
    else:
        _show_plan(stored, labels, zone)
    say(summary)
    say(" ".join(cost))
    leave_by(stored.plan.findings)


def referee(
    course: CourseArgument,
    plan_file: Annotated[Path, typer.Argument(metavar="PLAN.json", help="A night as JSON.")],
    form: FormatOption = Format.TABLE,
) -> None:
    """Check a night against the record, minute by minute, without the planner's code."""
    with open_course(course) as opened:
        document = read_document(plan_file)
        told_wrong = document_findings(document)
        findings = [*told_wrong, *judge(opened, night_from_document(document))]
    print_findings(findings, form, "The referee's findings")
    leave_by(findings)


def approve(course: CourseArgument, night: NightOption, by: ByOption = None) -> None:
    """Freeze tonight's latest plan as an edition. A night with an error cannot be approved."""
    with open_course(course) as opened:
        stored = required_night(opened, night_date(night))
        done = approve_deed(opened, stored.id, who=author(by), now=now())
    say(f"Edition {done.edition} of {done.plan.night} is approved by {done.approved_by}.")


def _words_of_heads(run: Rehearsal) -> str:
    short = run.short
    if not len(run.heads):
        return ""
    if short.empty:
        return "Every head had its pressure while it ran."
    worst = short.iloc[0]
    return (
        f"{len(short)} heads had less than their pressure for a minute or more, most of all "
        f"{short.index[0]}: {worst['short_min']:.0f} min. '--format csv' lists every head."
    )


def rehearse(
    course: CourseArgument,
    night: NightOption,
    pump_trip: Annotated[
        str | None, typer.Option("--pump-trip", help="Local clock time at which the pump trips.")
    ] = None,
    pump_restart: Annotated[
        str | None, typer.Option("--pump-restart", help="Local clock time at which it runs again.")
    ] = None,
    pump_pressure: Annotated[
        float,
        typer.Option("--pump-pressure", help="What the pumps hold over their set pressure, to 1."),
    ] = 1.0,
    dead_path: Annotated[
        list[str] | None, typer.Option("--dead-path", help="Id of a controller that gives nothing.")
    ] = None,
    silent_path: Annotated[
        list[str] | None,
        typer.Option("--silent-path", help="Id of a controller that neither opens nor logs."),
    ] = None,
    dead_station: Annotated[
        list[str] | None,
        typer.Option("--dead-station", help="Id of a station that is commanded but stays shut."),
    ] = None,
    half_open: Annotated[
        list[str] | None,
        typer.Option("--half-open", help="Id of a station whose heads give half their flow."),
    ] = None,
    stuck: Annotated[
        list[str] | None, typer.Option("--stuck", help="Id of a station that does not close.")
    ] = None,
    leak_l_s: Annotated[
        float, typer.Option("--leak-l-s", min=0, help="Leak at the pumps' set pressure [L/s].")
    ] = 0.0,
    leak_from: Annotated[
        str | None, typer.Option("--leak-from", help="Local clock time at which the leak starts.")
    ] = None,
    seed: Annotated[int, typer.Option("--seed", help="Same seed, same night.")] = 1,
    form: FormatOption = Format.TABLE,
) -> None:
    """Run an approved night against a simulated field, with faults if wanted.

    Every step of 5 s has the pressures and flows of the solved pipes. Writes the command log
    and the meter series that a real field would. No water moves; Ctrl-C leaves all as it was.
    """
    faults = Faults(
        pump_trip_at=pump_trip,
        pump_restart_at=pump_restart,
        pump_pressure_share=pump_pressure,
        dead_controllers=tuple(dead_path or ()),
        silent_controllers=tuple(silent_path or ()),
        dead_stations=tuple(dead_station or ()),
        half_open_stations=tuple(half_open or ()),
        stuck_stations=tuple(stuck or ()),
        leak_l_s=leak_l_s,
        leak_from=leak_from,
    )
    with open_course(course) as opened:
        stored = required_approved(opened, night_date(night))
        with _spinner() as spinner:
            task = spinner.add_task("opening stations")
            run = rehearse_deed(
                opened,
                stored.id,
                faults=faults,
                seed=seed,
                progress=lambda step: spinner.update(task, description=step),
            )
    if form is not Format.TABLE:
        print_rows(frame_rows(run.heads), ("head", *HEAD_COLUMNS), form, "")
    say(f"Rehearsed: {len(run.commands)} log lines, {len(run.samples)} meter readings.")
    for words in filter(None, (run.words, _words_of_heads(run))):
        say(words)
    if form is Format.TABLE and run.findings:
        print_findings(run.findings, form)


def sheet(
    course: CourseArgument,
    night: NightOption,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", help="File ending in .pdf, .csv or .json; sheet-DATE.pdf if not given."
        ),
    ] = None,
    draft: Annotated[
        bool, typer.Option("--draft", help="The latest draft, though an edition is approved.")
    ] = False,
) -> None:
    """Write tonight for crews who set their controllers by hand: PDF, CSV or JSON.

    The approved edition, or the latest draft where none is approved or --draft is given.
    """
    target = out or Path(f"sheet-{night}.pdf")
    with open_course(course) as opened:
        approved = None if draft else approved_night(opened, night_date(night))
        stored = approved or required_night(opened, night_date(night))
        given = (stored, opened.ground, opened.settings)
        cost = cost_words(night_cost(opened, stored.plan))
        told = change_lines(compare(opened, stored), opened.settings.site.units)
        makers = {
            ".pdf": lambda: sheet_pdf(*given, cost=cost, changes=told),
            ".csv": lambda: sheet_csv(*given).encode(),
            ".json": lambda: sheet_json(*given, cost=cost, changes=told),
        }
        write_whole(target, makers)
    say(f"Wrote {target}.{'' if stored.state == 'approved' else ' It is a draft, not approved.'}")


def log(
    course: CourseArgument,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="CSV of the control or the meter.")],
    night: NightOption,
    table: Annotated[
        str,
        typer.Option(
            "--as",
            help="commands (time, station, event: open or close) or samples (time, flow_gpm …).",
        ),
    ],
    column: Annotated[
        list[str] | None, typer.Option("--column", help="Theirs=ours, as often as needed.")
    ] = None,
    unit: Annotated[
        list[str] | None, typer.Option("--unit", help="Unit of one of their columns: Flow=gpm.")
    ] = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """Read the field's own log of an approved night, for the morning's proof.

    Times without an offset are the course's clock. A file takes the place of one read before.
    """
    options = ReadOptions(
        columns=pairs(column or [], "--column"), units=pairs(unit or [], "--unit")
    )
    with open_course(course) as opened:
        stored = required_approved(opened, night_date(night))
        read = read_log(opened, stored, file, table, options)
    print_findings(read.findings, form, f"Findings about {file.name}")
    say(f"Kept {read.kept} lines of {file.name} as {table} of {night}.")
    leave_by(read.findings)


def morning(
    course: CourseArgument,
    night: NightOption,
    units: UnitsOption = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """At dawn: planned, commanded and metered water, station by station, and what to rescue."""
    with open_course(course) as opened:
        stored = morning_deed(opened, night_date(night))
        print_morning(stored, opened.ground, opened.settings, form, units)


def add_to(app: typer.Typer) -> None:
    """Register this module's commands."""
    for command in (need, plan, referee, approve, rehearse, sheet, log, morning):
        app.command()(command)
