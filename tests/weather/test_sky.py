"""Radiation against the sun: level, clock, night, and what cannot be."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.findings import Severity
from nightwater.weather import radiation
from nightwater.weather.sky import Place, check_sky

Build = Callable[..., pd.DataFrame]
NAN = float("nan")


def codes_of(weather: pd.DataFrame, step: str, place: Place) -> list[str]:
    return [finding.code for finding in check_sky(weather, step, place)[1]]  # type: ignore[arg-type]


def test_a_series_without_radiation_is_left_alone(days_of: Build, place: Place) -> None:
    days = days_of().drop(columns="solar_mj_m2")
    clean, findings = check_sky(days, "day", place)
    assert findings == []
    assert clean is days


def test_a_day_above_the_sun_itself_is_taken_out(days_of: Build, place: Place) -> None:
    days = days_of()
    days.loc[days.index[6], "solar_mj_m2"] = 44.5  # within 0 to 45, above 41.4 · 1.05
    clean, findings = check_sky(days, "day", place)
    assert [finding.code for finding in findings] == ["weather-radiation-impossible"]
    assert findings[0].subject == "weather:2025-07-07"
    assert np.isnan(clean["solar_mj_m2"].iloc[6])


def test_a_sensor_that_reads_high_is_told_and_kept(days_of: Build, place: Place) -> None:
    days = days_of(40)
    high = days.assign(solar_mj_m2=days["solar_mj_m2"] * 1.25)
    clean, findings = check_sky(high, "day", place)
    assert [finding.code for finding in findings] == ["weather-radiation-over-clear-sky"]
    assert findings[0].severity is Severity.WARNING
    assert clean["solar_mj_m2"].equals(high["solar_mj_m2"])


def test_a_few_bright_days_are_weather(days_of: Build, place: Place) -> None:
    days = days_of(100)
    days.loc[days.index[:4], "solar_mj_m2"] *= 1.25
    assert codes_of(days, "day", place) == []


def test_kilowatt_hours_under_megajoules_read_low(days_of: Build, place: Place) -> None:
    days = days_of(90)
    assert codes_of(days.assign(solar_mj_m2=days["solar_mj_m2"] / 3.6), "day", place) == [
        "weather-radiation-low"
    ]


def test_years_are_judged_one_by_one(place: Place) -> None:
    index = pd.Index(pd.date_range("2023-01-01", "2024-12-31").date)
    day_of_year = pd.DatetimeIndex(pd.to_datetime(pd.Series(index))).day_of_year
    clear = radiation.clear_sky_mj_m2(
        radiation.extraterrestrial_mj_m2(place.latitude_deg, day_of_year), place.elevation_m
    )
    year = np.array([day.year for day in index])
    days = pd.DataFrame({"solar_mj_m2": clear * np.where(year == 2024, 1.08, 0.9)}, index=index)
    _, findings = check_sky(days, "day", place)
    assert [finding.subject for finding in findings] == ["weather:2024"]


def test_a_small_offset_at_night_becomes_zero(hours_of: Build, place: Place) -> None:
    hours = hours_of()
    dark = hours["solar_w_m2"] == 0
    offset = hours.assign(solar_w_m2=hours["solar_w_m2"].where(~dark, -2.5))
    clean, findings = check_sky(offset, "hour", place)
    assert [finding.code for finding in findings] == ["weather-radiation-offset"]
    assert (clean["solar_w_m2"] == hours["solar_w_m2"]).all()


def test_light_at_midnight_is_taken_out(hours_of: Build, place: Place) -> None:
    hours = hours_of()
    hours.loc[hours.index[24], "solar_w_m2"] = 80.0
    clean, findings = check_sky(hours, "hour", place)
    assert [finding.code for finding in findings] == ["weather-radiation-impossible"]
    assert np.isnan(clean["solar_w_m2"].iloc[24])


@pytest.mark.parametrize(("before", "kept"), [(1, True), (2, False)])
def test_light_one_hour_before_sunrise_may_be_a_label_but_not_two(
    hours_of: Build, place: Place, *, before: int, kept: bool
) -> None:
    hours = hours_of()
    dawn = int(np.flatnonzero(hours["solar_w_m2"].to_numpy()[24:48])[0]) + 24
    hours.loc[hours.index[dawn - before], "solar_w_m2"] = 8.0
    hours.loc[hours.index[dawn], "solar_w_m2"] = 60.0
    clean, _ = check_sky(hours, "hour", place)
    assert np.isfinite(clean["solar_w_m2"].iloc[dawn - before]) == kept


def test_an_hour_above_the_sun_itself_is_taken_out(hours_of: Build, place: Place) -> None:
    hours = hours_of()
    hours.loc[hours.index[12], "solar_w_m2"] = 1480.0
    clean, _ = check_sky(hours, "hour", place)
    assert np.isnan(clean["solar_w_m2"].iloc[12])


@pytest.mark.parametrize(("shift", "sign"), [(1, "+"), (-1, "-")])
def test_a_clock_off_by_an_hour_is_seen_by_the_sun(
    hours_of: Build, place: Place, shift: int, sign: str
) -> None:
    hours = hours_of(20)
    moved = hours.assign(solar_w_m2=np.roll(hours["solar_w_m2"], shift))
    _, findings = check_sky(moved, "hour", place)
    told = next(finding for finding in findings if finding.code == "weather-clock-off")
    assert f"2025-07 {sign}1.0 h" in told.message
    assert "daylight saving" in told.fix


@pytest.mark.parametrize("hours_off", [6, 12])
def test_a_wrong_zone_is_seen_although_its_hours_are_taken_out(
    hours_of: Build, place: Place, hours_off: int
) -> None:
    hours = hours_of(20)
    moved = hours.assign(solar_w_m2=np.roll(hours["solar_w_m2"], hours_off))
    codes = codes_of(moved, "hour", place)
    assert "weather-clock-off" in codes
    assert "weather-radiation-impossible" in codes


def test_half_an_hour_of_label_is_not_worth_a_finding(hours_of: Build, place: Place) -> None:
    hours = hours_of(20)
    solar = hours["solar_w_m2"].to_numpy()
    assert codes_of(hours.assign(solar_w_m2=(solar + np.roll(solar, 1)) / 2), "hour", place) == []


def test_cloudy_weeks_say_nothing_of_the_clock(hours_of: Build, place: Place) -> None:
    hours = hours_of(20)
    moved = hours.assign(solar_w_m2=np.roll(hours["solar_w_m2"], 1) * 0.4)
    assert "weather-clock-off" not in codes_of(moved, "hour", place)


def test_days_with_a_gap_do_not_count_as_low_or_clear(hours_of: Build, place: Place) -> None:
    hours = hours_of(3)
    hours.loc[hours.index[36], "solar_w_m2"] = NAN
    assert codes_of(hours, "hour", place) == []


@given(st.floats(0, 1))
def test_nothing_below_the_clear_sky_is_ever_taken_out(share: float) -> None:
    place = Place(39.2, -112.0, 1400.0)
    index = pd.date_range("2025-05-01T00:00Z", periods=72, freq="h")
    from_sun = radiation.extraterrestrial_hour_mj_m2(
        place.latitude_deg,
        radiation.hour_angle_rad(index.hour + 0.5, place.longitude_deg, index.day_of_year),
        index.day_of_year,
    )
    solar = share * np.asarray(from_sun) * 1e6 / 3600
    clean, _ = check_sky(pd.DataFrame({"solar_w_m2": solar}, index=index), "hour", place)
    assert clean["solar_w_m2"].notna().all()
