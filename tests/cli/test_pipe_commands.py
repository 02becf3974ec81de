"""isolate, fill and capacity on the command line."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

Run = Callable[..., tuple[int, str, str]]


def test_isolate_without_valves_stops_the_pump(run_cli: Run, small_course: Path) -> None:
    status, out, err = run_cli("isolate", small_course, "pipes:P-main")
    assert status == 0, err
    assert "stop, lock out" in out
    assert "injures" in err


def test_isolate_writes_its_card_and_json(run_cli: Run, small_course: Path, tmp_path: Path) -> None:
    card = tmp_path / "card.pdf"
    status, out, err = run_cli(
        "isolate", small_course, "pipes:P-H-G0", "--out", card, "--format", "json"
    )
    assert status == 0, err
    assert card.read_bytes().startswith(b"%PDF")
    assert json.loads(out)["stop"] == ["PU1"]


def test_isolate_lists_dry_stations_as_csv(run_cli: Run, small_course: Path) -> None:
    status, out, _ = run_cli("isolate", small_course, "pipes:P-main", "--format", "csv")
    assert status == 0
    lines = out.splitlines()
    assert lines[0] == "label,kind,area_label,controller,dry_heads,heads"
    assert len(lines) > 5


@pytest.mark.parametrize("at", ["nowhere", "pipes:X"])
def test_isolate_refuses_no_place(run_cli: Run, small_course: Path, at: str) -> None:
    status, _, err = run_cli("isolate", small_course, at)
    assert status == 2
    assert at.removeprefix("pipes:") in err


def test_fill_tells_volume_flow_and_time(run_cli: Run, small_course: Path) -> None:
    status, out, err = run_cli("fill", small_course, "--units", "metric")
    assert status == 0, err
    assert "m3 to fill" in err
    assert "minutes at least" in err
    assert "surge_bar" in out
    document = json.loads(run_cli("fill", small_course, "--format", "json")[1])
    assert document["least_min"] >= document["way_min"]
    assert document["surge"][0]["pipe"] == "P-main"


def test_capacity_of_an_entered_day(run_cli: Run, small_course: Path, tmp_path: Path) -> None:
    page = tmp_path / "capacity.json"
    status, out, err = run_cli("capacity", small_course, "--et-mm", "7", "--out", page)
    assert status == 0, err
    assert "What a change would buy" in out
    document = json.loads(page.read_text())
    assert document["reference_mm"] == 7.0
    assert [change["key"] for change in document["changes"]][:2] == ["window", "pump"]


def test_capacity_wants_weather_enough(run_cli: Run, small_course: Path) -> None:
    status, _, err = run_cli("capacity", small_course)
    assert status == 2
    assert "30 are needed" in err


def test_a_tariff_is_kept_and_priced(run_cli: Run, small_course: Path) -> None:
    period = '[{"name": "night", "start": "20:00", "end": "06:00", "per_kwh": 0.05, "per_kw": 4}]'
    status, _, err = run_cli("settings", small_course, f"money.periods={period}")
    assert status == 0, err
    status, _, err = run_cli("plan", small_course, "--night", "2026-07-14")
    assert status == 0, err
    assert "kWh night" in " ".join(err.split())
    assert "Demand $" in " ".join(err.split())


def test_a_wrong_tariff_is_refused(run_cli: Run, small_course: Path) -> None:
    status, _, err = run_cli(
        "settings", small_course, 'money.periods=[{"name": "a", "months": [13]}]'
    )
    assert status == 2
    assert "between 1 and 12" in " ".join(err.split())


def test_pressures_of_named_stations(run_cli: Run, small_course: Path) -> None:
    status, out, err = run_cli("pressures", small_course, "--station", "S-F000", "--station",
                               "S-F001", "--format", "json")  # fmt: skip
    assert status == 0, err
    rows = json.loads(out)
    assert [row["station"] for row in rows] == ["S-F001", "S-F000"]  # farther first
    assert all(row["pressure_kpa"] > row["least_kpa"] and not row["short"] for row in rows)
    assert "2 heads of 2 stations run" in err
    assert "hold their pressure" in err


@pytest.mark.parametrize(
    ("part", "first"), [("pipes", "pipe"), ("pumps", "pump"), ("heads", "head")]
)
def test_pressures_list_what_is_asked_for(
    run_cli: Run, small_course: Path, part: str, first: str
) -> None:
    words = ("pressures", small_course, "--station", "S-F000", "--list", part, "--format", "csv")
    status, out, _ = run_cli(*words)
    assert status == 0
    assert out.splitlines()[0].startswith(f"{first},")
    assert len(out.splitlines()) >= 2


def test_pressures_of_a_planned_minute(run_cli: Run, small_course: Path) -> None:
    run_cli("plan", small_course, "--night", "2026-07-14")
    status, out, err = run_cli("pressures", small_course, "--night", "2026-07-14", "--at", "22:00")
    assert status == 0, err
    assert "Heads by the solved pipes" in out
    assert "Lowest pressure" in err


@pytest.mark.parametrize(
    "words",
    [(), ("--night", "2026-07-14"), ("--at", "22:00"),
     ("--night", "2026-07-14", "--at", "22:00", "--station", "S-F000")],
)  # fmt: skip
def test_pressures_want_either_a_minute_or_stations(
    run_cli: Run, small_course: Path, words: tuple[str, ...]
) -> None:
    status, _, err = run_cli("pressures", small_course, *words)
    assert status == 2
    assert "either a night" in " ".join(err.split())
