"""Tables speak the reader's units; scripts keep the inside ones unless they ask."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest

from nightwater.units import MM_PER_INCH

Run = Callable[..., tuple[int, str, str]]
NIGHT = "2026-07-14"


def rows(run_cli: Run, *words: object) -> list[dict[str, str]]:
    status, out, err = run_cli(*words, "--format", "csv")
    assert status == 0, err
    return list(csv.DictReader(io.StringIO(out)))


def test_need_is_read_in_inches_where_the_course_reads_us(run_cli: Run, small_course: Path) -> None:
    _, out, _ = run_cli("need", small_course, "--night", NIGHT)
    assert "need_in" in out
    assert "need_mm" not in out
    run_cli("settings", small_course, "site.units=metric")
    _, out, _ = run_cli("need", small_course, "--night", NIGHT)
    assert "need_mm" in out
    _, out, _ = run_cli("need", small_course, "--night", NIGHT, "--units", "us")
    assert "need_in" in out


def test_csv_and_json_of_need_stay_metric_unless_us_is_asked_for(
    run_cli: Run, small_course: Path
) -> None:
    words = ("need", small_course, "--night", NIGHT)
    inside, asked = rows(run_cli, *words), rows(run_cli, *words, "--units", "us")
    assert len(inside) == len(asked) > 1
    for mm, inch in zip(inside, asked, strict=True):
        assert mm["area"] == inch["area"]
        assert float(inch["need_in"]) * MM_PER_INCH == pytest.approx(float(mm["need_mm"]), abs=1e-4)
        assert inch["kc"] == mm["kc"]
    _, out, _ = run_cli(*words, "--units", "us", "--format", "json")
    assert "need_mm" in json.loads(out)[0]


def test_reference_et_is_read_in_inches_when_asked(
    run_cli: Run, tmp_path: Path, survey_kit: object
) -> None:
    (tmp_path / "w.csv").write_text("date,tmax_c,tmin_c,rain_mm\n2026-07-10,30,12,0\n")
    place = ("--latitude", 39.2, "--longitude", -112, "--elevation", 1372)
    words = ("et", tmp_path / "w.csv", *place)
    mm = float(rows(run_cli, *words)[0]["eto_mm"])
    inch = float(rows(run_cli, *words, "--units", "us")[0]["eto_in"])
    assert inch * MM_PER_INCH == pytest.approx(mm, abs=1e-4)
    _, out, _ = run_cli(*words, "--units", "us")
    assert f"{mm / MM_PER_INCH:.2f}" in out


def test_history_is_on_the_clock_of_the_course(run_cli: Run, small_course: Path) -> None:
    run_cli("settings", small_course, "site.timezone=Australia/Adelaide")
    _, out, _ = run_cli("history", small_course, "--format", "json")
    moments = [datetime.fromisoformat(row["time"]) for row in json.loads(out)]
    offsets = {moment.utcoffset().total_seconds() / 3600 for moment in moments}  # type: ignore[union-attr]
    assert offsets <= {9.5, 10.5}
    assert moments == sorted(moments)


def test_the_ledger_is_totalled_in_the_readers_units(run_cli: Run, small_course: Path) -> None:
    run_cli("plan", small_course, "--night", NIGHT)
    run_cli("approve", small_course, "--night", NIGHT, "--by", "Ines")
    inside = rows(run_cli, "ledger", small_course, "--by", "month")
    asked = rows(run_cli, "ledger", small_course, "--by", "season", "--units", "us")
    assert [row["kind"] for row in inside] == [row["kind"] for row in asked]
    assert (inside[0]["kind"], inside[0]["used_known"]) == ("course", "assumed")
    assert float(asked[0]["used_gal"]) == pytest.approx(float(inside[0]["used_m3"]) * 264.172052)
    assert sum(float(row["used_m3"]) for row in inside[1:]) == pytest.approx(
        float(inside[0]["used_m3"])
    )
    _, out, _ = run_cli("ledger", small_course, "--by", "month")
    assert "Ledger by month, money in $" in out
    assert run_cli("ledger", small_course, "--by", "week")[0] == 2


def test_settings_are_told_with_range_default_and_meaning(run_cli: Run, small_course: Path) -> None:
    _, out, _ = run_cli("settings", small_course)
    flat = " ".join(out.split())
    assert "night.pump_use = 0.85 fraction (default 0.85; may be 0.05 to 1)" in flat
    assert "share of pump capacity that a plan may use" in flat
