"""Tables, JSON and CSV on the terminal; exit status by the gravest finding."""

from __future__ import annotations

import csv
import json
import math
import sys
from collections.abc import Iterable, Mapping, Sequence, Set
from enum import StrEnum
from typing import Annotated, Any, Final

import pandas as pd
import typer
from rich.console import Console
from rich.markup import escape
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from nightwater.findings import Finding, Severity, has_errors
from nightwater.units import ReadColumn, UnitSystem, read_column, read_row

CONSOLE = Console()
NOTICES = Console(stderr=True)


class Format(StrEnum):
    """How results are printed."""

    TABLE = "table"
    JSON = "json"
    CSV = "csv"


FormatOption = Annotated[
    Format, typer.Option("--format", help="How to print the result: table, json or csv.")
]


def say(message: str) -> None:
    """A line of progress or advice, on the error stream so that output stays clean."""
    NOTICES.print(message, style="dim", highlight=False, soft_wrap=True)


def _missing(value: Any) -> bool:
    return value is None or (isinstance(value, float) and math.isnan(value))


def _is_number(value: Any) -> bool:
    return value is None or (isinstance(value, (int, float)) and not isinstance(value, bool))


def _cell(value: Any) -> str:
    if _missing(value):
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:,.3f}".rstrip("0").rstrip(".")
    if isinstance(value, (list, tuple)):
        return " ".join(str(part) for part in value)
    return str(value)


def print_json(document: Any) -> None:
    """A document as JSON on standard output; NaN, which JSON lacks, becomes null."""
    text = json.dumps(_without_nan(document), ensure_ascii=False, indent=1, default=str)
    sys.stdout.write(text + "\n")


def _without_nan(value: Any) -> Any:
    if _missing(value):
        return None
    if isinstance(value, Mapping):
        return {key: _without_nan(part) for key, part in value.items()}
    if isinstance(value, (list, tuple)):
        return [_without_nan(part) for part in value]
    return value


def _print_csv(rows: Sequence[Mapping[str, Any]], columns: Sequence[str]) -> None:
    writer = csv.writer(sys.stdout, lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        cells = [row.get(column) for column in columns]
        writer.writerow(["" if _missing(cell) else _csv_cell(cell) for cell in cells])


def _csv_cell(value: Any) -> Any:
    return " ".join(map(str, value)) if isinstance(value, (list, tuple)) else value


def _print_table(
    rows: Sequence[Mapping[str, Any]], columns: Sequence[str], title: str, numbers: Set[str]
) -> None:
    if not rows:
        CONSOLE.print(f"{title}: nothing.")
        return
    table = Table(title=escape(title), title_justify="left", header_style="bold")
    for column in columns:
        numeric = column in numbers or all(_is_number(row.get(column)) for row in rows)
        table.add_column(column, justify="right" if numeric else "left", overflow="fold")
    for row in rows:
        table.add_row(*(Text(_cell(row.get(column))) for column in columns))
    CONSOLE.print(table)


def print_rows(
    rows: Iterable[Mapping[str, Any]],
    columns: Sequence[str],
    form: Format,
    title: str,
    numbers: Set[str] = frozenset(),
) -> None:
    """Rows as a table, as a JSON list or as CSV with a header line.

    `numbers` names columns of a table whose texts are numbers and stand to the right.
    """
    known = list(rows)
    if form is Format.JSON:
        print_json([{column: row.get(column) for column in columns} for row in known])
    elif form is Format.CSV:
        _print_csv(known, columns)
    else:
        _print_table(known, columns, title, numbers)


def _rounded(row: Mapping[str, Any], columns: Sequence[ReadColumn]) -> dict[str, Any]:
    """Numbers with a unit as texts of as many digits as a person can use."""
    shown = dict(row)
    for column in columns:
        value = row.get(column.name)
        if column.symbol and _is_number(value) and not _missing(value):
            shown[column.name] = f"{value:,.{column.digits}f}"
    return shown


def print_read(
    rows: Iterable[Mapping[str, Any]],
    columns: Sequence[str],
    form: Format,
    title: str,
    *,
    units: UnitSystem | None,
    usual: UnitSystem,
) -> None:
    """Rows as `print_rows` does, in a reader's units, the unit last in each column's name.

    Args:
        rows, columns: in inside units, named by our rule.
        form: JSON keeps the inside units always, since scripts rely on its keys.
        title: of the table.
        units: what was asked for; CSV keeps the inside units without it.
        usual: what a table speaks where nothing was asked for.
    """
    if form is Format.JSON or (form is Format.CSV and units is None):
        print_rows(rows, columns, form, title)
        return
    system = units or usual
    read = [read_column(name, system) for name in columns]
    known = [read_row(row, system) for row in rows]
    if form is Format.TABLE:
        known = [_rounded(row, read) for row in known]
    numbers = {column.name for column in read if column.symbol}
    print_rows(known, [column.name for column in read], form, title, numbers)


def frame_rows(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """The rows of a table as dicts, its index as a column of its own name."""
    rows = frame.reset_index().to_dict("records")
    return [{str(name): value for name, value in row.items()} for row in rows]


def print_settings(rows: Sequence[Mapping[str, str]], title: str) -> None:
    """What each setting is, then in brackets what it was and may be, and below what it means."""
    CONSOLE.print(escape(title), style="italic", highlight=False)
    for row in rows:
        unit = f" {row['unit']}" if row["unit"] else ""
        facts = [f"default {row['default']}"] if row["default"] else []
        facts += [f"may be {row['may_be']}"] if row["may_be"] else []
        head = Text(row["name"], "bold").append(f" = {row['value']}{unit}", "not bold")
        CONSOLE.print(head.append(f"  ({'; '.join(facts)})" if facts else "", "dim"))
        CONSOLE.print(Padding(Text(row["meaning"], "dim"), (0, 0, 0, 4)))


FINDING_COLUMNS = ("severity", "code", "subject", "message", "fix")


STYLES: Final = {Severity.ERROR: "bold red", Severity.WARNING: "yellow", Severity.NOTE: "dim"}


def _print_finding(finding: Finding) -> None:
    """Head line, then what is the matter and what to do, indented so that the eye finds it."""
    head = Text(finding.severity, STYLES[finding.severity])
    CONSOLE.print(head.append(f"  {finding.code}  {finding.subject}", "dim"))
    words = Text(finding.message).append(f" {finding.fix}", "italic dim")
    CONSOLE.print(Padding(words, (0, 0, 0, 4)))


def print_findings(findings: Sequence[Finding], form: Format, title: str = "Findings") -> None:
    """Findings, gravest first as they come."""
    if form is not Format.TABLE or not findings:
        print_rows([finding.as_row() for finding in findings], FINDING_COLUMNS, form, title)
        return
    CONSOLE.print(f"{title}: {len(findings)}", style="italic")
    for finding in findings:
        _print_finding(finding)


def leave_by(findings: Iterable[Finding]) -> None:
    """End with status 1 when a finding is an error.

    Raises:
        typer.Exit: with code 1.
    """
    if has_errors(findings):
        raise typer.Exit(1)
