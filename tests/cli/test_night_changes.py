"""`nightwater changes`, `holds`, `hold`, `end-hold` and what the sheet tells of them."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

Run = Callable[..., tuple[int, str, str]]
NIGHT = ("--night", "2026-07-14")
WHEN = ("--from", "2026-07-14T18:00", "--to", "2026-07-15T09:00")


def told(run_cli: Run, *words: object) -> list[dict[str, Any]]:
    status, out, err = run_cli(*words, "--format", "json")
    assert status == 0, err
    rows: list[dict[str, Any]] = json.loads(out)
    return rows


def approve_then_hold_the_greens(run_cli: Run, course: Path) -> None:
    assert run_cli("plan", course, *NIGHT)[0] == 0
    assert run_cli("approve", course, *NIGHT, "--by", "Ines")[0] == 0
    words = ("--cause", "chemical", "--why", "fungicide", "--by", "Ines")
    assert run_cli("hold", course, "kind:green", *WHEN, *words)[0] == 0
    assert run_cli("plan", course, *NIGHT)[0] == 0


def test_changes_are_told_by_reason_and_station(run_cli: Run, small_course: Path) -> None:
    approve_then_hold_the_greens(run_cli, small_course)
    by_reason = told(run_cli, "changes", small_course, *NIGHT)
    assert [(row["reason"], row["stations"]) for row in by_reason] == [("hold", 4)]
    stations = told(run_cli, "changes", small_course, *NIGHT, "--by", "station")
    assert sorted(row["label"] for row in stations) == ["G0", "G1", "G2", "G3"]
    assert all(row["after_min"] == 0 for row in stations)
    whole = sum(row["change_m3"] for row in stations)
    assert abs(by_reason[0]["change_m3"] - whole) < 1e-6
    _, _, err = run_cli("changes", small_course, *NIGHT)
    assert "4 stations change" in err
    assert "4 of them by more than 25%" in err


def test_csv_speaks_the_units_that_are_asked_for(run_cli: Run, small_course: Path) -> None:
    approve_then_hold_the_greens(run_cli, small_course)
    words = ("changes", small_course, *NIGHT, "--format", "csv", "--units", "us")
    (row,) = csv.DictReader(io.StringIO(run_cli(*words)[1]))
    (metric,) = told(run_cli, "changes", small_course, *NIGHT)
    assert abs(float(row["change_gal"]) / (metric["change_m3"] * 264.172052) - 1) < 1e-6


def test_without_another_night_the_command_says_so(run_cli: Run, small_course: Path) -> None:
    assert run_cli("plan", small_course, *NIGHT)[0] == 0
    status, out, err = run_cli("changes", small_course, *NIGHT, "--format", "json")
    assert (status, json.loads(out)) == (0, [])
    assert "No other night was approved yet" in err
    ordinary = told(run_cli, "changes", small_course, *NIGHT, "--against", "ordinary")
    assert ordinary == []


def test_a_wrong_way_is_refused(run_cli: Run, small_course: Path) -> None:
    assert run_cli("plan", small_course, *NIGHT)[0] == 0
    words = ("changes", small_course, *NIGHT, "--against", "best")
    status, _, err = run_cli(*words)
    assert status == 2
    assert "last or ordinary" in err


def test_holds_tell_what_they_keep_back_and_end_early(run_cli: Run, small_course: Path) -> None:
    approve_then_hold_the_greens(run_cli, small_course)
    (row,) = told(run_cli, "holds", small_course, *NIGHT, "--all")
    assert (row["holds"], row["cause"], row["stations"]) == ("every green", "chemical", 4)
    (change,) = told(run_cli, "changes", small_course, *NIGHT)
    assert abs(row["held_m3"] + change["change_m3"]) < 1e-6


def test_end_hold_asks_for_a_known_hold(run_cli: Run, small_course: Path) -> None:
    status, _, err = run_cli("end-hold", small_course, "nothing", "--why", "over")
    assert status == 2
    assert "There is no hold 'nothing'" in err


def test_a_circle_is_held_by_command(run_cli: Run, small_course: Path) -> None:
    words = ("--cause", "people", "--why", "crew")
    assert run_cli("hold", small_course, "point:1,2,30", *WHEN, *words)[0] == 0
    status, _, err = run_cli("hold", small_course, "point:1,2", *WHEN, *words)
    assert (status, "is no circle" in err) == (2, True)


def test_the_sheet_tells_what_changes(run_cli: Run, small_course: Path, tmp_path: Path) -> None:
    approve_then_hold_the_greens(run_cli, small_course)
    out = tmp_path / "sheet.json"
    assert run_cli("sheet", small_course, *NIGHT, "--draft", "--out", out)[0] == 0
    first, *rest = json.loads(out.read_text())["changes"]
    assert first.startswith("Against the approved night of 14 July 2026 (edition 1): 4 stations")
    assert len(rest) == 1
    assert rest[0].startswith("holds: 4 stations")
    pdf = tmp_path / "sheet.pdf"
    assert run_cli("sheet", small_course, *NIGHT, "--draft", "--out", pdf)[0] == 0
    assert pdf.read_bytes().startswith(b"%PDF")
