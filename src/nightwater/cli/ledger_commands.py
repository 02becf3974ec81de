"""ledger: nights, months, seasons."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated, Final

import typer

from nightwater.cli.options import CourseArgument, UnitsOption
from nightwater.cli.printing import Format, FormatOption, frame_rows, print_read, say
from nightwater.desk.booking import ledger_totals, night_book
from nightwater.desk.course import open_course
from nightwater.ledger.known import Book


class By(StrEnum):
    """What a row of the ledger stands for."""

    NIGHT = "night"
    MONTH = "month"
    SEASON = "season"


# What fits a terminal; every figure and how it is known stands in the other forms.
SHOWN: Final = {
    By.NIGHT: (
        "night", "planned_m3", "used_m3", "used_known", "energy_kwh", "money",
        "allocation_left_m3",
    ),
    By.MONTH: (
        "period", "kind", "used_m3", "used_known", "share_pct", "money",
        "allocation_used_pct", "allocation_left_m3",
    ),
}  # fmt: skip


def _columns(book: Book, by: By, form: Format) -> list[str]:
    if form is Format.TABLE:
        return list(SHOWN[By.NIGHT if by is By.NIGHT else By.MONTH])
    return [str(name) for name in book.joined().reset_index().columns]


def ledger(
    course: CourseArgument,
    by: Annotated[By, typer.Option("--by", help="One row a night, or totals.")] = By.NIGHT,
    units: UnitsOption = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """Water, hours, energy and money by night, month or season, and the allocation left.

    Totals stand for the whole course and each kind of area. A spreadsheet's file:
    ledger my.gpkg --by month --units us --format csv > ledger.csv
    """
    with open_course(course) as opened:
        book = night_book(opened) if by is By.NIGHT else ledger_totals(opened, by)
        money = opened.settings.money.currency
        usual = opened.settings.site.units
    title = f"Ledger by {by}, money in {money}"
    rows = frame_rows(book.joined())
    print_read(rows, _columns(book, by, form), form, title, units=units, usual=usual)
    if form is Format.TABLE:
        say("Every figure, and how each is known: --format csv or json.")


def add_to(app: typer.Typer) -> None:
    """Register this module's command."""
    app.command()(ledger)
