"""Checks of a series: each kind of trouble is found, sound weather stays quiet and whole."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest

from nightwater.findings import Finding, Severity
from nightwater.weather.columns import Step
from nightwater.weather.quality import check_weather
from nightwater.weather.sky import Place

Build = Callable[..., pd.DataFrame]
NAN = float("nan")


@pytest.fixture
def check(place: Place) -> Callable[[pd.DataFrame, Step], tuple[pd.DataFrame, list[Finding]]]:
    def run(weather: pd.DataFrame, step: Step) -> tuple[pd.DataFrame, list[Finding]]:
        return check_weather(
            weather,
            step,
            latitude_deg=place.latitude_deg,
            longitude_deg=place.longitude_deg,
            elevation_m=place.elevation_m,
        )

    return run


def codes(findings: list[Finding]) -> list[str]:
    return [finding.code for finding in findings]


def only(findings: list[Finding], code: str) -> Finding:
    found = [finding for finding in findings if finding.code == code]
    assert len(found) == 1, codes(findings)
    return found[0]


def test_sound_days_stay_quiet_and_whole(days_of: Build, check: Any) -> None:
    days = days_of(60)
    clean, findings = check(days, "day")
    assert findings == []
    pd.testing.assert_frame_equal(clean, days)


def test_sound_hours_stay_quiet_and_whole(hours_of: Build, check: Any) -> None:
    hours = hours_of(20)
    clean, findings = check(hours, "hour")
    assert findings == []
    pd.testing.assert_frame_equal(clean, hours, check_freq=False)


def test_findings_are_never_errors_and_name_their_column(days_of: Build, check: Any) -> None:
    days = days_of(20, tmax_c=400.0, wind_height_m=NAN).drop(columns="rain_mm")
    _, findings = check(days, "day")
    assert len(findings) >= 3
    assert all(finding.severity is not Severity.ERROR for finding in findings)
    assert all(finding.subject.startswith("weather:") for finding in findings)
    assert all(finding.fix for finding in findings)


@pytest.mark.parametrize(
    ("column", "value", "bounds"),
    [
        ("tmax_c", 93.0, "-60 to 60"),
        ("wind_m_s", 468.7, "0 to 60"),
        ("wind_m_s", -0.5, "0 to 60"),
        ("rh_max_pct", 140.0, "0 to 105"),
        ("rain_mm", -3.0, "0 to 500"),
        ("solar_mj_m2", 470.0, "0 to 45"),
        ("dew_c", -99.9, "-70 to 40"),
        ("wind_height_m", 0.0, "0.5 to 50"),
    ],
)
def test_impossible_values_are_taken_out(
    days_of: Build, check: Any, *, column: str, value: float, bounds: str
) -> None:
    days = days_of()
    days.loc[days.index[4], column] = value
    clean, findings = check(days, "day")
    found = only(findings, "weather-out-of-range")
    assert found.subject == f"weather:{column}"
    assert bounds in found.message
    assert "2025-07-05" in found.message
    assert f"{value:g}" in found.message
    assert np.isnan(clean[column].iloc[4])
    assert clean[column].notna().sum() == 9


def test_many_values_out_of_range_hint_at_the_unit(days_of: Build, check: Any) -> None:
    days = days_of(20)
    _, findings = check(days.assign(tmax_c=days["tmax_c"] * 1.8 + 32), "day")
    assert "another unit" in only(findings, "weather-out-of-range").message


def test_fahrenheit_in_range_is_still_doubted_by_its_level(days_of: Build, check: Any) -> None:
    days = days_of(20, tmax_c=58.0, tmin_c=44.0, dew_c=30.0)
    _, findings = check(days, "day")
    subjects = {f.subject for f in findings if f.code == "weather-level-odd"}
    assert {"weather:tmax_c", "weather:tmin_c", "weather:dew_c"} <= subjects


def test_exchanged_extremes_are_taken_out(days_of: Build, check: Any) -> None:
    days = days_of()
    days.loc[days.index[2], ["tmax_c", "tmin_c"]] = [12.0, 30.0]
    clean, findings = check(days, "day")
    assert "highest temperature is below" in only(findings, "weather-contradicts-itself").message
    assert clean.loc[clean.index[2], ["tmax_c", "tmin_c"]].isna().all()


def test_exchanged_humidities_are_taken_out(days_of: Build, check: Any) -> None:
    days = days_of()
    days.loc[days.index[2], ["rh_max_pct", "rh_min_pct"]] = [30.0, 80.0]
    clean, findings = check(days, "day")
    assert only(findings, "weather-contradicts-itself").subject == "weather:rh_max_pct"
    assert clean.loc[clean.index[2], ["rh_max_pct", "rh_min_pct"]].isna().all()


def test_a_dew_point_above_the_air_is_taken_out(hours_of: Build, check: Any) -> None:
    hours = hours_of()
    hours.loc[hours.index[40], "dew_c"] = 39.0
    hours.loc[hours.index[41], "dew_c"] = hours["temp_c"].iloc[41] + 0.8  # within the sensors
    clean, findings = check(hours, "hour")
    assert "1 hour (2025-07-02T23:00Z)" in only(findings, "weather-contradicts-itself").message
    assert clean["dew_c"].isna().sum() == 1


def test_rows_out_of_order_are_sorted(days_of: Build, check: Any) -> None:
    days = days_of()
    clean, findings = check(days.iloc[::-1], "day")
    assert codes(findings) == ["weather-out-of-order"]
    pd.testing.assert_frame_equal(clean, days)


def test_rows_that_stand_twice_are_kept_once(days_of: Build, check: Any) -> None:
    days = days_of()
    clean, findings = check(pd.concat([days, days.iloc[[3]]]).sort_index(), "day")
    assert only(findings, "weather-row-twice").severity is Severity.NOTE
    pd.testing.assert_frame_equal(clean, days)


def test_rows_that_contradict_each_other_keep_the_first(days_of: Build, check: Any) -> None:
    days = days_of()
    other = days.iloc[[3]].assign(tmax_c=25.0)
    clean, findings = check(pd.concat([days, other]).sort_index(kind="stable"), "day")
    assert only(findings, "weather-rows-contradict").severity is Severity.WARNING
    assert clean["tmax_c"].iloc[3] == days["tmax_c"].iloc[3]


def test_missing_days_are_counted(days_of: Build, check: Any) -> None:
    days = days_of()
    clean, findings = check(days.drop(days.index[[3, 4, 8]]), "day")
    found = only(findings, "weather-gap")
    assert found.message.startswith("3 days missing in 2 gaps")
    assert "2 days after 2025-07-03" in found.message
    assert len(clean) == 7  # nothing is filled


def test_the_missing_hour_of_daylight_saving_is_named(hours_of: Build, check: Any) -> None:
    hours = hours_of()
    _, findings = check(hours.drop(hours.index[26]), "hour")
    found = only(findings, "weather-gap")
    assert "1 hour after 2025-07-02T08:00Z" in found.message
    assert "change of clocks" in found.fix


def test_many_gaps_are_summed_up(hours_of: Build, check: Any) -> None:
    hours = hours_of()
    _, findings = check(hours.drop(hours.index[5:95:10]), "hour")
    assert "and 4 more gaps" in only(findings, "weather-gap").message


def test_unstated_wind_height_is_a_finding(days_of: Build, check: Any) -> None:
    _, findings = check(days_of().drop(columns="wind_height_m"), "day")
    assert only(findings, "weather-wind-height-unstated").message.startswith("Nobody states")
    _, findings = check(days_of().drop(columns=["wind_height_m", "wind_m_s"]), "day")
    assert "weather-wind-height-unstated" not in codes(findings)


@pytest.mark.parametrize(
    ("gone", "subject", "told"),
    [
        (["wind_m_s"], "weather:wind_m_s", "2 m/s"),
        (["solar_mj_m2"], "weather:solar_mj_m2", "temperature range"),
        (["rain_mm"], "weather:rain_mm", "no rain"),
        (["dew_c", "rh_min_pct"], "weather:humidity", "highest humidity"),
    ],
)
def test_missing_columns_say_what_stands_in(
    days_of: Build, check: Any, *, gone: list[str], subject: str, told: str
) -> None:
    _, findings = check(days_of().drop(columns=gone), "day")
    found = only(findings, "weather-missing")
    assert found.subject == subject
    assert told in found.message
    assert "altogether" in found.message


def test_missing_cells_are_counted(hours_of: Build, check: Any) -> None:
    hours = hours_of()
    hours.loc[hours.index[[3, 9]], "temp_c"] = NAN
    _, findings = check(hours, "hour")
    assert "temp_c is missing in 2 of 144 rows" in only(findings, "weather-missing").message


def test_one_kind_of_humidity_is_enough(hours_of: Build, check: Any) -> None:
    for column in ("dew_c", "rh_pct"):
        _, findings = check(hours_of(20).drop(columns=column), "hour")
        assert findings == []


def test_hours_in_local_time_come_back_in_utc(hours_of: Build, check: Any) -> None:
    hours = hours_of()
    local = hours.set_axis(pd.DatetimeIndex(hours.index).tz_convert("America/Denver"))
    clean, _ = check(local, "hour")
    assert str(clean.index.tz) == "UTC"


def test_the_input_is_not_changed(hours_of: Build, check: Any) -> None:
    hours = hours_of(wind_m_s=900.0, solar_w_m2=-3.0)
    before = hours.copy(deep=True)
    check(hours, "hour")
    pd.testing.assert_frame_equal(hours, before)


def test_an_empty_series_has_no_findings(days_of: Build, check: Any) -> None:
    clean, findings = check(days_of(0), "day")
    assert clean.empty
    assert findings == []


def test_flags_that_the_days_carry_do_not_disturb(days_of: Build, check: Any) -> None:
    days = days_of(4).assign(flags=[[], ["hours-filled"], [], []])
    doubled = pd.concat([days, days.iloc[[1]]]).sort_index()
    clean, findings = check(doubled, "day")
    assert codes(findings) == ["weather-row-twice"]
    assert list(clean["flags"]) == list(days["flags"])
