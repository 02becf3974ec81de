"""Need of areas: factors, methods, evidence, triggers and doubts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from nightwater.findings import Severity, UserError
from nightwater.ground.settings import NeedRules
from nightwater.soil.need import account_days, area_needs

Build = Callable[..., pd.DataFrame]

JULY_1 = "2025-07-01"
RULES = NeedRules(account_start=JULY_1)


@pytest.fixture
def no_water(water_of: Build) -> pd.DataFrame:
    return water_of()


def night(day: int) -> date:
    return date(2025, 7, 1) + timedelta(days=day)


def test_need_of_one_dry_day_by_hand(
    areas_of: Build, days_of: Build, no_water: pd.DataFrame
) -> None:
    """6 mm × 0.95 × 0.9 = 5.13 mm."""
    areas = areas_of({"area_factor": 0.9})
    row = area_needs(areas, days_of(1), no_water, night(0), RULES).table.loc["A1"]
    assert row["need_mm"] == pytest.approx(6 * 0.95 * 0.9)
    assert (row["eto_mm"], row["kc"], row["area_factor"]) == (6.0, 0.95, 0.9)
    assert row["etc_mm"] == pytest.approx(5.13)
    assert row["carried_mm"] == 0
    assert row["irrigation_evidence"] == "none"
    assert row["taw_mm"] == pytest.approx(160 * 0.25)
    assert row["raw_mm"] == pytest.approx(20.0)


def test_need_is_carried_over_days_that_got_no_water(
    areas_of: Build, days_of: Build, no_water: pd.DataFrame
) -> None:
    row = area_needs(areas_of(), days_of(2), no_water, night(1), RULES).table.loc["A1"]
    assert row["need_mm"] == pytest.approx(2 * 5.7)
    assert row["carried_mm"] == pytest.approx(5.7)


def test_a_nights_water_enters_the_day_after(
    areas_of: Build, days_of: Build, water_of: Build
) -> None:
    water = water_of((0, "A1", 5.7, "proved"))
    same = area_needs(areas_of(), days_of(1), water, night(0), RULES).table.loc["A1"]
    after = area_needs(areas_of(), days_of(2), water, night(1), RULES).table.loc["A1"]
    assert same["need_mm"] == pytest.approx(5.7)
    assert same["irrigation_evidence"] == "none"
    assert after["need_mm"] == pytest.approx(5.7)
    assert after["carried_mm"] == pytest.approx(0, abs=1e-12)
    assert after["irrigation_mm"] == 5.7


def test_rain_of_the_day_lowers_the_need(
    areas_of: Build, days_of: Build, no_water: pd.DataFrame
) -> None:
    row = area_needs(areas_of(), days_of(1, rain_mm=2.0), no_water, night(0), RULES).table.loc["A1"]
    assert row["need_mm"] == pytest.approx(3.7)
    assert (row["rain_mm"], row["runoff_mm"], row["deep_mm"]) == (2.0, 0.0, 0.0)


def test_a_storm_fills_the_store_and_leaves_no_need(
    areas_of: Build, days_of: Build, no_water: pd.DataFrame
) -> None:
    table = area_needs(areas_of(), days_of(1, rain_mm=90.0), no_water, night(0), RULES).table
    row = table.loc["A1"]
    assert row["need_mm"] == 0
    assert row["runoff_mm"] > 0
    assert row["deep_mm"] == pytest.approx(90 - row["runoff_mm"] - 5.7)


@pytest.mark.parametrize(
    ("rows", "evidence", "entered_mm"),
    [
        ([(0, "A1", 4.0, "planned")], "planned", 4.0),
        ([(0, "A1", 4.0, "proved")], "proved", 4.0),
        ([(0, "A1", 4.0, "proved"), (1, "A1", 3.0, "planned")], "mixed", 7.0),
        ([(0, "A1", 4.0, "planned"), (0, "A1", 1.0, "proved")], "proved", 1.0),
        ([(0, "A1", 1.0, "proved"), (0, "A2", 4.0, "planned")], "proved", 1.0),
        ([(0, "A2", 4.0, "planned")], "none", 0.0),
        ([(9, "A1", 4.0, "proved")], "none", 0.0),
    ],
)
def test_proved_water_stands_before_planned(  # noqa: PLR0917
    areas_of: Build,
    days_of: Build,
    water_of: Build,
    rows: list[tuple[int, str, float, str]],
    evidence: str,
    entered_mm: float,
) -> None:
    result = area_needs(areas_of({}, {}), days_of(3), water_of(*rows), night(2), RULES)
    assert result.table.loc["A1", "irrigation_evidence"] == evidence
    assert result.table.loc["A1", "irrigation_mm"] == entered_mm


def test_the_account_says_what_each_night_rests_on(
    areas_of: Build, days_of: Build, water_of: Build
) -> None:
    water = water_of((0, "A1", 4.0, "planned"), (1, "A1", 3.0, "proved"))
    account = area_needs(areas_of({}, {}), days_of(3), water, night(2), RULES).account
    mine = account[account["area"] == "A1"]
    assert mine["evidence"].tolist() == ["none", "planned", "proved"]
    assert mine["irrigation_mm"].tolist() == [0.0, 4.0, 3.0]
    assert set(account.loc[account["area"] == "A2", "evidence"]) == {"none"}


def test_water_of_unknown_depth_is_a_finding_and_counts_none(
    areas_of: Build, days_of: Build, water_of: Build
) -> None:
    water = water_of((0, "A1", float("nan"), "planned"), (1, "A1", 3.0, "planned"))
    result = area_needs(areas_of(), days_of(3), water, night(2), RULES)
    found = [f for f in result.findings if f.code == "irrigation-depth-unknown"]
    assert [(f.subject, f.severity) for f in found] == [("areas:A1", Severity.WARNING)]
    assert "2025-07-01" in found[0].message
    assert result.table.loc["A1", "irrigation_mm"] == 3.0


def test_the_account_closes_on_every_row(areas_of: Build, days_of: Build, water_of: Build) -> None:
    water = water_of((0, "A1", 30.0, "proved"), (1, "A2", 3.0, "planned"))
    days = days_of(5, rain_mm=[0, 0, 40, 0, 1], eto_mm=[6, 7, 2, 5, 8])
    account = area_needs(areas_of({}, {"soil": "clay", "curve_number": 80.0}), days, water,
                         night(4), RULES).account  # fmt: skip
    assert len(account) == 10
    end = (
        account["depletion_start_mm"]
        - account["irrigation_mm"]
        - (account["rain_mm"] - account["runoff_mm"])
        + account["et_mm"]
        + account["deep_percolation_mm"]
    )
    np.testing.assert_allclose(account["depletion_end_mm"], end, atol=1e-9)
    np.testing.assert_array_less(account["et_mm"], account["etc_mm"] + 1e-9)
    np.testing.assert_allclose(account["etc_mm"], account["eto_mm"] * 0.95)


def test_drainage_shown_is_that_of_the_nights_own_day(
    areas_of: Build, days_of: Build, no_water: pd.DataFrame
) -> None:
    days = days_of(2, rain_mm=[40.0, 0.0])
    first, second = (
        area_needs(areas_of(), days, no_water, night(day), RULES).table.loc["A1", "deep_mm"]
        for day in (0, 1)
    )
    assert first > 0
    assert second == 0


def test_target_leaves_a_share_unfilled(
    areas_of: Build, days_of: Build, no_water: pd.DataFrame
) -> None:
    """Target 10 % of 40 mm = 4 mm: the account opens at it, so one day's ET is the need."""
    areas = areas_of({"target_depletion_pct": 10.0})
    row = area_needs(areas, days_of(1), no_water, night(0), RULES).table.loc["A1"]
    assert row["target_mm"] == pytest.approx(4.0)
    assert row["depletion_mm"] == pytest.approx(9.7)
    assert row["need_mm"] == pytest.approx(5.7)


