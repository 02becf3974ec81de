"""Every gallon, night by night."""

from __future__ import annotations

import re
from typing import Any

import pandas as pd

from nightwater.units import UnitSystem
from nightwater.web.ledger.routes import ledger_lines, shown_value


def test_nothing_is_booked_before_a_night_is_approved(served: Any) -> None:
    assert "nothing is booked" in served.who("Vera").get("/ledger").text


def test_an_approved_night_is_booked_with_what_is_left_of_the_allocation(served: Any) -> None:
    from datetime import date

    from nightwater.desk.booking import ledger
    from nightwater.desk.course import open_course
    from nightwater.desk.nights import stored_night

    with open_course(served.path) as course:
        night = stored_night(course, date(2026, 7, 14))
        assert night is not None
    served.who("Ines").post("/tonight/approve", night_id=night.id)
    with open_course(served.path) as course:
        row = ledger(course).iloc[0]
    page = served.who("Vera").get("/ledger").text
    cells = re.findall(r"<t[dh][^>]*>(?:<a[^>]*>)?([^<]*)", page.split("<tbody>")[1])
    assert cells[0] == "2026-07-14"
    assert f"{row['planned_m3'] * 264.172052:,.0f} gal" in cells
    assert f"{row['allocation_left_m3'] * 264.172052:,.0f} gal" in cells
    assert f"$ {row['money']:,.2f}" in cells


def test_missing_stays_missing_and_the_newest_stands_first() -> None:
    rows = pd.DataFrame(
        {
            "night": ["2026-07-13", "2026-07-14"],
            "metered_m3": [float("nan"), 10.0],
            "money": [None, 2.5],
        }
    )
    lines = ledger_lines(rows, UnitSystem.METRIC, "€")
    assert lines == [["2026-07-14", "10.0 m³", "€ 2.50"], ["2026-07-13", "–", "–"]]


def test_a_number_is_shown_with_its_unit() -> None:
    assert shown_value(7.123, "h", UnitSystem.US, "$") == "7.1 h"
    assert shown_value(12345.67, "kWh", UnitSystem.US, "$") == "12,346 kWh"
    assert shown_value(None, "", UnitSystem.US, "$") == "–"
