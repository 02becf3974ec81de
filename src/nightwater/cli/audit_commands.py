"""audits, audit-plan, audit-card, audit-read, audit, audit-accept."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from nightwater.cli.options import ByOption, CourseArgument, author, now
from nightwater.cli.printing import (
    Format,
    FormatOption,
    print_findings,
    print_json,
    print_rows,
    say,
)
from nightwater.desk.audit_accepting import accept_audit
from nightwater.desk.audit_cans import opening_m2
from nightwater.desk.audit_card import card_pdf, planned_minutes
from nightwater.desk.audit_entering import record_facts
from nightwater.desk.audit_import import CanColumns, import_catches, recalled_columns
from nightwater.desk.audit_kept import audit_of, audits_of
from nightwater.desk.audit_planning import AuditWish, plan_audit, stations_named
from nightwater.desk.audit_proposal import Part
from nightwater.desk.audit_results import AuditResult, audit_result
from nightwater.desk.course import open_course
from nightwater.desk.documents import write_whole
from nightwater.findings import UserError
from nightwater.spray.audit_figures import Estimate
from nightwater.spray.audit_plan import LEAST_CANS

AuditArgument = Annotated[str, typer.Argument(metavar="AUDIT", help="Id of the audit, like AU1.")]
OpeningOption = Annotated[
    float | None, typer.Option("--opening", help="Opening of one can, in --opening-unit.")
]
OpeningUnitOption = Annotated[
    str, typer.Option("--opening-unit", help="cm2 or in2 for an area; mm, cm or in for a diameter.")
]


def audits(course: CourseArgument, form: FormatOption = Format.TABLE) -> None:
    """Every can audit: its id, name, state and how many cans are read."""
    with open_course(course) as opened:
        found = audits_of(opened)
    rows = [
        {
            "audit": one.id,
            "label": one.label,
            "state": one.facts["state"],
            "read": one.entered,
            "cans": len(one.cans),
        }
        for one in found
    ]
    print_rows(rows, ("audit", "label", "state", "read", "cans"), form, "Audits")


def audit_plan(
    course: CourseArgument,
    area: Annotated[str, typer.Argument(metavar="AREA", help="Id of the area.")],
    stations: Annotated[
        str, typer.Option("--stations", help="Only these, with commas; all that reach it if not.")
    ] = "",
    cans: Annotated[int, typer.Option("--cans", help="How many cans there are.")] = LEAST_CANS,
    opening: OpeningOption = None,
    opening_unit: OpeningUnitOption = "",
    by: ByOption = None,
) -> None:
    """Place numbered cans in an area by the rule of a published guide; opens no valve."""
    with open_course(course) as opened:
        throat = None if opening is None else opening_m2(opening, opening_unit)
        wish = AuditWish(area, stations_named(opened, stations), cans, throat)
        identity = plan_audit(opened, wish, who=author(by), now=now())
        audit = audit_of(opened, identity)
        minutes = planned_minutes(opened, audit)
    say(
        f"{identity}: {len(audit.cans)} cans; run each of {len(audit.stations)} stations "
        f"{minutes} min, after the ground is clear of people. Print it with 'audit-card'."
    )


def audit_card(
    course: CourseArgument,
    audit: AuditArgument,
    out: Annotated[Path, typer.Option("--out", metavar="OUT.pdf", help="Where to write.")],
) -> None:
    """The card of an audit to take along: map with numbered cans, table to fill in, cautions."""
    with open_course(course) as opened:
        write_whole(out, {".pdf": lambda: card_pdf(opened, audit)})
    say(f"Wrote {out}.")


def _said_or_remembered(
    found: CanColumns, can: str, caught: str, unit: str
) -> tuple[str, str, str]:
    """What is said of a file's columns, completed by what was said of one like it.

    Raises:
        UserError: something is neither said nor remembered.
    """
    known = found if found.remembered else None
    # A unit goes with the column that it was said of.
    same = known is not None and caught in ("", known.caught)
    said = (
        can or (known.can if known else ""),
        caught or (known.caught if known else ""),
        unit or (known.unit if known and same else ""),
    )
    for value, option in zip(said, ("--can", "--caught", "--unit"), strict=True):
        if not value:
            raise UserError(
                f"Say {option}: it was not said of a file with this header. The file has: "
                f"{', '.join(found.header)}."
            )
    if known and not (can and caught and unit):
        say(f"As the last time: --can '{said[0]}' --caught '{said[1]}' --unit {said[2]}.")
    return said


def audit_read(
    course: CourseArgument,
    audit: AuditArgument,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="CSV or XLSX with the catches.")],
    can: Annotated[str, typer.Option("--can", help="Its column with the number of the can.")] = "",
    caught: Annotated[str, typer.Option("--caught", help="Its column with the catch.")] = "",
    unit: Annotated[str, typer.Option("--unit", help="mL, floz, or mm, in for depths.")] = "",
    minutes: Annotated[
        float | None, typer.Option("--minutes", help="Minutes that every station ran.")
    ] = None,
    opening: OpeningOption = None,
    opening_unit: OpeningUnitOption = "",
    by: ByOption = None,
) -> None:
    """Read what cans caught from a file; earlier catches are kept beside the new ones.

    Columns and unit that are not named are those of the last file with the same header.
    """
    facts = {} if minutes is None else {"run_min": minutes}
    if opening is not None:
        facts["throat_m2"] = opening_m2(opening, opening_unit)
    with open_course(course) as opened:
        if facts:
            record_facts(opened, audit, facts, who=author(by), now=now())
        said = _said_or_remembered(recalled_columns(opened, file), can, caught, unit)
        found, changed = import_catches(opened, audit, file, said, who=author(by), now=now())
    say(f"Read {found} cans, {changed} of them new or corrected.")


def _figure(name: str, figure: Estimate) -> dict[str, Any]:
    unit = {"rate": "mm/h", "mean": "mL"}.get(name, "")
    return {"figure": name, "value": figure.value, "low": figure.low, "high": figure.high} | {
        "unit": unit
    }


def _figures(result: AuditResult) -> list[dict[str, Any]]:
    missing = float("nan")
    rows = [_figure(name, figure) for name, figure in result.figures.items()]
    found = result.comparison
    told = {"can_over_computed": found.bias, "correlation": found.correlation}
    return rows + [_figure(n, Estimate(value, missing, missing)) for n, value in told.items()]


def _changes(part: Part) -> list[dict[str, Any]]:
    return [
        {"part": part.key, "column": name, "before": part.before[name], "after": new}
        for name, new in part.values.items()
    ]


def audit(course: CourseArgument, audit: AuditArgument, form: FormatOption = Format.TABLE) -> None:
    """What the cans of an audit say, with 90 % intervals, and what they propose for the record."""
    with open_course(course) as opened:
        result = audit_result(opened, audit)
    figures, changes = _figures(result), [c for part in result.parts for c in _changes(part)]
    doubts = [finding.as_row() for finding in result.findings]
    if form is Format.JSON:
        print_json({"figures": figures, "proposed": changes, "findings": doubts})
        return
    print_rows(figures, ("figure", "value", "low", "high", "unit"), form, result.audit.label)
    print_rows(changes, ("part", "column", "before", "after"), form, "Proposed for the record")
    if result.findings:
        print_findings(result.findings, form, "Doubts")


def audit_accept(
    course: CourseArgument,
    audit: AuditArgument,
    parts: Annotated[
        list[str] | None,
        typer.Option("--part", help="As 'audit' names it; as often as needed. All if not given."),
    ] = None,
    by: ByOption = None,
) -> None:
    """Make what an audit proposes part of the record, as one revision that can be undone."""
    with open_course(course) as opened:
        keys = parts or [part.key for part in audit_result(opened, audit).parts]
        revision = accept_audit(opened, audit, keys, who=author(by), now=now())
    many = "1 part of the audit is" if len(keys) == 1 else f"{len(keys)} parts of the audit are"
    say(f"Revision {revision}: {many} in the record.")


def add_to(app: typer.Typer) -> None:
    """Register this module's commands."""
    app.command()(audits)
    app.command("audit-plan")(audit_plan)
    app.command("audit-card")(audit_card)
    app.command("audit-read")(audit_read)
    app.command()(audit)
    app.command("audit-accept")(audit_accept)