def test_opening_depletion_is_needed_and_carried(
    areas_of: Build, days_of: Build, no_water: pd.DataFrame
) -> None:
    rules = replace(RULES, opening_depletion_mm=3.0)
    row = area_needs(areas_of(), days_of(1), no_water, night(0), rules).table.loc["A1"]
    assert row["need_mm"] == pytest.approx(8.7)
    assert row["carried_mm"] == pytest.approx(3.0)


def test_an_opening_deeper_than_the_store_is_an_empty_store(
    areas_of: Build, days_of: Build, no_water: pd.DataFrame
) -> None:
    rules = replace(RULES, opening_depletion_mm=500.0)
    row = area_needs(areas_of(), days_of(1), no_water, night(0), rules).table.loc["A1"]
    assert row["depletion_mm"] == row["carried_mm"] == pytest.approx(40.0)
    assert row["ks"] == 0


def test_trigger_waits_until_the_allowed_depletion(
    areas_of: Build, days_of: Build, no_water: pd.DataFrame
) -> None:
    """Half of 40 mm is 20 mm: 17.1 mm after three days wait; the fourth, slowed, passes 20."""
    rules = replace(RULES, use_trigger=True)
    needs = [
        area_needs(areas_of(), days_of(5), no_water, night(day), rules).table.loc["A1", "need_mm"]
        for day in (2, 3)
    ]
    p = 0.4 + 0.04 * (5 - 5.7)
    slowed = (40 - 17.1) / ((1 - p) * 40) * 5.7
    assert needs == [0.0, pytest.approx(17.1 + slowed)]


