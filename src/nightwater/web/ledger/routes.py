"""The Ledger page: water, energy and money, night by night."""

from __future__ import annotations

import math
from typing import Any, Final

import pandas as pd
from fastapi import APIRouter
from starlette.responses import Response

from nightwater.desk.booking import ledger
from nightwater.units import UnitSystem
from nightwater.web.doorway import CurrentVisit, Visit
from nightwater.web.figures import plain, quantity, text_or

router = APIRouter(prefix="/ledger")
# Columns of the ledger that the page shows, with heading and how the number is shown.
COLUMNS: Final = (
    ("night", "Night", ""),
    ("planned_m3", "Planned", "m3"),
    ("commanded_m3", "Commanded", "m3"),
    ("metered_m3", "Metered", "m3"),
    ("hours", "Hours", "h"),
    ("energy_kwh", "Energy", "kWh"),
    ("money", "Cost", "money"),
    ("allocation_left_m3", "Allocation left", "m3"),
    ("evidence", "Water known from", ""),
)


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


def ledger_lines(rows: pd.DataFrame, units: UnitSystem, currency: str) -> list[list[str]]:
    """The ledger as texts, newest night first; only the columns it has."""
    columns = [(name, how) for name, _, how in COLUMNS if name in rows]
    return [
        [shown_value(row[name], how, units, currency) for name, how in columns]
        for row in reversed(rows.to_dict("records"))
    ]


def _values(visit: Visit) -> dict[str, Any]:
    rows = visit.server.courses.remembered("ledger", lambda: ledger(visit.course).reset_index())
    settings = visit.course.settings
    return {
        "headings": [(title, how) for name, title, how in COLUMNS if name in rows],
        "lines": ledger_lines(rows, visit.units, settings.money.currency),
    }


@router.get("")
def page(visit: CurrentVisit) -> Response:
    """Every approved night, newest first."""
    return visit.page("ledger/page.html", **_values(visit))
