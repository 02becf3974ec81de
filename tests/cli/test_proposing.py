"""Propose and reconcile from the command line, on a hole surveyed without stations."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., tuple[int, str, str]]
PAIRED = {"kinds": {"rough": "pair", "fairway": "single", "tee": "pair"}}


@pytest.fixture
def bare_course(run_cli: Run, small_course: Path, tmp_path: Path) -> Path:
    """The small course with heads that name neither station nor label."""
    run_cli("export", small_course, tmp_path / "record.json")
    heads = json.loads((tmp_path / "record.json").read_text())["tables"]["heads"]
    lines = ["id,station,label", *(f"{row['id']},," for row in heads)]
    (tmp_path / "bare.csv").write_text("\n".join(lines))
    from datetime import UTC, datetime

    from nightwater.desk.course import open_course
    from nightwater.desk.proposing import accept_ground

    with open_course(small_course) as course:
        accept_ground(
            course,
            lambda ground: ground.with_table(
                "heads", ground.heads.assign(station=None, label=None)
            ).with_table("stations", ground.stations.assign(heads=None)),
            "Ines",
            "survey without stations",
            datetime(2026, 7, 1, tzinfo=UTC),
        )
    return small_course


def heads_of(run_cli: Run, course: Path, folder: Path) -> dict[str, Any]:
    run_cli("export", course, folder / "after.json")
    rows = json.loads((folder / "after.json").read_text())["tables"]["heads"]
    return {row["id"]: row for row in rows}


@pytest.mark.parametrize("what", ["stations", "numbers", "arcs", "nozzles", "lines", "perimeters"])
@pytest.mark.parametrize("form", ["table", "json", "csv"])
def test_everything_is_shown_in_every_form_and_nothing_changes(
    run_cli: Run, bare_course: Path, what: str, form: str
) -> None:
    _, before, _ = run_cli("history", bare_course, "--format", "json")
    status, out, err = run_cli("propose", bare_course, what, "--show", "--format", form)
    assert status == 0, err
    if form == "json":
        assert isinstance(json.loads(out), list)
    if form == "csv":
        assert next(csv.reader(io.StringIO(out)))
    assert run_cli("history", bare_course, "--format", "json")[1] == before


def test_proposed_numbers_are_accepted_as_a_revision_that_can_be_undone(
    run_cli: Run, bare_course: Path, tmp_path: Path
) -> None:
    words = ("propose", bare_course, "numbers", "--yes", "--by", "Ines")
    status, _, err = run_cli(*words)
    assert (status, "Accepted as revision" in err) == (0, True)
    labels = {row["label"] for row in heads_of(run_cli, bare_course, tmp_path).values()}
    assert None not in labels
    assert any(str(label).startswith("01-F-") for label in labels)
    _, out, _ = run_cli("history", bare_course, "--format", "json")
    last = json.loads(out)[-1]
    assert last["who"] == "Ines"
    assert run_cli("undo", bare_course, last["revision"])[0] == 0
    assert {r["label"] for r in heads_of(run_cli, bare_course, tmp_path).values()} == {None}


def test_only_what_is_sure_enough_is_taken(run_cli: Run, bare_course: Path) -> None:
    def count(least: str) -> int:
        words = ("propose", bare_course, "stations", "--show", "--format", "json")
        return len(json.loads(run_cli(*words, "--least", least)[1]))

    assert count("0") > 0
    assert count("1") == 0


def test_the_clubs_rules_are_data_and_checked_when_saved(
    run_cli: Run, small_course: Path, tmp_path: Path
) -> None:
    (tmp_path / "pairs.json").write_text(json.dumps(PAIRED))
    rules = f"record.pairs=@{tmp_path / 'pairs.json'}"
    assert run_cli("settings", small_course, rules)[0] == 0
    _, out, _ = run_cli("settings", small_course, "--format", "json")
    kept = {row["name"]: json.loads(row["value"]) for row in json.loads(out)}
    assert kept["record.pairs"] == PAIRED
    wrong = 'record.numbers={"kinds": {"fairwy": {}}}'
    status, _, err = run_cli("settings", small_course, wrong)
    assert (status, "fairway" in err) == (2, True)


def test_a_list_is_reconciled_and_accepted_by_hole(
    run_cli: Run, bare_course: Path, tmp_path: Path
) -> None:
    status, out, err = run_cli("reconcile", bare_course, "--show", "--format", "json")
    assert status == 0, err
    rows = json.loads(out)
    assert {row["verdict"] for row in rows} <= {"agrees", "doubtful", "no row", "no heads"}
    assert all(row["station"] or row["verdict"] == "no row" for row in rows)
    status, _, err = run_cli("reconcile", bare_course, "--hole", "99", "--yes")
    assert (status, "Nothing was changed" in err) == (0, True)
    status, _, err = run_cli("reconcile", bare_course, "--yes", "--by", "Ines")
    assert "Accepted as revision" in err
    heads = heads_of(run_cli, bare_course, tmp_path)
    matched = {head for row in rows if row["station"] for head in row["heads"]}
    assert {name for name, row in heads.items() if row["station"]} == matched
    assert matched


def test_an_unknown_proposal_names_the_nearest(run_cli: Run, small_course: Path) -> None:
    status, _, err = run_cli("propose", small_course, "number")
    assert (status, "Did you mean 'numbers'" in err) == (2, True)
