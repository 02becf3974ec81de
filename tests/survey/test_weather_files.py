"""Weather files as people have them: layouts, units, clocks, dirt, and clear refusals."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.findings import Finding, UserError
from nightwater.survey.weather_columns import (
    ColumnMatch,
    fixed_value,
    guess_columns,
    match_columns,
    unit_from_words,
    units_for,
)
from nightwater.survey.weather_files import WeatherFile, header_of, read_weather
from nightwater.weather.columns import DAY_COLUMNS, HOUR_COLUMNS

DENVER = "America/Denver"
NAN = float("nan")
Write = Callable[..., Path]

DAILY = """date,tmax_c,tmin_c,rh_max_pct,rh_min_pct,dew_c,wind_m_s,wind_height_m,solar_mj_m2,rain_mm
2025-07-01,31.5,14.2,72,24,8.1,2.4,2,27.1,0
2025-07-02,33.0,15.8,70,21,7.7,3.1,2,28.0,0
2025-07-03,28.4,16.1,88,35,11.2,2.0,2,19.5,6.4
"""
HOURLY = """time,temp_c,rh_pct,dew_c,wind_m_s,wind_height_m,solar_w_m2,rain_mm
2025-07-01T00:00,18.5,60,10.6,1.4,2,0,0
2025-07-01T01:00,17.9,62,10.5,1.2,2,0,0
2025-07-01T02:00,17.1,65,10.4,1.0,2,0,0.2
"""


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def save(text: str, name: str = "weather.csv", encoding: str = "utf-8") -> Path:
        path = tmp_path / name
        path.write_bytes(text.encode(encoding))
        return path

    return save


def codes(findings: Sequence[Finding]) -> list[str]:
    return [finding.code for finding in findings]


def read(path: Path, **more: object) -> WeatherFile:
    return read_weather(path, **({"timezone": DENVER} | more))  # type: ignore[arg-type]


# --- our own contract -------------------------------------------------------------------


def test_our_daily_file(write: Write) -> None:
    got = read(write(DAILY))
    assert (got.step, got.findings, got.place) == ("day", (), None)
    assert list(got.weather.columns) == [*DAY_COLUMNS, "origin"]
    assert list(got.weather.index) == [date(2025, 7, 1), date(2025, 7, 2), date(2025, 7, 3)]
    assert got.weather["rain_mm"].tolist() == [0, 0, 6.4]
    assert (got.weather["origin"] == "observed").all()
    assert got.source_columns["tmax_c"] == "tmax_c"


def test_our_hourly_file_is_local_time_made_utc(write: Write) -> None:
    got = read(write(HOURLY))
    assert (got.step, got.findings) == ("hour", ())
    assert list(got.weather.columns) == [*HOUR_COLUMNS, "origin"]
    assert got.weather.index[0] == pd.Timestamp("2025-07-01T06:00Z")
    assert got.weather["temp_c"].tolist() == [18.5, 17.9, 17.1]


@pytest.mark.parametrize("suffix", ["Z", "+00:00", "+0000"])
def test_times_with_an_offset_need_no_zone(write: Write, suffix: str) -> None:
    text = HOURLY.replace(":00,", f":00{suffix},")
    got = read(write(text), timezone="Asia/Tokyo")
    assert got.weather.index[0] == pd.Timestamp("2025-07-01T00:00Z")


def test_any_column_but_time_and_temperature_may_be_missing(write: Write) -> None:
    got = read(write("date,tmax_c,tmin_c\n2025-07-01,31,14\n2025-07-02,30,15\n"))
    assert got.weather.drop(columns=["tmax_c", "tmin_c", "origin"]).isna().all(axis=None)


def test_one_row_is_a_file_too(write: Write) -> None:
    assert len(read(write("date,tmax_c,tmin_c\n2025-07-01,31,14\n")).weather) == 1
    assert read(write("time,temp_c\n2025-07-01T04:00,14\n")).step == "hour"


def test_a_step_that_was_insisted_on(write: Write) -> None:
    assert read(write(DAILY), step="day").step == "day"
    with pytest.raises(UserError, match=r"weather\.csv holds daily rows, not hourly ones"):
        read(write(DAILY), step="hour")


# --- units ------------------------------------------------------------------------------


def test_us_units_in_the_header_are_read(write: Write) -> None:
    text = (
        "Date,Tmax (F),Tmin (F),RH max (%),RH min (%),Wind [mph],Solar (langley),Rain (in)\n"
        "2025-07-01,88,57,72,24,5,650,0.25\n"
        "2025-07-02,90,59,70,21,6,660,0\n"
    )
    day = read(write(text)).weather.iloc[0]
    assert day["tmax_c"] == pytest.approx(31.1111, abs=1e-4)
    assert day["wind_m_s"] == pytest.approx(5 * 0.44704)
    assert day["solar_mj_m2"] == pytest.approx(650 * 0.04184)
    assert day["rain_mm"] == pytest.approx(6.35)
    assert day["rh_max_pct"] == 72


def test_units_that_nobody_states_are_asked_for_all_at_once(write: Write) -> None:
    path = write("Date,Tmax,Tmin,Wind\n2025-07-01,88,57,5\n")
    with pytest.raises(UserError) as refused:
        read(path)
    for wanted in ("'Tmax' (tmax_c: C, F)", "'Tmin'", "'Wind' (wind_m_s: m/s, km/h, mph"):
        assert wanted in str(refused.value)


@pytest.mark.parametrize("key", ["Tmax", "tmax_c"])
def test_a_unit_is_said_by_their_name_or_ours(write: Write, key: str) -> None:
    path = write("Date,Tmax,Tmin (C)\n2025-07-01,86,14\n")
    assert read(path, units={key: "F"}).weather["tmax_c"].iloc[0] == pytest.approx(30)


def test_what_a_person_says_wins_over_the_header(write: Write) -> None:
    path = write("Date,Tmax (F),Tmin (F)\n2025-07-01,30,14\n")
    got = read(path, units={"Tmax (F)": "C", "tmin_c": "C"})
    assert got.weather["tmax_c"].iloc[0] == 30


@pytest.mark.parametrize(
    ("units", "message"),
    [
        ({"Tmax": "mph"}, "cannot be in 'mph', which is a speed; it may be in C, F"),
        ({"Tmax": "Fahr"}, "There is no unit 'Fahr'"),
        ({"Tmaxx": "F"}, "'Tmaxx', which is no column of the file. Did you mean 'Tmax'"),
    ],
)
def test_wrong_units_are_refused(write: Write, units: dict[str, str], message: str) -> None:
    with pytest.raises(UserError, match=message.replace("?", r"\?").replace(".", r"\.")):
        read(write("Date,Tmax,Tmin (C)\n2025-07-01,86,14\n"), units=units)


@pytest.mark.parametrize(
    ("unit", "value", "watts"),
    [
        ("W/m2", 500, 500),
        ("MJ/m2", 1.8, 500),
        ("langley", 43.0210, 500),
        ("langley/h", 43.0210, 500),
        ("kWh/m2", 0.5, 500),
    ],
)
def test_radiation_of_an_hour_as_power_or_as_energy(
    write: Write, unit: str, value: float, watts: float
) -> None:
    text = f"time,temp_c,Rad\n2025-07-01T12:00,30,{value}\n2025-07-01T13:00,31,{value}\n"
    got = read(write(text), columns={"Rad": "solar_w_m2"}, units={"Rad": unit})
    assert got.weather["solar_w_m2"].iloc[0] == pytest.approx(watts, rel=1e-4)


@pytest.mark.parametrize(("unit", "value"), [("W/m2", 300), ("kWh/m2", 7.2), ("MJ/m2", 25.92)])
def test_radiation_of_a_day_as_mean_power_or_as_energy(
    write: Write, unit: str, value: float
) -> None:
    text = f"date,tmax_c,tmin_c,Rad\n2025-07-01,30,12,{value}\n2025-07-02,30,12,{value}\n"
    got = read(write(text), columns={"Rad": "solar_mj_m2"}, units={"Rad": unit})
    assert got.weather["solar_mj_m2"].iloc[0] == pytest.approx(25.92)


def test_a_fixed_value_stands_for_a_column(write: Write) -> None:
    path = write("Date,Tmax (C),Tmin (C),Wind (m/s)\n2025-07-01,31,14,2\n")
    got = read(path, columns={"10 ft": "wind_height_m"})
    assert got.weather["wind_height_m"].iloc[0] == pytest.approx(3.048)
    assert fixed_value("3 m") == (3.0, "m")
    assert fixed_value("3 metres") is None
    assert fixed_value("three m") is None


def test_a_fixed_value_in_the_wrong_unit_is_refused(write: Write) -> None:
    with pytest.raises(UserError, match="cannot be in 'mm'"):
        read(write(DAILY), columns={"3 mm": "wind_height_m"})


# --- matching columns -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("theirs", "ours", "unit"),
    [
        ("tmax_c", "tmax_c", "C"),
        ("TMAX", "tmax_c", None),
        ("temp_max", "tmax_c", None),
        ("Max Temp (F)", "tmax_c", "F"),
        ("temp_min", "tmin_c", None),
        ("t_daily_min", "tmin_c", None),
        ("Air Temp [°C]", "temp_c", "C"),
        ("temp_f", "temp_c", "F"),
        ("Relative Humidity", "rh_pct", None),
        ("RH %", "rh_pct", "pct"),
        ("dewp", "dew_c", None),
        ("Dew Point (deg C)", "dew_c", "C"),
        ("wind_speed", "wind_m_s", None),
        ("Wind Speed (km/h)", "wind_m_s", "km/h"),
        ("wind_mph", "wind_m_s", "mph"),
        ("Wspd (m/s)", "wind_m_s", "m/s"),
        ("precip", "rain_mm", None),
        ("rain_in", "rain_mm", "in"),
        ("Precipitation (mm)", "rain_mm", "mm"),
        ("Date", "date", None),
        ("DOY", "day_of_year", None),
        ("Year-DOY", "year_day", None),
        ("HOUR", "hour", None),
        ("time_hour", "time", None),
    ],
)
def test_guesses_by_name(theirs: str, ours: str, unit: str | None) -> None:
    assert guess_columns([theirs]) == (ColumnMatch(theirs, ours, unit),)


@pytest.mark.parametrize(
    "theirs", ["wind_gust", "wind_dir", "pressure", "visib", "Ozone", "TP", ""]
)
def test_names_that_are_not_guessed(theirs: str) -> None:
    assert guess_columns([theirs]) == ()


def test_radiation_is_guessed_by_the_files_step() -> None:
    daily = {match.ours for match in guess_columns(["Date", "GHI (W/m2)"])}
    hourly = {match.ours for match in guess_columns(["Date", "Hour", "GHI (W/m2)"])}
    assert "solar_mj_m2" in daily
    assert "solar_w_m2" in hourly


def test_of_two_columns_for_one_thing_the_first_is_guessed() -> None:
    assert [m.theirs for m in guess_columns(["Temp (C)", "Temperature (F)"])] == ["Temp (C)"]


def test_a_persons_match_replaces_the_guess(write: Write) -> None:
    text = "Date,Tmax (C),T2 (C),Tmin (C)\n2025-07-01,31,35,14\n"
    got = read(write(text), columns={"T2 (C)": "tmax_c"})
    assert got.weather["tmax_c"].iloc[0] == 35
    assert got.source_columns == {"T2 (C)": "tmax_c", "Date": "date", "Tmin (C)": "tmin_c"}


def test_a_column_may_be_left_out(write: Write) -> None:
    got = read(write(DAILY), columns={"rain_mm": ""})
    assert got.weather["rain_mm"].isna().all()


@pytest.mark.parametrize(
    ("columns", "message"),
    [
        ({"Tmx": "tmax_c"}, "no column 'Tmx'. Did you mean 'tmax_c'"),
        ({"tmax_c": "tmaxc"}, "'tmaxc' is no column of the weather table. Did you mean 'tmax_c'"),
    ],
)
def test_unknown_names_are_refused_with_the_nearest(
    write: Write, columns: dict[str, str], message: str
) -> None:
    with pytest.raises(UserError) as refused:
        read(write(DAILY), columns=columns)
    assert message in str(refused.value)


@pytest.mark.parametrize(
    ("text", "missing"),
    [
        (
            "date,tmax_c,rain_mm\n2025-07-01,31,0\n",
            "daily rows but no column that we know as tmin_c",
        ),
        ("time,rain_mm\n2025-07-01T01:00,0\n", "hourly rows but no column that we know as temp_c"),
    ],
)
def test_without_a_temperature_the_file_is_refused(write: Write, text: str, missing: str) -> None:
    with pytest.raises(UserError, match=missing):
        read(write(text))


def test_matching_is_pure_and_says_units() -> None:
    header = ("Date", "Tmax", "Tmin")
    matches = match_columns(header, {}, {"Tmax": "F"}, {"Tmin": "C"})
    assert [(match.ours, match.unit) for match in matches] == [
        ("date", None),
        ("tmax_c", "F"),
        ("tmin_c", "C"),
    ]


@pytest.mark.parametrize(
    ("words", "unit"),
    [
        ("°F", "F"),
        ("deg C", "C"),
        ("W/m^2", "W/m2"),
        ("W/m²", "W/m2"),
        ("Inches", "in"),
        ("kts", "knot"),
        ("%", "pct"),
        ("min", None),
        ("furlong", None),
        ("", None),
    ],
)
def test_units_in_words(words: str, unit: str | None) -> None:
    assert unit_from_words(words) == unit


def test_units_for_a_column() -> None:
    assert units_for("rain_mm") == ["mm", "in", "0.1mm"]
    assert "langley/h" in units_for("solar_mj_m2")


def test_mean_humidity_of_days_is_kept(write: Write) -> None:
    got = read(write("date,tmax_c,tmin_c,rh_pct\n2025-07-01,31,14,45\n"))
    assert got.weather["rh_pct"].tolist() == [45]


# --- dates and clocks -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("header", "cells"),
    [
        ("date", "2025-07-14"),
        ("date", "2025/07/14"),
        ("date", "20250714"),
        ("date", "7/14/2025"),
        ("date", "14.7.2025"),
        ("year,month,day", "2025,7,14"),
        ("Year,DOY", "2025,195"),
        ("Year-DOY", "2025-195"),
    ],
)
def test_dates_of_many_kinds(write: Write, header: str, cells: str) -> None:
    got = read(write(f"{header},tmax_c,tmin_c\n{cells},31,14\n"))
    assert got.step == "day"
    assert list(got.weather.index) == [date(2025, 7, 14)]


def test_an_order_of_day_and_month_that_cannot_be_told_is_refused(write: Write) -> None:
    path = write("date,tmax_c,tmin_c\n7/1/2025,31,14\n7/2/2025,30,13\n")
    with pytest.raises(UserError, match="order of day and month cannot be told from '7/1/2025'"):
        read(path)


@pytest.mark.parametrize(
    ("header", "cells"),
    [
        ("time", "2025-07-14T13:00"),
        ("time", "2025-07-14 13:00:00"),
        ("time", "7/14/2025 13:00"),
        ("time", "7/14/2025 1:00 PM"),
        ("date,time", "2025-07-14,13:00"),
        ("date,hour", "2025-07-14,13"),
        ("year,month,day,hour", "2025,7,14,13"),
        ("year,doy,hour", "2025,195,1300"),
        ("year,month,day,hour,minute", "2025,7,14,13,0"),
        ("time_end", "2025-07-14T14:00"),
        ("date,hour_end", "2025-07-14,14"),
    ],
)
def test_hours_of_many_kinds(write: Write, header: str, cells: str) -> None:
    got = read(write(f"{header},temp_c\n{cells},31\n"))
    assert got.step == "hour"
    assert list(got.weather.index) == [pd.Timestamp("2025-07-14T19:00Z")]


def _hours(stamps: Sequence[str]) -> str:
    return "time,temp_c\n" + "".join(f"{stamp},{at}\n" for at, stamp in enumerate(stamps))


def test_the_hour_that_spring_skips_is_left_out_with_a_finding(write: Write) -> None:
    stamps = [f"2025-03-09T0{hour}:00" for hour in range(5)]
    got = read(write(_hours(stamps)))
    assert codes(got.findings) == ["weather-hour-skipped"]
    assert "2025-03-09 02:00" in got.findings[0].message
    assert got.weather["temp_c"].tolist() == [0, 1, 3, 4]
    steps = np.diff(got.weather.index.to_numpy()) / np.timedelta64(1, "h")
    assert steps.tolist() == [1, 1, 1]


def test_on_a_clock_without_daylight_saving_that_hour_exists(write: Write) -> None:
    stamps = [f"2025-03-09T0{hour}:00" for hour in range(5)]
    got = read(write(_hours(stamps)), timezone="UTC-07:00")
    assert got.findings == ()
    assert len(got.weather) == 5


def test_the_hour_that_autumn_repeats_comes_twice(write: Write) -> None:
    stamps = [f"2025-11-02T0{hour}:00" for hour in (0, 1, 1, 2)]
    got = read(write(_hours(stamps)))
    assert got.findings == ()
    hours = got.weather.index.hour.tolist()
    assert hours == [6, 7, 8, 9]


def test_the_hour_that_autumn_repeats_but_comes_once_is_a_finding(write: Write) -> None:
    stamps = [f"2025-11-02T0{hour}:00" for hour in (0, 1, 2, 3)]
    got = read(write(_hours(stamps)))
    assert codes(got.findings) == ["weather-hour-ambiguous"]
    assert got.weather.index.hour.tolist() == [6, 7, 9, 10]


@pytest.mark.parametrize("style", ["clock", "number", "hundreds"])
def test_hour_24_is_the_end_of_the_day(write: Write, style: str) -> None:
    rows = [(day, hour) for day in ("2025-07-01", "2025-07-02") for hour in range(1, 25)]
    cell = {"clock": "{:02d}:00", "number": "{}", "hundreds": "{}00"}[style]
    name = "time" if style == "clock" else "hour"
    lines = [f"{day},{cell.format(hour)},{hour}" for day, hour in rows]
    got = read(write(f"date,{name},temp_c\n" + "\n".join(lines) + "\n"))
    assert codes(got.findings) == ["weather-hour-end-labels"]
    assert got.weather.index[0] == pd.Timestamp("2025-07-01T06:00Z")  # 00:00, labelled 1
    assert got.weather.index[-1] == pd.Timestamp("2025-07-03T05:00Z")
    assert got.weather["temp_c"].tolist() == [*range(1, 25), *range(1, 25)]
    said = read(
        write(f"date,{name},temp_c\n" + "\n".join(lines) + "\n"), columns={name: f"{name}_end"}
    )
    assert said.findings == ()
    assert said.weather.index.equals(got.weather.index)


def test_unreadable_times_are_named_by_their_line(write: Write) -> None:
    text = DAILY.replace("2025-07-02", "yesterday")
    got = read(write(text))
    assert codes(got.findings) == ["weather-time-unreadable"]
    assert "line 3" in got.findings[0].message
    assert len(got.weather) == 2


def test_no_readable_time_at_all_is_refused(write: Write) -> None:
    with pytest.raises(UserError, match="no date or time could be read"):
        read(write("date,tmax_c,tmin_c\n2025-13-45,31,14\n2025-14-46,30,13\n"))


def test_no_time_columns_are_refused(write: Write) -> None:
    with pytest.raises(UserError, match="no column of dates that we know"):
        read(write("when,tmax_c,tmin_c\n2025-07-01,31,14\n"))


def test_an_unknown_zone_is_refused(write: Write) -> None:
    with pytest.raises(UserError, match="no time zone 'Denver'"):
        read(write(HOURLY), timezone="Denver")


# --- parts of an hour -------------------------------------------------------------------


def _parts(minutes: int, rows: int, rain: float = 0.5) -> str:
    stamps = pd.date_range("2025-07-01T00:00", periods=rows, freq=f"{minutes}min")
    lines = [
        f"{stamp:%Y-%m-%dT%H:%M},{20 + at},{100 * at},{rain}" for at, stamp in enumerate(stamps)
    ]
    return "time,temp_c,solar_w_m2,rain_mm\n" + "\n".join(lines) + "\n"


def test_half_hours_become_hours_with_mean_radiation_and_summed_rain(write: Write) -> None:
    got = read(write(_parts(30, 6)))
    assert codes(got.findings) == ["weather-part-hours-averaged"]
    assert "30 min" in got.findings[0].message
    assert got.weather["temp_c"].tolist() == [20.5, 22.5, 24.5]
    assert got.weather["solar_w_m2"].tolist() == [50, 250, 450]
    assert got.weather["rain_mm"].tolist() == [1, 1, 1]


def test_energy_of_half_hours_is_kept(write: Write) -> None:
    text = _parts(30, 6).replace("solar_w_m2", "Energy")
    got = read(write(text), columns={"Energy": "solar_w_m2"}, units={"Energy": "MJ/m2"})
    total_mj = got.weather["solar_w_m2"].sum() * 3600 / 1e6
    assert total_mj == pytest.approx(100 * (0 + 1 + 2 + 3 + 4 + 5))


@pytest.mark.parametrize("minutes", [1, 5, 10, 15, 20, 30])
def test_any_part_that_divides_the_hour(write: Write, minutes: int) -> None:
    got = read(write(_parts(minutes, 3 * 60 // minutes)))
    assert len(got.weather) == 3
    assert got.weather["rain_mm"].sum() == pytest.approx(0.5 * 180 / minutes)


def test_half_an_hour_alone_does_not_stand_for_the_hour(write: Write) -> None:
    lines = _parts(30, 8).splitlines()
    got = read(write("\n".join(lines[:3] + lines[4:]) + "\n"))
    assert np.isnan(got.weather["temp_c"].iloc[1])
    assert got.weather["temp_c"].notna().sum() == 3


@pytest.mark.parametrize("minutes", [180, 45, 7 * 24 * 60])
def test_other_steps_are_refused(write: Write, minutes: int) -> None:
    with pytest.raises(UserError, match=r"rows are .* apart"):
        read(write(_parts(minutes, 8)))


def test_labels_inside_the_hour_are_taken_for_that_hour(write: Write) -> None:
    stamps = [f"2025-07-01T0{hour}:30" for hour in range(4)]
    got = read(write(_hours(stamps)))
    assert codes(got.findings) == ["weather-mid-hour-labels"]
    assert got.weather.index[0] == pd.Timestamp("2025-07-01T06:00Z")


# --- dirt -------------------------------------------------------------------------------


def test_a_byte_order_mark_does_not_hide_the_first_column(write: Write) -> None:
    got = read(write("\ufeff" + DAILY))
    assert got.findings == ()
    assert header_of(write("\ufeff" + DAILY))[0] == "date"


def test_utf_16_of_a_spreadsheet_is_read(write: Write) -> None:
    assert len(read(write(DAILY, encoding="utf-16")).weather) == 3


def test_windows_text_is_read_with_a_note(write: Write) -> None:
    path = write(
        "date,Tmax (°C),Tmin (°C)\n2025-07-01,31,14\n2025-07-02,30,13\n", encoding="cp1252"
    )
    got = read(path)
    assert codes(got.findings) == ["weather-encoding"]
    assert got.weather["tmax_c"].tolist() == [31, 30]


@pytest.mark.parametrize("cell", ["--", "", "NA", "nan", "null", "M", "-", "Missing", "n/a"])
def test_words_for_missing_are_quietly_missing(write: Write, cell: str) -> None:
    got = read(write(DAILY.replace(",3.1,", f",{cell},")))
    assert got.findings == ()
    assert np.isnan(got.weather["wind_m_s"].iloc[1])


@pytest.mark.parametrize("cell", ["-999", "-9999", "-9999.0", "-9900"])
def test_codes_for_missing_are_missing_with_a_note(write: Write, cell: str) -> None:
    got = read(write(DAILY.replace(",3.1,", f",{cell},")))
    assert codes(got.findings) == ["weather-missing-code"]
    assert np.isnan(got.weather["wind_m_s"].iloc[1])


@pytest.mark.parametrize("cell", ["calm", "3.1*", "3,1", "#REF!", "1e"])
def test_text_in_a_number_is_a_finding_with_its_line(write: Write, cell: str) -> None:
    got = read(write(DAILY.replace(",3.1,", f',"{cell}",')))
    assert codes(got.findings) == ["weather-not-a-number"]
    assert f"'{cell}' in column wind_m_s, line 3" in got.findings[0].message
    assert np.isnan(got.weather["wind_m_s"].iloc[1])
    assert got.weather["wind_m_s"].notna().sum() == 2  # the good rows still load


def test_infinite_numbers_are_missing(write: Write) -> None:
    assert np.isnan(read(write(DAILY.replace(",3.1,", ",inf,"))).weather["wind_m_s"].iloc[1])


def test_a_trace_of_rain_is_no_rain(write: Write) -> None:
    got = read(write(DAILY.replace(",6.4", ",T")))
    assert got.weather["rain_mm"].tolist() == [0, 0, 0]
    assert got.findings == ()


def test_broken_lines_are_named_and_the_rest_loads(write: Write) -> None:
    got = read(write(DAILY + "2025-07-04,30,12\n2025-07-05,30,12,70,20,8,2,2,27,0,extra\n"))
    assert codes(got.findings) == ["weather-row-broken"]
    assert "2 line(s)" in got.findings[0].message
    assert "line 5" in got.findings[0].message
    assert len(got.weather) == 3


@pytest.mark.parametrize("separator", [";", "\t", "|"])
def test_other_separators(write: Write, separator: str) -> None:
    text = DAILY.replace(",", separator)
    if separator == "|":
        with pytest.raises(UserError, match="no line of column names"):
            read(write(text))
        return
    pd.testing.assert_frame_equal(read(write(text)).weather, read(write(DAILY)).weather)


def test_decimal_commas_between_semicolons(write: Write) -> None:
    text = DAILY.replace(",", ";").replace(".", ",")
    pd.testing.assert_frame_equal(read(write(text)).weather, read(write(DAILY)).weather)


def test_columns_by_white_space_below_a_preamble(write: Write) -> None:
    text = (
        "****************\nSome program: weather data\nComments: 1 station\n\n"
        "  361.0 Weather station elevation (m)\n\n"
        "Year-DOY   Tmax   Tmin   Rain\n"
        "2025-182  31.50  14.20   0.00\n"
        "2025-183  33.00    NaN   0.00\n"
    )
    got = read(write(text), units={"Tmax": "C", "Tmin": "C", "Rain": "mm"})
    assert list(got.weather.index) == [date(2025, 7, 1), date(2025, 7, 2)]
    assert np.isnan(got.weather["tmin_c"].iloc[1])


def test_units_place_and_zone_of_metadata_lines(write: Write) -> None:
    text = (
        "Source,Latitude,Longitude,Time Zone,Elevation,Temperature Units,GHI Units\n"
        "Somewhere,39.2,-112.0,-7,1400,c,w/m2\n"
        "Year,Month,Day,Hour,Minute,Temperature,GHI\n"
        "2025,7,1,12,0,30,800\n2025,7,1,13,0,31,820\n"
    )
    got = read(write(text), timezone="Asia/Tokyo")
    assert codes(got.findings) == ["weather-file-time-zone"]
    assert got.weather.index[0] == pd.Timestamp("2025-07-01T19:00Z")
    assert got.place is not None
    assert (got.place.latitude_deg, got.place.elevation_m) == (39.2, 1400)


def test_quoted_cells_with_separators_inside(write: Write) -> None:
    text = 'date,tmax_c,tmin_c,note\n2025-07-01,31,14,"fair, dry"\n2025-07-02,30,13,"rain"\n'
    assert len(read(write(text)).weather) == 2


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "has no rows"),
        ("date,tmax_c,tmin_c\n", "has no rows"),
        ("1,2,3\n4,5,6\n", "no line of column names"),
        ("date,tmax_c,tmax_c\n2025-07-01,31,30\n", "two columns named 'tmax_c'"),
        ("a picture\0\0\0", "not a text file"),
    ],
)
def test_files_that_are_no_tables_are_refused(write: Write, text: str, message: str) -> None:
    with pytest.raises(UserError, match=message):
        read(write(text))


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="cannot be read"):
        read(tmp_path / "nothing.csv")
    with pytest.raises(UserError, match="cannot be read"):
        read(tmp_path)


# --- several stations, typical years ----------------------------------------------------


def _stations() -> str:
    rows = [
        f"{name},2025-07-{day:02d},{30 + at},{14 + at}"
        for at, name in enumerate(("North", "South"))
        for day in range(1, 16)
    ]
    return "club,date,tmax_c,tmin_c\n" + "\n".join(rows) + "\n"


def test_several_stations_are_refused_with_their_names(write: Write) -> None:
    with pytest.raises(UserError, match="several stations in column club: North, South"):
        read(write(_stations()))


def test_one_station_is_chosen_by_matching(write: Write) -> None:
    got = read(write(_stations()), columns={"club": "station=South"})
    assert got.weather["tmax_c"].unique().tolist() == [31]
    assert len(got.weather) == 15
    with pytest.raises(UserError, match="no station 'West' in club: North, South"):
        read(write(_stations()), columns={"club": "station=West"})


def test_months_of_different_years_become_one_typical_year(write: Write) -> None:
    months = [
        pd.date_range(f"{year}-{month:02d}-01", periods=28, freq="D")
        for month, year in enumerate((2004, 2011, 2008), 1)
    ]
    rows = [f"{day:%Y-%m-%d},20,10" for month in months for day in month]
    got = read(write("date,tmax_c,tmin_c\n" + "\n".join(rows) + "\n"), typical_year=2023)
    assert codes(got.findings) == ["weather-typical-year"]
    assert (got.weather["origin"] == "typical").all()
    assert got.weather.index[0] == date(2023, 1, 1)
    assert got.weather.index[-1] == date(2023, 3, 28)


def test_real_years_in_a_row_stay_as_they_are(write: Write) -> None:
    rows = [f"{day:%Y-%m-%d},20,10" for day in pd.date_range("2023-11-01", "2024-02-10")]
    got = read(write("date,tmax_c,tmin_c\n" + "\n".join(rows) + "\n"))
    assert got.findings == ()
    assert got.weather.index[0] == date(2023, 11, 1)


EPW_HEAD = (
    "LOCATION,Vellenby,-,-,INVENTED,000000,39.2,-112.0,-7.0,1400.0\n"
    "DESIGN CONDITIONS,0\nTYPICAL/EXTREME PERIODS,0\nGROUND TEMPERATURES,0\n"
    "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0\nCOMMENTS 1,invented\nCOMMENTS 2,invented\n"
    "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31\n"
)


def epw_row(hour: int, temp: float, ghi: float, rain: float) -> str:
    values: list[object] = [1999, 7, 1, hour, 60, "A7", temp, 8.0, 40, 86000, 0, 0, 300, ghi]
    values += [0, 0, 0, 0, 0, 0, 180, 3.5, 0, 0, 9999, 99999, 9, 999999999, 10, 0.1, 0, 88, 0.2]
    return ",".join(str(value) for value in [*values, rain, 1.0])


def test_an_epw_file(write: Write) -> None:
    rows = [epw_row(12, 30.0, 900, 0.0), epw_row(13, 99.9, 910, 1.5), epw_row(14, 31.0, 9999, 999)]
    path = write(EPW_HEAD + "\n".join(rows) + "\n", "typical.epw")
    got = read(path, typical_year=2023)
    assert got.step == "hour"
    assert got.place is not None
    assert got.place.longitude_deg == -112
    # the row labelled 12 covers 11 to 12 o'clock at UTC-7
    assert got.weather.index[0] == pd.Timestamp("2023-07-01T18:00Z")
    assert got.weather["temp_c"].tolist()[::2] == [30, 31]
    assert np.isnan(got.weather["temp_c"].iloc[1])
    assert np.isnan(got.weather["solar_w_m2"].iloc[2])
    assert got.weather["rain_mm"].tolist()[:2] == [0, 1.5]
    assert np.isnan(got.weather["rain_mm"].iloc[2])
    assert (got.weather["wind_height_m"] == 10).all()
    assert codes(got.findings) == ["weather-typical-year"]
    assert header_of(path) == []


def test_a_typical_file_takes_no_matching_and_only_rains_unit(write: Write) -> None:
    path = write(EPW_HEAD + epw_row(12, 30.0, 900, 25) + "\n", "typical.epw")
    with pytest.raises(UserError, match="the format fixes the columns"):
        read(path, columns={"temp_air": "temp_c"})
    with pytest.raises(UserError, match="only rain_mm's can be said"):
        read(path, units={"temp_c": "F"})
    assert read(path, units={"rain_mm": "0.1mm"}).weather["rain_mm"].tolist() == [2.5]


def test_a_broken_typical_file_is_refused(write: Write) -> None:
    path = write("LOCATION,Vellenby,-,-,INVENTED,0,39.2,-112.0,-7.0,x\n", "broken.epw")
    with pytest.raises(UserError, match="not a whole EPW file"):
        read(path)


# --- properties -------------------------------------------------------------------------


@given(
    values=st.lists(st.floats(-60, 60), min_size=2, max_size=30),
    unit=st.sampled_from(["C", "F"]),
)
def test_what_is_written_comes_back(
    tmp_path_factory: pytest.TempPathFactory, values: list[float], unit: str
) -> None:
    days = pd.date_range("2025-01-15", periods=len(values))
    rows = [f"{day:%Y-%m-%d},{value!r},{value!r}" for day, value in zip(days, values, strict=True)]
    path = tmp_path_factory.mktemp("weather") / "days.csv"
    path.write_text(f"date,Tmax ({unit}),Tmin ({unit})\n" + "\n".join(rows) + "\n")
    got = read(path).weather["tmax_c"].to_numpy()
    expected = np.array(values) if unit == "C" else (np.array(values) - 32) / 1.8
    assert got == pytest.approx(expected, abs=1e-9)


@given(text=st.text(max_size=400))
def test_any_text_is_read_or_refused_but_never_crashes(
    tmp_path_factory: pytest.TempPathFactory, text: str
) -> None:
    path = tmp_path_factory.mktemp("weather") / "any.csv"
    path.write_bytes(text.encode("utf-8", errors="replace"))
    with suppress(UserError):
        read(path)
