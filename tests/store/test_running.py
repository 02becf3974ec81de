"""Running tables: rows that come by the day."""

from __future__ import annotations

from datetime import UTC, date, datetime

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import Point

from nightwater.findings import NotFoundError, UserError
from nightwater.ground.tables import RUNNING_TABLES, TABLES
from nightwater.store.course_file import CourseFile


def weather(*days: str, **columns: object) -> pd.DataFrame:
    ids = pd.Index([f"course:observed:day:{day}" for day in days], name="id")
    return pd.DataFrame({"step": "day", "time": list(days), **columns}, index=ids)


@pytest.mark.parametrize("name", RUNNING_TABLES)
def test_every_running_table_starts_empty_with_its_columns(course: CourseFile, name: str) -> None:
    rows = course.running(name)
    assert rows.empty
    assert [c for c in rows.columns if c != "geometry"] == list(TABLES[name].by_name)


def test_rows_come_back_in_order_and_typed(course: CourseFile) -> None:
    course.append("weather", weather("2026-07-02", "2026-07-01", tmax_c=[31, np.nan]))
    rows = course.running("weather")
    assert rows["time"].tolist() == ["2026-07-02", "2026-07-01"]
    assert rows["tmax_c"].dtype == float
    assert rows["tmax_c"].tolist()[0] == 31.0
    assert np.isnan(rows["tmax_c"].iloc[1])
    assert rows["gauge"].tolist() == [None, None]


def test_a_known_id_takes_the_given_columns_and_keeps_the_others(course: CourseFile) -> None:
    course.append("weather", weather("2026-07-01", tmax_c=31.0, rain_mm=2.0))
    course.append("weather", weather("2026-07-01", "2026-07-02", tmax_c=33.0))
    rows = course.running("weather")
    assert rows["tmax_c"].tolist() == [33.0, 33.0]
    assert rows["rain_mm"].iloc[0] == 2.0
    assert np.isnan(rows["rain_mm"].iloc[1])


def test_a_known_id_may_change_without_its_required_columns(course: CourseFile) -> None:
    course.append("weather", weather("2026-07-01", tmax_c=31.0))
    key = "course:observed:day:2026-07-01"
    course.append("weather", pd.DataFrame({"rain_mm": [4.0]}, index=[key]))
    assert course.running("weather").loc[key, ["tmax_c", "rain_mm"]].tolist() == [31.0, 4.0]


def test_a_new_row_without_required_columns_is_refused_whole(course: CourseFile) -> None:
    course.append("weather", weather("2026-07-01", tmax_c=31.0))
    key = "course:observed:day:2026-07-01"
    with pytest.raises(UserError, match="new row needs step, time"):
        course.append("weather", pd.DataFrame({"rain_mm": [4.0, 5.0]}, index=[key, "new"]))
    assert np.isnan(course.running("weather").loc[key, "rain_mm"])


def test_rows_can_be_asked_by_value(course: CourseFile) -> None:
    course.append("weather", weather("2026-07-01", "2026-07-02", origin=["observed", "forecast"]))
    assert course.running("weather", origin="forecast")["time"].tolist() == ["2026-07-02"]
    assert course.running("weather", origin="forecast", step="hour").empty


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (pd.DataFrame({"tmx_c": [1.0]}, index=["a"]), "no column 'tmx_c'.*'tmax_c'"),
        (weather("2026-07-01", "2026-07-01"), "Two rows.*2026-07-01"),
        (weather("2026-07-01").rename(index=lambda _: " "), "no id"),
        (weather("2026-07-01").rename(index=lambda _: None), "no id"),
        (weather("2026-07-01", tmax_c="hot"), "tmax_c does not take"),
        (weather("2026-07-01", origin="dreamt"), "refuses the rows"),
        (weather("2026-07-01").assign(step=None), "refuses the rows"),
    ],
)
def test_what_the_table_cannot_take_is_refused_whole(
    course: CourseFile, rows: pd.DataFrame, words: str
) -> None:
    with pytest.raises(UserError, match=words):
        course.append("weather", pd.concat([weather("2026-06-30"), rows]))
    assert course.running("weather").empty


def test_only_running_tables_take_rows(course: CourseFile) -> None:
    rows = pd.DataFrame({"label": ["x"]}, index=["a"])
    with pytest.raises(UserError, match="no running table 'heads'"):
        course.append("heads", rows)
    with pytest.raises(UserError, match="Did you mean 'weather'"):
        course.running("wether")
    with pytest.raises(UserError, match="edition"):
        course.append("nights", rows)
    with pytest.raises(UserError, match="Did you mean 'night'"):
        course.running("samples", nigth="x")


def test_no_rows_are_no_trouble(course: CourseFile) -> None:
    course.append("weather", weather("2026-07-01").iloc[:0])
    assert course.running("weather").empty


