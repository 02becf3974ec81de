"""Which readings may speak, and what they say against the account."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pandas as pd
import pytest

from nightwater.soil.defaults import FIELD_CAPACITY_PCT, area_defaults
from nightwater.soil.readings import (
    AGEING_STD_PCT,
    SPOT_STD_PCT,
    AreaReadings,
    reading_std_pct,
    readings_by_area,
)

NIGHT = date(2026, 7, 14)
ZONE = "America/Denver"  # six hours behind UTC in July


def areas() -> pd.DataFrame:
    rows = {
        "A-F": {"kind": "fairway", "soil": "loam", "root_depth_mm": 200.0},
        "A-G": {"kind": "green", "soil": "sand", "root_depth_mm": 100.0},
    }
    columns = (
        "grass", "slope_pct", "area_factor", "target_depletion_pct", "surface_storage_mm",
        "available_water_mm_m", "curve_number", "intake_mm_h", "allowed_depletion_pct", "du_lq",
        "efficiency",
    )  # fmt: skip
    frame = pd.DataFrame.from_dict(rows, orient="index")
    return area_defaults(frame.assign(**dict.fromkeys(columns, np.nan)))


def account(start: float = 4.0, water: float = 0.0, end: float = 10.0) -> pd.DataFrame:
    """Three days of both areas, all alike."""
    days = [date(2026, 7, day) for day in (12, 13, 14)]
    return pd.DataFrame(
        [
            {
                "date": day,
                "area": area,
                "depletion_start_mm": start,
                "irrigation_mm": water,
                "depletion_end_mm": end,
            }
            for day in days
            for area in ("A-F", "A-G")
        ]
    )


def reading(**changed: Any) -> dict[str, Any]:
    return {
        "area": "A-F",
        "time": "2026-07-14T18:00:00Z",  # noon at the course
        "vwc_pct": 20.0,
        "depth_mm": 200.0,
        "meter": "probe 1",
        "x_m": 10.0,
        "y_m": 20.0,
    } | changed


def read(*rows: dict[str, Any], book: pd.DataFrame | None = None) -> Any:
    frame = pd.DataFrame([reading(**row) for row in rows])
    frame.index = pd.Index([f"r{n}" for n in range(len(frame))], name="id")
    return readings_by_area(frame, areas(), account() if book is None else book, NIGHT, ZONE)


def only(*rows: dict[str, Any], book: pd.DataFrame | None = None) -> AreaReadings:
    found, findings = read(*rows, book=book)
    assert findings == []
    assert len(found) == 1
    return found[0]


class TestWhatAReadingSays:
    def test_it_is_held_against_the_account_of_its_hour(self) -> None:
        # Noon: half way from 4 to 10 mm is 7 mm, of 200 mm roots 3.5 % by volume. Loam at
        # field capacity holds 25 %; 20 % lacks 5 %. So 1.5 % drier than the account.
        assert only({}).drier_pct == pytest.approx([1.5])

    def test_water_of_the_night_before_counts_from_the_morning(self) -> None:
        # From 4 − 3 = 1 mm to 10 mm; half way 5.5 mm, 2.75 %.
        assert only({}, book=account(4.0, 3.0)).drier_pct == pytest.approx([5.0 - 2.75])

    def test_a_store_that_was_overfilled_is_full(self) -> None:
        assert only({}, book=account(4.0, 9.0)).drier_pct == pytest.approx([5.0 - 2.5])

    def test_yesterday_is_held_against_yesterday(self) -> None:
        book = account()
        yesterday = book["date"] == date(2026, 7, 13)
        book.loc[yesterday, ["depletion_start_mm", "depletion_end_mm"]] = [2.0, 6.0]
        said = only({"time": "2026-07-13T18:00:00Z"}, book=book)
        assert said.drier_pct == pytest.approx([5.0 - 2.0])

    def test_the_day_is_the_course_s_own(self) -> None:
        # Three in the night of the 14th by UTC is nine in the evening of the 13th there.
        book = account()
        book.loc[book["date"] == date(2026, 7, 14), "depletion_end_mm"] = 30.0
        said = only({"time": "2026-07-14T03:00:00Z"}, book=book)
        assert said.drier_pct == pytest.approx([5.0 - 100 * (4 + 6 * 21 / 24) / 200])

    def test_wetter_than_field_capacity_is_wetter_than_the_account(self) -> None:
        assert only({"vwc_pct": 30.0}).drier_pct[0] < 0

    def test_it_is_surer_the_fresher_it_is(self) -> None:
        noon_today, noon_before = only({}).std_pct[0], only({"time": "2026-07-13T18:00:00Z"})
        assert noon_today == pytest.approx(np.hypot(SPOT_STD_PCT, AGEING_STD_PCT * 0.5))
        assert noon_before.std_pct[0] == pytest.approx(np.hypot(SPOT_STD_PCT, AGEING_STD_PCT * 1.5))

    def test_deviation_of_arrays_and_of_what_is_not_known(self) -> None:
        out = reading_std_pct(np.array([[0, 1], [np.nan, 4]]))
        assert out.shape == (2, 2)
        assert out[0, 0] == SPOT_STD_PCT
        assert np.isnan(out[1, 0])


class TestWhatIsLeftOut:
    @pytest.mark.parametrize(
        ("changed", "code"),
        [
            ({"x_m": np.nan}, "reading-without-place"),
            ({"area": None}, "reading-without-place"),
            ({"area": "elsewhere"}, "reading-without-place"),
            ({"depth_mm": np.nan}, "reading-depth-unknown"),
            ({"depth_mm": 99.0}, "reading-depth-unlike-roots"),
            ({"depth_mm": 301.0}, "reading-depth-unlike-roots"),
            ({"time": "2026-07-07T05:59:00Z"}, "reading-too-old"),
            ({"time": "2026-07-11T18:00:00Z"}, "reading-too-old"),  # before the account
            ({"time": "2026-07-15T06:01:00Z"}, "reading-too-old"),  # after the night
        ],
    )
    def test_it_is_told_once_with_its_row(self, changed: dict[str, Any], code: str) -> None:
        found, findings = read({}, changed)
        assert [len(one) for one in found] == [1]
        assert [finding.code for finding in findings] == [code]
        assert findings[0].subject == "readings:r1"

    @pytest.mark.parametrize("depth_mm", [100.0, 300.0])
    def test_a_probe_of_about_the_roots_counts(self, depth_mm: float) -> None:
        assert only({"depth_mm": depth_mm}).depth_mm == depth_mm

    def test_several_of_one_kind_are_told_together(self) -> None:
        _, findings = read({}, {"depth_mm": np.nan}, {"depth_mm": np.nan})
        assert len(findings) == 1
        assert findings[0].message.startswith("2 moisture readings")

    def test_no_readings_say_nothing(self) -> None:
        empty = pd.DataFrame(columns=list(reading()))
        assert readings_by_area(empty, areas(), account(), NIGHT, ZONE) == ((), [])


class TestKindsAreNotMixed:
    def test_the_meter_with_most_readings_maps_the_area_and_the_other_is_told(self) -> None:
        found, findings = read({}, {"x_m": 12.0}, {"meter": "probe 2", "vwc_pct": 5.0})
        assert (found[0].meter, len(found[0])) == ("probe 1", 2)
        assert [finding.code for finding in findings] == ["readings-of-several-kinds"]

    def test_of_equals_the_newest_counts(self) -> None:
        found, _ = read({"time": "2026-07-13T18:00:00Z"}, {"meter": "probe 2"})
        assert found[0].meter == "probe 2"

    def test_two_depths_of_one_meter_are_two_kinds(self) -> None:
        found, findings = read({}, {"depth_mm": 150.0}, {"depth_mm": 150.0})
        assert (found[0].depth_mm, len(found[0])) == (150.0, 2)
        assert len(findings) == 1

    def test_each_area_has_its_own(self) -> None:
        green = {"area": "A-G", "meter": "probe 2", "depth_mm": 75.0, "vwc_pct": 9.0}
        found, findings = read({}, green)
        assert [(one.area, one.meter) for one in found] == [("A-F", "probe 1"), ("A-G", "probe 2")]
        assert findings == []
        # Sand holds 12 %; 9 % lacks 3 %; 7 mm of 100 mm roots are 7 %.
        assert found[1].drier_pct == pytest.approx([3.0 - 7.0])

    def test_a_meter_without_a_name_is_a_kind_too(self) -> None:
        found, findings = read({"meter": None}, {"meter": None}, {})
        assert (found[0].meter, len(found[0])) == ("", 2)
        assert findings[0].code == "readings-of-several-kinds"

    def test_the_newest_five_hundred_count(self) -> None:
        rows = [{"x_m": float(n), "time": f"2026-07-14T{n % 12:02d}:00:00Z"} for n in range(24)]
        many = [dict(row, y_m=float(y)) for y in range(21) for row in rows]
        found = only(*many)
        assert len(found) == 500
        assert found.std_pct.max() == pytest.approx(np.hypot(SPOT_STD_PCT, 30 / 24))


def test_every_soil_has_a_field_capacity() -> None:
    from nightwater.ground.tables import SOILS

    assert set(SOILS) == set(FIELD_CAPACITY_PCT)
