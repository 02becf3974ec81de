"""A whole audit from the command line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest


def test_plan_card_read_look_accept(run_cli: Any, small_course: Path, tmp_path: Path) -> None:
    assert run_cli("audits", small_course, "--format", "json")[:2] == (0, "[]\n")
    status, _, err = run_cli(
        "audit-plan", small_course, "A-G", "--cans", 30, "--opening", 11, "--opening-unit", "cm"
    )
    assert status == 0
    assert err.startswith("AU1: ")
    assert "clear of people" in err
    cans = int(err.split()[1])
    card = tmp_path / "card.pdf"
    assert run_cli("audit-card", small_course, "AU1", "--out", card)[0] == 0
    assert card.read_bytes().startswith(b"%PDF")
    file = tmp_path / "cans.csv"
    rows = [f"{number},{50 - number}" for number in range(1, cans + 1)]
    file.write_text("\n".join(["Can,Caught", *rows]) + "\n")
    words = ("audit-read", small_course, "AU1", file, "--can", "Can", "--caught", "Caught")
    status, _, err = run_cli(*words, "--unit", "mL", "--minutes", 15)
    assert status == 0, err
    assert f"Read {cans} cans, {cans} of them new" in err
    assert run_cli(*words, "--unit", "cups")[0] == 2
    status, out, _ = run_cli("audit", small_course, "AU1", "--format", "json")
    said = json.loads(out)
    figures = {row["figure"]: row for row in said["figures"]}
    caught = [50 - number for number in range(1, cans + 1)]
    assert figures["mean"]["value"] == pytest.approx(sum(caught) / cans)
    assert figures["du_lq"]["low"] < figures["du_lq"]["value"] < figures["du_lq"]["high"]
    du = next(row for row in said["proposed"] if row["part"] == "areas:A-G:du_lq")
    assert du["before"] == 0.7
    assert du["after"] == pytest.approx(figures["du_lq"]["value"], abs=5e-4)
    assert "DU" in run_cli("audit", small_course, "AU1")[1].upper()
    status, _, err = run_cli(
        "audit-accept", small_course, "AU1", "--part", "areas:A-G:du_lq", "--by", "Ines"
    )
    assert (status, "1 part of the audit is" in err) == (0, True)
    listed = json.loads(run_cli("audits", small_course, "--format", "json")[1])
    assert [(row["audit"], row["state"]) for row in listed] == [("AU1", "used")]
    status, _, err = run_cli("audit-accept", small_course, "AU1")
    assert status == 2
    assert "was used for revision" in err


def test_an_opening_without_its_unit_is_refused(run_cli: Any, small_course: Path) -> None:
    status, _, err = run_cli("audit-plan", small_course, "A-G", "--opening", 11)
    assert status == 2
    assert "its area in cm2 or in2" in err


def planned_audit(run_cli: Any, course: Path) -> None:
    words = ("audit-plan", course, "A-G", "--cans", 30, "--opening", 11, "--opening-unit", "cm")
    assert run_cli(*words)[0] == 0


def test_what_was_said_of_a_file_need_not_be_said_again(
    run_cli: Any, small_course: Path, tmp_path: Path
) -> None:
    planned_audit(run_cli, small_course)
    first, other = tmp_path / "first.csv", tmp_path / "other.csv"
    first.write_text("Spot,Result\n1,0.5\n2,0.6\n")
    other.write_text("Spot,Result,Remark\n1,0.5,wet\n")
    status, _, err = run_cli("audit-read", small_course, "AU1", first)
    assert status == 2
    told = " ".join(err.split())
    assert "Say --can: it was not said of a file with this header." in told
    assert "The file has: Spot, Result." in told
    said = ("--can", "Spot", "--caught", "Result", "--unit", "in")
    assert run_cli("audit-read", small_course, "AU1", first, *said)[0] == 0
    first.write_text("Spot,Result\n1,0.5\n2,0.7\n")
    status, _, err = run_cli("audit-read", small_course, "AU1", first)
    assert status == 0
    assert "As the last time: --can 'Spot' --caught 'Result' --unit in." in err
    assert "Read 2 cans, 1 of them new or corrected" in err
    assert run_cli("audit-read", small_course, "AU1", other)[0] == 2  # another header


def test_a_unit_is_not_carried_to_another_column(
    run_cli: Any, small_course: Path, tmp_path: Path
) -> None:
    planned_audit(run_cli, small_course)
    file = tmp_path / "cans.csv"
    file.write_text("Spot,Depth,Volume\n1,0.5,120\n")
    said = ("--can", "Spot", "--caught", "Depth", "--unit", "in")
    assert run_cli("audit-read", small_course, "AU1", file, *said)[0] == 0
    status, _, err = run_cli("audit-read", small_course, "AU1", file, "--caught", "Volume")
    assert status == 2
    assert "Say --unit" in err


def test_an_audit_or_an_area_that_is_not_there(run_cli: Any, small_course: Path) -> None:
    for words in (("audit", "AU9"), ("audit-accept", "AU9"), ("audit-plan", "A-X")):
        status, _, err = run_cli(words[0], small_course, *words[1:])
        assert status == 2
        assert "There is no a" in err
