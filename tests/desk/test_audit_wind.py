"""The observed hour's wind is proposed to an audit, and nothing else is."""

from __future__ import annotations

import math
from datetime import UTC, datetime
from typing import Any

import pandas as pd
import pytest

from nightwater.desk.audit_entering import record_facts
from nightwater.desk.audit_kept import audit_of
from nightwater.desk.audit_planning import AuditWish, plan_audit
from nightwater.desk.audit_wind import ObservedWind, observed_wind
from nightwater.desk.course import Course
from nightwater.findings import NotFoundError
from nightwater.weather.air import wind_at_2_m_m_s

NOW = datetime(2026, 7, 14, 12, tzinfo=UTC)
BY: dict[str, Any] = {"who": "Pilar", "now": NOW}
AT_2_M_FROM_10_M = 4.87 / math.log(67.8 * 10 - 5.42)  # FAO-56, equation 47


def audited(course: Course, time: str | None) -> str:
    identity = plan_audit(course, AuditWish("A-G"), **BY)
    record_facts(course, identity, {"time": time}, **BY)
    return identity


def observe(course: Course, *hours: dict[str, Any]) -> None:
    """Hours of weather; each observed, 3 m/s at 10 m, from 11:00 UTC unless told otherwise."""
    usual = {
        "step": "hour",
        "origin": "observed",
        "time": "2026-07-14T11:00:00Z",
        "wind_m_s": 3.0,
        "wind_height_m": 10.0,
        "gauge": None,
    }
    rows = [usual | hour for hour in hours or ({},)]
    names = [f"W{number}" for number in range(len(rows))]
    course.file.append("weather", pd.DataFrame(rows, index=pd.Index(names, name="id")))


def wind_of(course: Course, time: str | None) -> ObservedWind | None:
    return observed_wind(course, audit_of(course, audited(course, time)))


def test_the_hour_in_which_it_began_brought_to_2_m(course: Course) -> None:
    observe(course)
    found = wind_of(course, "2026-07-14T11:40:00+00:00")
    assert found is not None
    assert found.wind_m_s == pytest.approx(3.0 * AT_2_M_FROM_10_M)
    assert found.wind_m_s == pytest.approx(2.24, abs=0.01)  # 0.748 of it, by FAO-56 table 2.9
    assert found.wind_m_s == pytest.approx(float(wind_at_2_m_m_s(3.0, 10.0)))
    assert (found.start, found.gauge) == (datetime(2026, 7, 14, 11, tzinfo=UTC), None)
    assert found.at_2_m


@pytest.mark.parametrize(
    ("time", "known"),
    [
        ("2026-07-14T11:00:00+00:00", True),
        ("2026-07-14T11:59:59+00:00", True),
        ("2026-07-14T12:00:00+00:00", False),
        ("2026-07-14T10:59:59+00:00", False),
        ("2026-07-14T05:40:00-06:00", True),  # the same hour by a clock in Denver
        ("2026-07-15T11:40:00+00:00", False),
        (None, False),
    ],
)
def test_an_hour_holds_its_start_and_not_its_end(
    course: Course, time: str | None, known: bool
) -> None:
    observe(course)
    assert (wind_of(course, time) is not None) == known


@pytest.mark.parametrize("minutes", [15, 30, 45])
def test_hours_that_start_off_the_full_utc_hour(course: Course, minutes: int) -> None:
    observe(course, {"time": f"2026-07-14T11:{minutes}:00Z"})
    found = wind_of(course, "2026-07-14T12:10:00+00:00")
    assert found is not None
    assert found.start == datetime(2026, 7, 14, 11, minutes, tzinfo=UTC)
    assert wind_of(course, "2026-07-14T11:10:00+00:00") is None


@pytest.mark.parametrize(
    "other", [{"origin": "forecast"}, {"origin": "typical"}, {"step": "day"}, {"wind_m_s": None}]
)
def test_what_nobody_observed_is_not_proposed(course: Course, other: dict[str, Any]) -> None:
    observe(course, other)
    assert wind_of(course, "2026-07-14T11:40:00+00:00") is None


def test_a_height_that_is_not_known_is_said(course: Course) -> None:
    observe(course, {"wind_height_m": None})
    found = wind_of(course, "2026-07-14T11:40:00+00:00")
    assert found is not None
    assert found.wind_m_s == 3.0
    assert not found.at_2_m


def test_of_several_rows_the_first_that_tells_of_wind(course: Course) -> None:
    observe(course, {"wind_m_s": None}, {"wind_m_s": 1.0}, {"wind_m_s": 9.0})
    found = wind_of(course, "2026-07-14T11:40:00+00:00")
    assert found is not None
    assert found.wind_m_s == pytest.approx(AT_2_M_FROM_10_M)


def test_calm_is_an_observation(course: Course) -> None:
    observe(course, {"wind_m_s": 0.0})
    found = wind_of(course, "2026-07-14T11:40:00+00:00")
    assert found is not None
    assert found.wind_m_s == 0.0


def test_it_is_a_proposal_and_changes_nothing(course: Course) -> None:
    observe(course, {"wind_m_s": 12.0})
    identity = audited(course, "2026-07-14T11:40:00+00:00")
    assert observed_wind(course, audit_of(course, identity)) is not None
    assert audit_of(course, identity).facts["wind_m_s"] is None
    with pytest.raises(NotFoundError):
        audit_of(course, "AU99")