def test_et_share_takes_a_share_and_remembers_what_was_left_out(
    areas_of: Build, days_of: Build, water_of: Build
) -> None:
    rules = replace(RULES, method="et_share", et_share=0.8)
    daily = 6 * 0.95 * 0.8
    one = area_needs(areas_of(), days_of(1), water_of(), night(0), rules).table.loc["A1"]
    short = water_of((0, "A1", 1.0, "proved"))
    two = area_needs(areas_of(), days_of(2), short, night(1), rules).table.loc["A1"]
    cool = area_needs(areas_of(), days_of(1, eto_mm=0.5), water_of(), night(0), rules).table
    assert cool.loc["A1", "need_mm"] == pytest.approx(daily / 12)
    assert one["need_mm"] == pytest.approx(daily)
    assert two["need_mm"] == pytest.approx(2 * daily - 1.0)
    assert two["carried_mm"] == pytest.approx(daily - 1.0)
    assert two["method"] == "et_share"


def test_et_share_knows_no_empty_store(
    areas_of: Build, days_of: Build, no_water: pd.DataFrame
) -> None:
    rules = replace(RULES, method="et_share")
    row = area_needs(areas_of(), days_of(20), no_water, night(19), rules).table.loc["A1"]
    assert row["need_mm"] == pytest.approx(20 * 5.7)
    assert row["ks"] == 1.0


def test_tall_reference_uses_its_own_series(
    areas_of: Build, days_of: Build, no_water: pd.DataFrame
) -> None:
    rules = replace(RULES, reference="tall")
    row = area_needs(areas_of(), days_of(1), no_water, night(0), rules).table.loc["A1"]
    assert row["need_mm"] == pytest.approx(7.5 * 0.95)


def test_coefficients_follow_the_calendar(
    areas_of: Build, days_of: Build, no_water: pd.DataFrame
) -> None:
    days = days_of(1)
    days.index = pd.Index([date(2025, 4, 10)], name="date")
    rules = NeedRules(account_start="2025-04-10", kc_table="uc_anr")
    row = area_needs(areas_of(), days, no_water, date(2025, 4, 10), rules).table.loc["A1"]
    assert row["kc"] == 1.04


def test_areas_of_one_kind_but_other_grass_differ(
    areas_of: Build, days_of: Build, no_water: pd.DataFrame
) -> None:
    areas = areas_of({}, {"grass": "warm_season"})
    table = area_needs(areas, days_of(1), no_water, night(0), RULES).table
    assert table["need_mm"].tolist() == pytest.approx([5.7, 5.1])


def test_what_the_record_does_not_say_is_named(
    areas_of: Build, days_of: Build, no_water: pd.DataFrame
) -> None:
    areas = areas_of({"soil": None, "grass": None, "area_factor": None}, {})
    result = area_needs(areas, days_of(1), no_water, night(0), RULES)
    assert {"soil", "grass", "area_factor"} <= set(result.table.loc["A1", "assumed"])
    assert {f.code for f in result.findings} == {"grass-assumed", "soil-assumed"}
    assert all(f.subject == "areas:A1" for f in result.findings)


def test_flags_of_the_weather_come_along(
    areas_of: Build, days_of: Build, no_water: pd.DataFrame
) -> None:
    days = days_of(1)
    days.at[night(0), "flags"] = ["wind_assumed"]
    result = area_needs(areas_of(), days, no_water, night(0), RULES)
    assert result.table.loc["A1", "flags"] == ["wind_assumed"]


def test_a_day_without_weather_is_refused_by_date(
    areas_of: Build, days_of: Build, no_water: pd.DataFrame
) -> None:
    gap = days_of(4).drop(index=night(1))
    with pytest.raises(UserError, match="no usable weather for 2025-07-02") as told:
        area_needs(areas_of(), gap, no_water, night(3), RULES)
    assert "account_start" in str(told.value)


def test_many_days_without_weather_are_counted(
    areas_of: Build, days_of: Build, no_water: pd.DataFrame
) -> None:
    days = days_of(9, eto_mm=[6, 6, *[float("nan")] * 6, 6])
    with pytest.raises(UserError, match="2025-07-03, 2025-07-04, 2025-07-05 and 3 more days"):
        area_needs(areas_of(), days, no_water, night(8), RULES)


