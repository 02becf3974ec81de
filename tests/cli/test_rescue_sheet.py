"""The rescue list on one page, as the one who walks it gets it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from nightwater.desk.course import open_course
from nightwater.desk.morning import morning
from nightwater.desk.nights import approved_night
from nightwater.desk.rehearsing import rehearse
from nightwater.desk.rescue_sheet import rescue_begin, rescue_rows
from nightwater.findings import NotFoundError, UserError
from nightwater.night.rehearsal import Faults
from nightwater.proof.rescue import CAUTION

Run = Callable[..., tuple[int, str, str]]
NIGHT = "2026-07-14"


@pytest.fixture
def approved(run_cli: Run, small_course: Path) -> Path:
    run_cli("settings", small_course, "site.invented=true")
    run_cli("plan", small_course, "--night", NIGHT)
    run_cli("approve", small_course, "--night", NIGHT, "--by", "Ines")
    return small_course


@pytest.fixture
def tripped(approved: Path) -> Path:
    """The pumps tripped early: nearly everything is red."""
    with open_course(approved) as course:
        stored = approved_night(course, date.fromisoformat(NIGHT))
        assert stored is not None
        rehearse(course, stored.id, faults=Faults(pump_trip_at="21:45"), seed=1)
        morning(course, date.fromisoformat(NIGHT))
    return approved


def sheet(run_cli: Run, course: Path, out: Path, *more: object) -> Any:
    status, _, err = run_cli("rescue", course, "--night", NIGHT, "--out", out, *more)
    assert status == 0, err
    return json.loads(out.read_text()) if out.suffix == ".json" else out.read_bytes()


def minutes(clock: str) -> int:
    return int(clock[:2]) * 60 + int(clock[3:])


def test_the_pdf_is_one_page(run_cli: Run, tripped: Path, tmp_path: Path) -> None:
    pdf = sheet(run_cli, tripped, tmp_path / "r.pdf")
    assert pdf.startswith(b"%PDF")
    assert re.findall(rb"/Type\s*/Pages\b[^>]*?/Count (\d+)", pdf) == [b"1"]


def test_every_row_has_a_start_and_an_end_and_the_caution_stands(
    run_cli: Run, tripped: Path, tmp_path: Path
) -> None:
    document = sheet(run_cli, tripped, tmp_path / "r.json")
    assert len(document["rows"]) >= 5
    starts = [minutes(row[0]) for row in document["rows"]]
    assert min(starts) == minutes(document["begin"])
    for row in document["rows"]:
        assert minutes(row[0]) < minutes(row[5]) <= minutes(document["first_tee"])
    assert document["caution"].startswith(CAUTION)
    assert "nothing starts by this sheet" in document["caution"]
    assert document["invented"] is True


def test_a_later_start_moves_all_and_fewer_fit(run_cli: Run, tripped: Path, tmp_path: Path) -> None:
    usual = sheet(run_cli, tripped, tmp_path / "a.json")
    later = sheet(run_cli, tripped, tmp_path / "b.json", "--from", "06:30")
    by_label = {row[1]: minutes(row[0]) for row in usual["rows"]}
    moved = minutes("06:30") - minutes(usual["begin"])
    assert moved > 0
    for row in later["rows"]:
        assert minutes(row[0]) == by_label[row[1]] + moved
    assert len(later["rows"]) < len(usual["rows"])
    assert later["late_count"] + len(later["rows"]) == later["count"] == usual["count"]


def test_missing_water_is_told_in_the_readers_unit(
    run_cli: Run, tripped: Path, tmp_path: Path
) -> None:
    us = sheet(run_cli, tripped, tmp_path / "a.json")
    metric = sheet(run_cli, tripped, tmp_path / "b.json", "--units", "metric")
    assert all(row[6].endswith(" in") for row in us["rows"])
    assert all(row[6].endswith(" mm") for row in metric["rows"])


def test_rows_name_controller_hole_and_area(tripped: Path) -> None:
    with open_course(tripped) as course:
        stored = approved_night(course, date.fromisoformat(NIGHT))
        assert stored is not None
        rows = rescue_rows(stored, course.ground, course.settings)
        known = course.ground.stations["controller"].to_dict()
    assert [row["order"] for row in rows] == list(range(1, len(rows) + 1))
    assert all(row["controller"] == known[row["station"]] for row in rows)
    assert {row["kind"] for row in rows} > {"green"}
    assert all(row["area_label"] for row in rows)


def test_stations_gone_from_the_record_are_printed_by_their_id(tripped: Path) -> None:
    from dataclasses import replace

    with open_course(tripped) as course:
        stored = approved_night(course, date.fromisoformat(NIGHT))
        assert stored is not None
        gone = replace(course.ground, stations=course.ground.stations.iloc[:0])
        rows = rescue_rows(stored, gone, course.settings)
    assert [row["label"] for row in rows] == [row["station"] for row in rows]
    assert {row["controller"] for row in rows} == {None}


def test_an_unproved_night_has_no_rescue_sheet(
    run_cli: Run, approved: Path, tmp_path: Path
) -> None:
    status, _, err = run_cli("rescue", approved, "--night", NIGHT, "--out", tmp_path / "r.pdf")
    assert status == 2
    assert "not proved yet" in " ".join(err.split())
    with open_course(approved) as course:
        stored = approved_night(course, date.fromisoformat(NIGHT))
        assert stored is not None
        with pytest.raises(NotFoundError):
            rescue_rows(stored, course.ground, course.settings)


def test_a_wrong_clock_time_is_refused(tripped: Path) -> None:
    with open_course(tripped) as course:
        stored = approved_night(course, date.fromisoformat(NIGHT))
        assert stored is not None
        with pytest.raises(UserError, match="not a clock time"):
            rescue_begin(stored, course.settings, "soon")
        assert rescue_begin(stored, course.settings) == stored.plan.window.end
        assert f"{rescue_begin(stored, course.settings, '5:20'):%H:%M}" == "05:20"


def test_the_morning_table_gives_start_times_and_caution(run_cli: Run, tripped: Path) -> None:
    _, out, _ = run_cli("morning", tripped, "--night", NIGHT)
    assert "missing_in" in out
    assert "start" in out.split("Rescue before first tee")[1]
    assert "computed, not observed" in out
    _, out, _ = run_cli("morning", tripped, "--night", NIGHT, "--units", "metric")
    assert "missing_mm" in out


def test_rehearse_tells_the_solved_pipes_and_who_lacked(run_cli: Run, approved: Path) -> None:
    words = ("rehearse", approved, "--night", NIGHT)
    status, _, err = run_cli(*words)
    assert status == 0, err
    assert "of the solved pipes" in " ".join(err.split())
    assert "Every head had its pressure" in err
    status, out, err = run_cli(*words, "--pump-pressure", "0.4", "--format", "csv")
    assert status == 0, err
    assert out.splitlines()[0] == "head,station,litres,lowest_kpa,least_kpa,short_min"
    assert "heads had less than their pressure" in err
    assert run_cli(*words, "--pump-pressure", "1.4")[0] == 2
    assert run_cli(*words, "--stuck", "nowhere")[0] == 2
