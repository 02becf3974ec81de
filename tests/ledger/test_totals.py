"""Months and seasons, kinds of area and the whole course: everything adds up."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date

import pandas as pd
import pytest

from nightwater.ground.settings import MoneyRules
from nightwater.ledger.allowance import allocation_period
from nightwater.ledger.book import ledger_rows
from nightwater.ledger.known import Book, Evidence, evidence_rows, weakest
from nightwater.ledger.totals import (
    COURSE,
    ELSEWHERE,
    TOTALS,
    kind_rows,
    month_of,
    season_of,
    totals,
)
from nightwater.night.plan import Night
from nightwater.proof.verdict import Proof

from .test_book import CANAL, SETTINGS, ground_of, plain_night, proved

DAYS = [date(2025, 6, 30), date(2025, 7, 1), date(2025, 7, 2)]
GROUND = ground_of({"C": CANAL})


def two_kinds(day: date) -> Night:
    """The plain night with its odd stations on a green: 4.8 m³ fairway, 2.4 m³ green."""
    night = plain_night(day)
    sums = [replace(s, kind="green") if s.area == "A1" else s for s in night.sums]
    return replace(night, sums=tuple(sums))


def booked_nights() -> list[tuple[Night, Proof | None]]:
    nights = [two_kinds(day) for day in DAYS]
    return [(nights[0], None), (nights[1], proved(nights[1], GROUND)), (nights[2], None)]


def book(by: object = month_of, **changes: object) -> Book:
    booked = booked_nights()
    settings = replace(SETTINGS, **changes)  # type: ignore[arg-type]
    return totals(booked, ledger_rows(booked, GROUND, settings), by)  # type: ignore[arg-type]


def test_each_month_has_the_course_first_then_its_kinds() -> None:
    figures = book().figures
    assert list(figures.columns) == list(TOTALS)
    assert list(figures.index) == [
        (month, kind)
        for month in ("2025-06", "2025-07")
        for kind in (COURSE, "green", "fairway", ELSEWHERE)
    ]
    assert figures["nights"].xs(COURSE, level="kind").tolist() == [1, 2]
    assert figures["metered_nights"].xs(COURSE, level="kind").tolist() == [0, 1]


def test_kinds_of_a_planned_month_are_the_plans_sums() -> None:
    june = book().figures.loc["2025-06"]
    assert june["used_m3"].to_dict() == pytest.approx(
        {COURSE: 7.2, "fairway": 4.8, "green": 2.4, ELSEWHERE: 0.0}
    )
    assert june["share_pct"].to_dict() == pytest.approx(
        {COURSE: 100, "fairway": 200 / 3, "green": 100 / 3, ELSEWHERE: 0.0}, abs=1e-9
    )


@pytest.mark.parametrize("column", ["planned_m3", "used_m3", "energy_kwh", "money"])
def test_kinds_add_up_to_the_course_and_months_to_all_nights(column: str) -> None:
    figures = book().figures[column]
    whole = figures.xs(COURSE, level="kind")
    parts = figures.drop(COURSE, level="kind").groupby(level="period").sum()
    assert parts.to_dict() == pytest.approx(whole.to_dict())
    nights = ledger_rows(booked_nights(), GROUND, SETTINGS)[column]
    assert whole.sum() == pytest.approx(nights.sum())


def test_a_leak_is_water_that_no_area_answers_for() -> None:
    night = two_kinds(DAYS[0])
    leaky = [(night, proved(night, GROUND, leak_l_s=1.0))]
    rows = kind_rows(leaky, ledger_rows(leaky, GROUND, SETTINGS)).set_index("kind")
    # 1 L/s for the 480 minutes of the window is 28.8 m³
    assert rows.loc[ELSEWHERE, "used_m3"] == pytest.approx(28.8, rel=0.02)
    assert rows.loc["green", "used_m3"] == pytest.approx(2.4, rel=0.05)


def test_the_allocation_is_told_after_the_last_night_of_the_period() -> None:
    figures = book().figures
    rows = ledger_rows(booked_nights(), GROUND, SETTINGS)
    for month, night in (("2025-06", DAYS[0]), ("2025-07", DAYS[2])):
        whole = figures.loc[(month, COURSE)]
        assert whole["allocation_left_m3"] == rows["allocation_left_m3"][night]
        used_pct = 100 * rows["used_in_period_m3"][night] / CANAL["allocation_m3"]
        assert whole["allocation_used_pct"] == pytest.approx(used_pct)
    assert figures["allocation_left_m3"].drop(COURSE, level="kind").isna().all()


def test_the_season_is_the_period_of_the_allocation() -> None:
    period = allocation_period(GROUND.sources, DAYS[0])
    assert period == (CANAL["period_start"], CANAL["period_end"])
    seasons = book(season_of(GROUND.sources)).figures.xs(COURSE, level="kind")
    assert seasons.index.tolist() == [f"{CANAL['period_start']} to {CANAL['period_end']}"]
    assert seasons["nights"].tolist() == [3]


def test_without_an_allocation_the_season_is_the_year_and_nothing_is_left_to_tell() -> None:
    dry = ground_of()
    booked = booked_nights()
    figures = totals(booked, ledger_rows(booked, dry, SETTINGS), season_of(dry.sources)).figures
    assert figures.index[0] == ("2025", COURSE)
    assert math.isnan(figures["allocation_used_pct"].iloc[0])
    assert allocation_period(dry.sources, DAYS[0]) is None


def test_every_figure_says_how_it_is_known_and_a_total_is_as_weak_as_its_weakest() -> None:
    made = book()
    june = made.evidence.loc[("2025-06", COURSE)]
    july = made.evidence.loc[("2025-07", COURSE)]
    assert june["planned_m3"] == july["planned_m3"] == Evidence.COMPUTED
    assert june["used_m3"] == july["used_m3"] == Evidence.ASSUMED
    assert july["allocation_left_m3"] == Evidence.ASSUMED
    nights = evidence_rows(ledger_rows(booked_nights(), GROUND, SETTINGS))
    assert nights["used_m3"].tolist() == [Evidence.ASSUMED, Evidence.OBSERVED, Evidence.ASSUMED]
    assert nights["metered_m3"].tolist() == [
        Evidence.MISSING, Evidence.OBSERVED, Evidence.MISSING,
    ]  # fmt: skip
    # the metered night stands on the assumed one before it
    assert nights["allocation_left_m3"].tolist() == [Evidence.ASSUMED] * 3


def test_no_missing_figure_claims_to_be_known_and_no_known_one_to_be_missing() -> None:
    made = book()
    for name in made.evidence.columns:
        missing = made.figures[name].isna()
        said = made.evidence[name].isna() | (made.evidence[name] == Evidence.MISSING)
        assert missing.tolist() == said.tolist(), name


def test_money_is_missing_where_no_price_is_known() -> None:
    free = {**CANAL, "price_per_m3": None}
    booked, ground = booked_nights(), ground_of({"C": free})
    rows = ledger_rows(booked, ground, replace(SETTINGS, money=MoneyRules()))
    assert rows["money"].isna().all()
    made = totals(booked, rows, month_of)
    assert made.figures["money"].isna().all()
    assert set(made.evidence["money"]) == {Evidence.MISSING}


def test_a_period_with_an_unknown_night_has_no_total() -> None:
    booked = booked_nights()
    rows = ledger_rows(booked, ground_of({"C": CANAL}, head_m=None), SETTINGS)
    made = totals(booked, rows, month_of)
    assert made.figures["energy_kwh"].isna().all()
    assert set(made.evidence["energy_kwh"]) == {Evidence.MISSING}
    assert made.figures.loc[("2025-06", COURSE), "used_m3"] == pytest.approx(7.2)


def test_a_joined_book_has_the_evidence_behind_each_figure() -> None:
    columns = list(book().joined().columns)
    assert columns[columns.index("used_m3") + 1] == "used_known"
    assert "share_known" not in columns


def test_the_weakest_of_nothing_is_missing() -> None:
    assert weakest([]) is Evidence.MISSING
    assert weakest([Evidence.OBSERVED, Evidence.COMPUTED]) is Evidence.COMPUTED


def test_no_nights_have_no_totals() -> None:
    empty = totals([], ledger_rows([], GROUND, SETTINGS), month_of)
    assert empty.figures.empty
    assert list(empty.figures.columns) == list(TOTALS)
    assert isinstance(empty.joined(), pd.DataFrame)
