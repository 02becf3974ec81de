"""The Ledger page: water, energy and money, by season, month, kind of area and night."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar

from fastapi import APIRouter
from fastapi import Query as InAddress
from starlette.responses import Response

from nightwater.desk.booking import ledger_totals, night_book
from nightwater.findings import NotFoundError
from nightwater.ledger.known import Book
from nightwater.web.doorway import CurrentVisit, Visit
from nightwater.web.ledger import view
from nightwater.web.state import PageState

router = APIRouter(prefix="/ledger")


class Query(PageState):
    """The state of the page: totals by what, and whose kinds of area."""

    path: ClassVar[str] = "/ledger"

    by: view.By = "month"
    period: str = ""


Asked = Annotated[Query, InAddress()]


def _nights(visit: Visit) -> Book:
    return visit.server.courses.remembered("ledger", lambda: night_book(visit.course))


def _totals(visit: Visit, by: str) -> Book:
    make = visit.server.courses.remembered
    return make(f"ledger-{by}", lambda: ledger_totals(visit.course, by))


def _values(visit: Visit, query: Query) -> dict[str, Any]:
    units, money = visit.units, visit.course.settings.money
    book, seasons = _totals(visit, query.by), view.course_rows(_totals(visit, "season"))
    whole = view.course_rows(book)
    names = list(whole["period"])
    period = query.period if query.period in names else names[0]
    return {
        "query": query,
        "period": period,
        "season": view.ledger_lines(seasons[:1], view.PERIODS, units, money.currency)[0],
        "periods": view.ledger_lines(whole, view.PERIODS, units, money.currency),
        "kinds": view.kind_lines(book, period, units, money.currency),
        "nights": view.ledger_lines(
            view.newest_first(_nights(visit)), view.NIGHTS, units, money.currency
        ),
        "energy_price": money.prices_energy,
        "usual_price": money.energy_per_kwh,
        "tariff": bool(money.periods) or money.demand_per_kw > 0,
        "currency": money.currency,
    }


@router.get("")
def page(visit: CurrentVisit, query: Asked) -> Response:
    """Season, months, kinds of area, and every approved night, the newest first."""
    booked = not _nights(visit).figures.empty
    return visit.page("ledger/page.html", **(_values(visit, query) if booked else {"nights": []}))


@router.get("/{what}.csv")
def as_csv(visit: CurrentVisit, what: str) -> Response:
    """The nights, months or seasons for a spreadsheet, in the reader's units."""
    if what not in ("night", "month", "season"):
        raise NotFoundError("There is night.csv, month.csv and season.csv.")
    book = _nights(visit) if what == "night" else _totals(visit, what)
    named = {"content-disposition": f'attachment; filename="ledger-{what}.csv"'}
    text = view.ledger_csv(book, visit.units)
    return Response(text, media_type="text/csv; charset=utf-8", headers=named)
