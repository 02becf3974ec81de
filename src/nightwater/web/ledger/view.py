"""What the Ledger page shows: figures as texts, each with how it is known."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass
from typing import Any, Final, Literal

import pandas as pd

from nightwater.ledger.known import Book, known_name
from nightwater.ledger.totals import COURSE
from nightwater.units import UnitSystem, read_column
from nightwater.web.figures import plain, quantity, text_or

# Columns with heading and how the number is shown.
NIGHTS: Final = (
    ("night", "Night", ""),
    ("planned_m3", "Planned", "m3"),
    ("commanded_m3", "Commanded", "m3"),
    ("metered_m3", "Metered", "m3"),
    ("used_m3", "Used", "m3"),
    ("hours", "Hours", "h"),
    ("energy_kwh", "Energy", "kWh"),
    ("money", "Cost", "money"),
    ("allocation_left_m3", "Allocation left", "m3"),
)
PERIODS: Final = (
    ("period", "Period", ""),
    ("nights", "Nights", ""),
    ("planned_m3", "Planned", "m3"),
    ("used_m3", "Used", "m3"),
    ("hours", "Hours", "h"),
    ("energy_kwh", "Energy", "kWh"),
    ("money", "Cost", "money"),
    ("allocation_used_pct", "Allocation used", "%"),
    ("allocation_left_m3", "Allocation left", "m3"),
)
KINDS: Final = (
    ("kind", "Kind of area", ""),
    ("planned_m3", "Planned", "m3"),
    ("used_m3", "Used", "m3"),
    ("share_pct", "Share", "%"),
    ("energy_kwh", "Energy", "kWh"),
    ("money", "Cost", "money"),
)
Columns = tuple[tuple[str, str, str], ...]
By = Literal["month", "season"]


@dataclass(frozen=True)
class Cell:
    """One figure: its column's heading, its text and how it is known ("" where it is a name)."""

    title: str
    text: str
    known: str


def shown_value(value: Any, how: str, units: UnitSystem, currency: str) -> str:
    """One cell of the ledger as a person reads it."""
    if how == "":
        return text_or(value)
    number = math.nan if value is None else float(value)
    if how == "m3":
        return quantity(number, "m3", units)
    if math.isnan(number):
        return "–"
    return f"{currency} {number:,.2f}" if how == "money" else f"{plain(round(number, 1))} {how}"


def ledger_lines(
    rows: pd.DataFrame, columns: Columns, units: UnitSystem, currency: str
) -> list[list[Cell]]:
    """The rows of a book as cells, in their order.

    Args:
        rows: what `Book.joined` gives, its index as columns; a column it lacks is left out.
        columns: which to show, with heading and how.
        units: the reader's.
        currency: sign printed before money.
    """
    present = [column for column in columns if column[0] in rows]
    return [
        [
            Cell(
                title,
                shown_value(row[name], how, units, currency),
                text_or(row.get(known_name(name)), ""),
            )
            for name, title, how in present
        ]
        for row in rows.to_dict("records")
    ]


def newest_first(book: Book) -> pd.DataFrame:
    """A book's rows with their evidence, the newest first."""
    return book.joined().reset_index().iloc[::-1]


def course_rows(book: Book) -> pd.DataFrame:
    """The whole course, one row a period, the newest first."""
    rows = newest_first(book)
    return rows[rows["kind"] == COURSE]


def kind_lines(
    book: Book, period: str, units: UnitSystem, currency: str
) -> list[tuple[str, list[Cell]]]:
    """The kinds of a period, each with its kind's id, the whole course last."""
    rows = book.joined().reset_index()
    own = rows[rows["period"] == period]
    own = pd.concat([own[own["kind"] != COURSE], own[own["kind"] == COURSE]])
    words = {COURSE: "Whole course", "elsewhere": "No area: leaks, and what meter and log differ"}
    named = own.assign(kind=[words.get(kind, kind) for kind in own["kind"]])
    lines = ledger_lines(named, KINDS, units, currency)
    return list(zip(own["kind"], lines, strict=True))


def ledger_csv(book: Book, units: UnitSystem) -> str:
    """A book as CSV: the reader's unit in each header, how it is known behind each figure."""
    rows = book.joined().reset_index()
    columns = [(str(name), read_column(str(name), units)) for name in rows.columns]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([column.name for _, column in columns])
    for row in rows.to_dict("records"):
        values = [column.value(row[name]) for name, column in columns]
        writer.writerow(["" if pd.isna(value) else value for value in values])
    return out.getvalue()
