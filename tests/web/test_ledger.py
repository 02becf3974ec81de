"""Every gallon, by season, month, kind of area and night."""

from __future__ import annotations

import csv
import io
import re
from datetime import date
from typing import Any

import pandas as pd
import pytest

from nightwater.ledger.known import Book, Evidence
from nightwater.units import UnitSystem
from nightwater.web.ledger.view import NIGHTS, ledger_csv, ledger_lines, newest_first, shown_value

GAL_PER_M3 = 264.172052


def words(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


@pytest.fixture
def booked(served: Any) -> Any:
    from nightwater.desk.course import open_course
    from nightwater.desk.nights import stored_night

    with open_course(served.path) as course:
        night = stored_night(course, date(2026, 7, 14))
        assert night is not None
    served.who("Ines").post("/tonight/approve", night_id=night.id)
    return served


@pytest.fixture
def row(booked: Any) -> Any:
    from nightwater.desk.booking import ledger
    from nightwater.desk.course import open_course

    with open_course(booked.path) as course:
        return ledger(course).iloc[0]


def test_nothing_is_booked_before_a_night_is_approved(served: Any) -> None:
    assert "nothing is booked" in served.who("Vera").get("/ledger").text
    head, *rows = served.who("Vera").get("/ledger/month.csv").text.splitlines()
    assert (head.split(",")[:2], rows) == (["period", "kind"], [])


def test_an_approved_night_is_booked_with_what_is_left_of_the_allocation(
    booked: Any, row: Any
) -> None:
    page = booked.who("Vera").get("/ledger").text
    nights = words(page.split('id="nights-title"')[1])
    assert "2026-07-14" in nights
    assert f"(computed) {row['planned_m3'] * GAL_PER_M3:,.0f} gal" in nights
    assert f"(assumed) {row['used_m3'] * GAL_PER_M3:,.0f} gal" in nights
    assert f"(assumed) {row['allocation_left_m3'] * GAL_PER_M3:,.0f} gal" in nights
    assert "(missing) –" in nights


def test_the_season_tells_what_is_used_and_left(booked: Any, row: Any) -> None:
    season = words(booked.who("Vera").get("/ledger").text.split("<dl")[1].split("</dl>")[0])
    used_pct = 100 * row["used_in_period_m3"] / row["allocation_m3"]
    found = re.search(r"Allocation used \(assumed\) ([\d.]+) %", season)
    assert found is not None
    assert float(found.group(1)) == pytest.approx(used_pct, abs=0.06)
    assert f"{row['allocation_left_m3'] * GAL_PER_M3:,.0f} gal" in season


def test_kinds_of_area_stand_under_their_period_the_course_last(booked: Any) -> None:
    page = booked.who("Vera").get("/ledger?by=season").text
    table = page.split('id="kinds-title"')[1].split("</table>")[0]
    names = [words(name) for name in re.findall(r'<th scope="row">(.*?)</th>', table, re.S)]
    assert names[0] == "green"
    assert names[-1] == "Whole course"
    assert names[-2].startswith("No area")


def test_the_download_speaks_the_readers_units_and_tells_how_each_is_known(
    booked: Any, row: Any
) -> None:
    for what in ("night", "month", "season"):
        answer = booked.who("Vera").get(f"/ledger/{what}.csv")
        assert answer.headers["content-type"].startswith("text/csv")
        first = next(csv.DictReader(io.StringIO(answer.text)))
        assert float(first["used_gal"]) == pytest.approx(row["used_m3"] * GAL_PER_M3, rel=1e-6)
        assert first["used_known"] == "assumed"
    assert booked.who("Vera").get("/ledger/year.csv").status_code == 404


def test_missing_stays_missing_and_the_newest_stands_first() -> None:
    rows = pd.DataFrame(
        {"metered_m3": [float("nan"), 10.0], "money": [None, 2.5]},
        index=pd.Index(["2026-07-13", "2026-07-14"], name="night"),
    )
    known = pd.DataFrame({"metered_m3": [Evidence.MISSING, Evidence.OBSERVED]}, index=rows.index)
    book = Book(rows, known)
    lines = ledger_lines(newest_first(book), NIGHTS, UnitSystem.METRIC, "€")
    assert [[cell.text for cell in line] for line in lines] == [
        ["2026-07-14", "10.0 m³", "€ 2.50"],
        ["2026-07-13", "–", "–"],
    ]
    assert [line[1].known for line in lines] == ["observed", "missing"]
    assert ledger_csv(book, UnitSystem.METRIC).splitlines()[1] == "2026-07-13,,missing,"


def test_a_number_is_shown_with_its_unit() -> None:
    assert shown_value(7.123, "h", UnitSystem.US, "$") == "7.1 h"
    assert shown_value(12345.67, "kWh", UnitSystem.US, "$") == "12,346 kWh"
    assert shown_value(None, "", UnitSystem.US, "$") == "–"