def test_dates_and_instants_may_come_as_such(course: CourseFile) -> None:
    row = {
        "subject": "course",
        "cause": "rain",
        "reason": "storm",
        "author": "Ines",
        "start": pd.Timestamp("2026-07-14T21:00:00-06:00"),
        "end": datetime(2026, 7, 15, 12, tzinfo=UTC),
    }
    course.append("holds", pd.DataFrame([row], index=["h1"]))
    held = course.running("holds").loc["h1"]
    assert held["start"] == "2026-07-15T03:00:00Z"
    assert held["end"] == "2026-07-15T12:00:00Z"
    trim = {"subject": "course", "reason": "x", "author": "Ines"}
    trim |= {"first_night": date(2026, 7, 14), "last_night": pd.Timestamp("2026-07-16")}
    course.append("trims", pd.DataFrame([trim], index=["t1"]))
    assert course.running("trims").loc["t1", "last_night"] == "2026-07-16"


def test_an_instant_without_zone_is_refused(course: CourseFile) -> None:
    row = {"time": datetime(2026, 7, 14, 21), "author": "Ines", "text": "wet"}
    with pytest.raises(UserError, match="no zone"):
        course.append("notes", pd.DataFrame([row], index=["n1"]))


def test_places_of_notes_are_kept(course: CourseFile) -> None:
    rows = gpd.GeoDataFrame(
        {"time": ["2026-07-14T12:00:00Z"], "author": ["Ines"], "text": ["wet spot"]},
        index=pd.Index(["n1"], name="id"),
        geometry=[Point(413_000, 4_340_000)],
        crs="EPSG:32612",
    )
    course.append("notes", rows)
    kept = course.running("notes")
    assert kept.crs == "EPSG:32612"
    assert kept.geometry["n1"].equals(Point(413_000, 4_340_000))
    layer = gpd.read_file(course.path, layer="notes")
    assert layer.total_bounds.tolist() == [413_000, 4_340_000, 413_000, 4_340_000]


def test_places_in_another_system_are_refused(course: CourseFile) -> None:
    rows = gpd.GeoDataFrame(
        {"time": ["2026-07-14T12:00:00Z"], "author": ["Ines"], "text": ["wet spot"]},
        index=["n1"],
        geometry=[Point(-112, 39)],
        crs="EPSG:4326",
    )
    with pytest.raises(UserError, match="another coordinate system"):
        course.append("notes", rows)


def test_a_log_belongs_to_a_night_that_exists(course: CourseFile) -> None:
    row = pd.DataFrame(
        {"night": ["2026-07-14-1"], "time": ["2026-07-15T04:00:00Z"], "event": ["open"]},
        index=["c1"],
    )
    with pytest.raises(UserError, match="FOREIGN KEY"):
        course.append("commands", row)


def log(minutes: int, start: int = 0) -> dict[str, pd.DataFrame]:
    times = [f"2026-07-15T04:{minute:02d}:00Z" for minute in range(start, start + minutes)]
    commands = pd.DataFrame({"time": times, "event": "open", "station": "S1"})
    samples = pd.DataFrame({"time": times, "flow_l_s": 5.0})
    return {"commands": commands, "samples": samples}


def test_a_later_rehearsal_takes_the_place_of_an_earlier(course: CourseFile, now: datetime) -> None:
    night = course.save_night(date(2026, 7, 14), {"runs": []}, now)
    other = course.save_night(date(2026, 7, 15), {"runs": []}, now)
    course.approve_night(night, "Ines", now)
    course.replace_log(other, log(2), origin="rehearsal")
    course.replace_log(night, log(5), origin="rehearsal")
    course.save_proof(night, {"green": 1})
    course.replace_log(night, log(3, start=10), origin="rehearsal")
    assert course.running("commands", night=night)["time"].tolist() == [
        "2026-07-15T04:10:00Z",
        "2026-07-15T04:11:00Z",
        "2026-07-15T04:12:00Z",
    ]
    assert len(course.running("samples", night=night)) == 3
    assert len(course.running("samples", night=other)) == 2
    assert course.nights().loc[night, "proof"] is None


def test_a_rehearsal_never_touches_the_fields_own_log(course: CourseFile, now: datetime) -> None:
    night = course.save_night(date(2026, 7, 14), {"runs": []}, now)
    real = {"night": night, "time": "2026-07-15T04:00:00Z", "event": "open", "origin": "field"}
    course.append("commands", pd.DataFrame([real], index=["c1"]))
    course.replace_log(night, log(2), origin="rehearsal")
    course.replace_log(night, log(1), origin="rehearsal")
    assert course.running("commands", night=night)["origin"].tolist() == ["field", "rehearsal"]


def test_a_log_that_the_tables_refuse_leaves_the_earlier_one(
    course: CourseFile, now: datetime
) -> None:
    night = course.save_night(date(2026, 7, 14), {"runs": []}, now)
    course.replace_log(night, log(4), origin="rehearsal")
    refused = log(2) | {"samples": log(2)["samples"].assign(time=None)}
    with pytest.raises(UserError):
        course.replace_log(night, refused, origin="rehearsal")
    assert len(course.running("commands", night=night)) == 4
    assert len(course.running("samples", night=night)) == 4


def test_a_log_of_no_night_is_not_found(course: CourseFile) -> None:
    with pytest.raises(NotFoundError, match="no night 'x'"):
        course.replace_log("x", log(1), origin="rehearsal")
