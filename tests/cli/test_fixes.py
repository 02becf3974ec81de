"""fixes as a person types it."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path

import pytest

Run = Callable[..., tuple[int, str, str]]
NIGHT = "2026-07-14"
NOON = datetime(2026, 7, 14, 21, tzinfo=UTC)


@pytest.fixture
def planned(small_course: Path) -> Path:
    """A planned night, and a head that the crew saw standing low."""
    from nightwater.desk.course import open_course
    from nightwater.desk.editing import save
    from nightwater.desk.planning import plan

    with open_course(small_course) as course:
        plan(course, date.fromisoformat(NIGHT), who="Pilar", now=NOON)
        head = str(course.ground.heads.index[course.ground.heads["nozzle"].notna()][0])
        low = {"op": "set", "table": "heads", "ids": [head], "values": {"condition": "low"}}
        save(course, [low], {}, who="Pilar", why="seen", now=NOON)
    return small_course


def test_repairs_as_csv_agree_with_json(run_cli: Run, planned: Path) -> None:
    status, out, _err = run_cli("fixes", planned, "--night", NIGHT, "--format", "csv")
    assert status == 0
    rows = list(csv.DictReader(io.StringIO(out)))
    low = [row for row in rows if row["cause"] == "sunken-head"]
    assert len(low) == 1
    assert low[0]["hours"] == "0.75"
    assert "taken to throw 85%" in low[0]["evidence"]
    _status, out, _err = run_cli("fixes", planned, "--night", NIGHT, "--format", "json")
    by_json = next(row for row in json.loads(out) if row["cause"] == "sunken-head")
    assert float(low[0]["saved_l_night"]) == pytest.approx(by_json["saved_l_night"])
    season = by_json["saved_l_night"] * 100 / 1000
    assert by_json["saved_m3_season"] == pytest.approx(season, abs=0.01)


def test_the_latest_night_stands_in_where_none_is_named(run_cli: Run, planned: Path) -> None:
    named = run_cli("fixes", planned, "--night", NIGHT, "--format", "csv")[1]
    assert run_cli("fixes", planned, "--format", "csv")[1] == named


def test_a_table_for_people(run_cli: Run, planned: Path) -> None:
    status, out, _err = run_cli("fixes", planned)
    assert status == 0
    assert "What repairs would save" in out


def test_dry_spots_have_their_causes_in_order(run_cli: Run, planned: Path) -> None:
    _status, out, _err = run_cli("fixes", planned, "--spots", "--format", "json")
    rows = json.loads(out)
    spots: dict[int, list[float]] = {}
    for row in rows:
        if row["share"] is not None:
            spots.setdefault(row["spot"], []).append(row["share"])
        assert row["lacking_l"] > 0
        assert row["depth_mm"] < row["need_mm"]
    for shares in spots.values():
        assert shares == sorted(shares, reverse=True)


def test_a_night_that_is_not_planned_is_told(run_cli: Run, planned: Path) -> None:
    status, _out, err = run_cli("fixes", planned, "--night", "2031-01-01")
    assert status == 2
    assert "No night is planned for 2031-01-01" in err


def test_a_course_without_nights_is_told(run_cli: Run, small_course: Path) -> None:
    status, _out, err = run_cli("fixes", small_course)
    assert status == 2
    assert "Plan one first" in err
