"""A whole audit from the command line."""

from __future__ import annotations

from pathlib import Path
from typing import Any


def test_plan_card_read_look_accept(run_cli: Any, small_course: Path, tmp_path: Path) -> None:
    status, out, _ = run_cli("audits", small_course)
    assert (status, "No audits yet" in out) == (0, True)
    status, out, err = run_cli(
        "audit-plan", small_course, "A-G", "--cans", 30, "--opening", 11, "--opening-unit", "cm"
    )
    assert status == 0, err
    assert out.startswith("AU1: ")
    assert "clear of people" in out
    cans = int(out.split()[1])
    card = tmp_path / "card.pdf"
    assert run_cli("audit-card", small_course, "AU1", "--out", card)[0] == 0
    assert card.read_bytes().startswith(b"%PDF")
    file = tmp_path / "cans.csv"
    rows = [f"{number},{50 - number}" for number in range(1, cans + 1)]
    file.write_text("\n".join(["Can,Caught", *rows]) + "\n")
    words = ("audit-read", small_course, "AU1", file, "--can", "Can", "--caught", "Caught")
    status, out, err = run_cli(*words, "--unit", "mL", "--minutes", 15)
    assert status == 0, err
    assert f"Read {cans} cans, {cans} of them new" in out
    assert run_cli(*words, "--unit", "cups")[0] == 2
    status, out, _ = run_cli("audit", small_course, "AU1")
    caught = [50 - number for number in range(1, cans + 1)]
    assert f"mean     {sum(caught) / cans:.3f} mL" in out
    assert "nine of ten" in out
    assert "areas:A-G:du_lq: du_lq 0.7 → " in out
    status, out, _ = run_cli(
        "audit-accept", small_course, "AU1", "--part", "areas:A-G:du_lq", "--by", "Ines"
    )
    assert (status, "1 parts" in out) == (0, True)
    assert "used" in run_cli("audits", small_course)[1]
    assert "audit 04" not in out
    status, _, err = run_cli("audit-accept", small_course, "AU1")
    assert status == 2
    assert "stays as it is" in err


def test_an_opening_without_its_unit_is_refused(run_cli: Any, small_course: Path) -> None:
    status, _, err = run_cli("audit-plan", small_course, "A-G", "--opening", 11)
    assert status == 2
    assert "its area in cm2 or in2" in err
