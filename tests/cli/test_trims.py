"""Trims from the command line."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from nightwater.desk.course import open_course

Run = Callable[..., tuple[int, str, str]]
WHEN = ("--first", "2026-07-14", "--last", "2026-07-17", "--why", "dry knoll", "--by", "Ines")


def test_a_round_patch_and_its_cost(run_cli: Run, small_course: Path) -> None:
    words = ("heads:H-F003", "--around-m", "10", "--factor", "1.2", *WHEN)
    status, _, err = run_cli("trim", small_course, *words)
    assert status == 0
    assert "planned again" in err
    _, out, _ = run_cli("trims", small_course, "--night", "2026-07-15", "--format", "json")
    rows = json.loads(out)
    assert [(row["subject"], row["change"]) for row in rows] == [("map", "× 1.2 + 0 min")]
    assert 200 < rows[0]["ground_m2"] < 320  # the head stands near an edge of the fairway
    assert rows[0]["litres"] > 0
    assert (rows[0]["author"], rows[0]["reason"]) == ("Ines", "dry knoll")


def test_an_outline_in_metres_of_the_record(run_cli: Run, small_course: Path) -> None:
    with open_course(small_course) as course:
        x, y = course.ground.areas.geometry.loc["A-F"].centroid.coords[0]
    corners = f"{x} {y}, {x + 10} {y}, {x + 10} {y + 10}, {x} {y + 10}"
    words = ("map", "--outline", corners, "--factor", "0", *WHEN)
    assert run_cli("trim", small_course, *words)[0] == 0
    _, out, _ = run_cli("trims", small_course, "--night", "2026-07-14", "--format", "json")
    row = json.loads(out)[0]
    assert row["ground_m2"] == pytest.approx(100, abs=10)
    assert row["litres"] < 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("heads:H-F003", "--factor", "1.2"), "needs a radius"),
        (("map", "--factor", "1.2"), "no patch"),
        (("map", "--outline", "0 0, 9 0, 9 9", "--extra-min", "5"), "no added minutes"),
        (("areas:A-F", "--around-m", "5", "--factor", "1.2"), "belongs to a head"),
    ],
)
def test_what_will_not_do(
    run_cli: Run, small_course: Path, words: tuple[str, ...], said: str
) -> None:
    status, _, err = run_cli("trim", small_course, *words, *WHEN)
    assert status == 2
    assert said in " ".join(err.split())


def test_litres_that_cannot_be_told_are_told_so(run_cli: Run, small_course: Path) -> None:
    later = ("--first", "2027-07-14", "--last", "2027-07-17", "--why", "supply", "--by", "Ines")
    run_cli("trim", small_course, "course", "--factor", "0.9", *later)
    _, out, err = run_cli("trims", small_course, "--night", "2027-07-14", "--format", "json")
    assert json.loads(out)[0]["litres"] is None
    assert "cannot be told" in err


def test_an_end_has_a_reason(run_cli: Run, small_course: Path) -> None:
    lasting = (*WHEN[:3], "2090-07-17", *WHEN[4:])
    run_cli("trim", small_course, "kind:rough", "--factor", "0.8", *lasting)
    _, out, _ = run_cli("exceptions", small_course, "--format", "json")
    name = json.loads(out)[0]["id"]
    words = ("--end", name, "--why", "it rained", "--by", "Tomas", "--format", "json")
    _, out, _ = run_cli("exceptions", small_course, *words)
    row = json.loads(out)[0]
    assert row["reason"] == "dry knoll"
    assert row["ended"].startswith("Tomas, ")
    assert row["ended"].endswith(" (it was to last until 2090-07-17): it rained")