def test_unknown_rain_is_a_finding_and_counts_none(
    areas_of: Build, days_of: Build, no_water: pd.DataFrame
) -> None:
    days = days_of(3, rain_mm=[0.0, float("nan"), 0.0])
    result = area_needs(areas_of(), days, no_water, night(2), RULES)
    found = [f for f in result.findings if f.code == "rain-assumed-none"]
    assert len(found) == 1
    assert "2025-07-02" in found[0].message
    assert result.table.loc["A1", "need_mm"] == pytest.approx(3 * 5.7)


def test_weather_after_the_night_does_not_matter(
    areas_of: Build, days_of: Build, no_water: pd.DataFrame
) -> None:
    early, late = days_of(2), days_of(9, eto_mm=[6, 6, *[99] * 7])
    one, other = (area_needs(areas_of(), d, no_water, night(1), RULES).table for d in (early, late))
    pd.testing.assert_frame_equal(one, other)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"method": "guess"}, "need.method"),
        ({"reference": "medium"}, "need.reference"),
        ({"et_share": 3.0}, "need.et_share"),
        ({"et_share": float("nan")}, "need.et_share"),
        ({"opening_depletion_mm": -1.0}, "need.opening_depletion_mm"),
        ({"opening_depletion_mm": float("nan")}, "need.opening_depletion_mm"),
        ({"kc_table": "mine"}, "no coefficient table 'mine'"),
        ({"account_start": "2025-07-09"}, "after the night"),
    ],
)
def test_rules_without_sense_are_refused(
    areas_of: Build,
    days_of: Build,
    no_water: pd.DataFrame,
    change: dict[str, object],
    words: str,
) -> None:
    rules = replace(RULES, **change)  # type: ignore[arg-type]
    with pytest.raises(UserError, match=words):
        area_needs(areas_of(), days_of(1), no_water, night(0), rules)


def test_the_account_opens_on_the_night_itself_unless_told() -> None:
    assert account_days(night(4), NeedRules()) == [night(4)]
    assert account_days(night(4), RULES) == [night(day) for day in range(5)]


def test_no_areas_give_no_rows(areas_of: Build, days_of: Build, no_water: pd.DataFrame) -> None:
    result = area_needs(areas_of().iloc[:0], days_of(1), no_water, night(0), RULES)
    assert len(result.table) == len(result.account) == 0
    assert result.findings == ()


def test_areas_keep_the_records_order(
    areas_of: Build, days_of: Build, no_water: pd.DataFrame
) -> None:
    areas = areas_of({}, {}, {}).loc[["A3", "A1", "A2"]]
    table = area_needs(areas, days_of(1), no_water, night(0), RULES).table
    assert table.index.tolist() == ["A3", "A1", "A2"]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(
    eto=st.lists(st.floats(0, 12), min_size=6, max_size=6),
    rain=st.lists(st.floats(0, 60), min_size=6, max_size=6),
    depths=st.lists(st.floats(0, 20), min_size=5, max_size=5),
)
def test_filling_the_need_brings_the_store_to_its_target(  # noqa: PLR0917
    areas_of: Build,
    days_of: Build,
    water_of: Build,
    eto: list[float],
    rain: list[float],
    depths: list[float],
) -> None:
    """Whatever came before: give the need, and next morning lacks nothing over the target."""
    areas = areas_of({"target_depletion_pct": 10.0})
    days = days_of(7, eto_mm=[*eto, 5.0], rain_mm=[*rain, 0.0])
    past = [(day, "A1", depth, "proved") for day, depth in enumerate(depths)]
    need = area_needs(areas, days, water_of(*past), night(5), RULES).table.loc["A1", "need_mm"]
    filled = water_of(*past, (5, "A1", need, "proved"))
    row = area_needs(areas, days, filled, night(6), RULES).table.loc["A1"]
    assert need >= 0
    assert row["carried_mm"] == pytest.approx(0, abs=1e-9)
    assert row["need_mm"] <= 5.0 * 0.95 + 1e-9


def test_a_season_of_a_whole_course_is_quick_to_hold(
    areas_of: Build, days_of: Build, no_water: pd.DataFrame
) -> None:
    """150 areas over 214 days in one table: 32,100 rows, each with every term."""
    areas = areas_of(*[{}] * 150)
    account = area_needs(areas, days_of(214), no_water, night(213), RULES).account
    assert account.shape == (150 * 214, 13)
    assert account.notna().all().all()
