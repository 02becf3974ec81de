"""The sum of a station from the command line."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

Run = Callable[..., tuple[int, str, str]]
NIGHT = ("--night", "2026-07-14")


@pytest.fixture
def night(run_cli: Run, small_course: Path) -> Path:
    status, _, err = run_cli("plan", small_course, *NIGHT, "--by", "Ines")
    assert status == 0, err
    return small_course


def test_a_station_says_its_sentence_and_the_three_ways(run_cli: Run, night: Path) -> None:
    status, out, err = run_cli("sum", night, *NIGHT, "--station", "S-F004")
    assert status == 0
    assert out.startswith("Station S-F004: ")
    assert " min by the map: area need 0." in out
    for word in ("map", "kind", "footprint", "depth_in"):
        assert word in out
    assert "of the ground in reach gets its whole need" in " ".join(err.split())


def test_in_metric_and_for_scripts(run_cli: Run, night: Path) -> None:
    asked = ("sum", night, *NIGHT, "--station", "S-F004", "--units", "metric")
    _, out, _ = run_cli(*asked)
    assert "depth_mm" in out
    assert " in," not in out.splitlines()[0]
    told = json.loads(run_cli(*asked, "--format", "json")[1])
    assert [way["made"] for way in told["ways"]] == ["map", "kind", "footprint"]
    assert told["ways"][0]["run_min"] == told["ways"][0]["same_min"] > 0
    assert told["sentence"].startswith(f"{told['ways'][0]['run_min']:.0f} min by the map")
    _, rows, words = run_cli(*asked, "--format", "csv")
    assert rows.startswith("made,")
    assert "by the map" in " ".join(words.split())


def test_without_a_station_the_water_of_the_course(run_cli: Run, night: Path) -> None:
    told = json.loads(run_cli("sum", night, *NIGHT, "--format", "json")[1])
    waters = {way["made"]: way["water_m3"] for way in told["ways"]}
    assert set(waters) == {"map", "kind", "footprint"}
    assert all(water > 0 for water in waters.values())
    assert told["sentence"] == ""


@pytest.mark.parametrize(
    ("words", "said"),
    [((*NIGHT, "--station", "S-F999"), "has no row"), (("--night", "2026-07-20"), "No night")],
)
def test_what_there_is_not(run_cli: Run, night: Path, words: tuple[str, ...], said: str) -> None:
    status, _, err = run_cli("sum", night, *words)
    assert status == 2
    assert said in " ".join(err.split())
