"""TMY3 as it is met: an invented file in its layout, with each trap of rain."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from nightwater.survey.weather_files import read_weather
from nightwater.survey.weather_typical import kind_of_typical

Write = Callable[..., Path]
# rain as gauges count it, in hundredths of an inch, written in tenths of mm
TENTHS = [round(2.54 * hundredths) for hundredths in (1, 2, 3, 1, 5, 10, 1, 2, 1, 7, 4, 1)]
HEADER = (
    "Date (MM/DD/YYYY),Time (HH:MM),GHI (W/m^2),Dry-bulb (C),Dew-point (C),RHum (%),"
    "Wspd (m/s),Lprecip depth (mm),Lprecip quantity (hr)"
)


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """A July of 1994 and an August of 2003; `rain` and `period` by hour, repeated."""

    def save(rain: Sequence[float], period: Sequence[float] = (1,), **cells: float) -> Path:
        lines = ['000000,"VELLENBY INVENTED",XX,-7.0,39.200,-112.000,1400', HEADER]
        at = 0
        for year, month in ((1994, 7), (2003, 8)):
            for day in range(1, 32):
                for hour in range(1, 25):
                    row = {"ghi": 500, "temp": 20.0, "dew": 8.0, "rh": 45, "wind": 3.1} | cells
                    values = ",".join(str(value) for value in row.values())
                    lines.append(
                        f"{month:02d}/{day:02d}/{year},{hour:02d}:00,{values},"
                        f"{rain[at % len(rain)]},{period[at % len(period)]}"
                    )
                    at += 1
        path = tmp_path / "typical.csv"
        path.write_text("\n".join(lines) + "\n")
        return path

    return save


def read(path: Path, **more: object) -> tuple[pd.DataFrame, dict[str, str]]:
    got = read_weather(path, timezone="America/Denver", **more)  # type: ignore[arg-type]
    return got.weather, {finding.code: finding.message for finding in got.findings}


def test_the_kind_shows_in_the_second_line(write: Write, tmp_path: Path) -> None:
    assert kind_of_typical(write([0])) == "tmy3"
    other = tmp_path / "plain.csv"
    other.write_text("date,tmax_c,tmin_c\n2025-07-01,31,14\n")
    assert kind_of_typical(other) is None


def test_hours_are_labelled_by_their_end(write: Write) -> None:
    weather, findings = read(write([0]), typical_year=2022)
    assert weather.index[0] == pd.Timestamp("2022-07-01T07:00Z")  # 00:00 at UTC-7, labelled 01:00
    assert len(weather) == 2 * 31 * 24
    assert (np.diff(weather.index.to_numpy()) == np.timedelta64(1, "h")).all()
    assert list(findings) == ["weather-typical-year"]
    assert (weather["wind_height_m"] == 10).all()


def test_rain_in_tenths_under_a_header_that_says_mm(write: Write) -> None:
    weather, findings = read(write([0, 0, *TENTHS]))
    raw = sum(([0, 0, *TENTHS] * 200)[: len(weather)])
    assert weather["rain_mm"].sum() == pytest.approx(raw / 10)
    assert f"{raw:,}" in findings["weather-rain-in-tenths"]


def test_rain_in_millimetres_is_left_as_it_is(write: Write) -> None:
    weather, findings = read(write([0] * 20 + [1, 2, 4, 1, 1, 6, 2]))
    assert weather["rain_mm"].max() == 6
    assert list(findings) == ["weather-typical-year"]


def test_too_much_rain_that_is_no_tenths_is_left_out(write: Write) -> None:
    weather, findings = read(write([0, 1, 2, 4, 6, 9, 11]))
    assert weather["rain_mm"].isna().all()
    assert "by the header's unit; it was left out" in findings["weather-rain-unit"]


@pytest.mark.parametrize(("unit", "factor"), [("mm", 1.0), ("0.1mm", 0.1), ("in", 25.4)])
def test_a_person_who_knows_the_unit_is_believed(write: Write, unit: str, factor: float) -> None:
    weather, findings = read(write([0, 0, *TENTHS]), units={"rain_mm": unit})
    assert weather["rain_mm"].max() == pytest.approx(max(TENTHS) * factor)
    assert list(findings) == ["weather-typical-year"]


def test_missing_codes_of_rain_and_of_sensors(write: Write) -> None:
    weather, findings = read(write([0, -9900], [1, -9900], wind=-9900.0, dew=-9900.0))
    assert weather["rain_mm"].isna().sum() == len(weather) / 2
    assert weather[["wind_m_s", "dew_c"]].isna().all(axis=None)
    assert weather["temp_c"].notna().all()
    told = findings["weather-missing-code"]
    assert f"Lprecip depth (mm) {len(weather) // 2:,}" in told
    assert f"wind_speed {len(weather):,}" in told


def test_sums_over_other_periods_are_left_out(write: Write) -> None:
    weather, findings = read(write([0, 0, 0, 0, 0, 4], [1, 1, 1, 1, 1, 6]))
    assert weather["rain_mm"].sum() == 0
    assert weather["rain_mm"].isna().sum() == len(weather) / 6
    assert f"{len(weather) // 6:,} hours" in findings["weather-rain-period"]
