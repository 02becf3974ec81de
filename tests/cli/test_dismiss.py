"""`nightwater dismiss` and `nightwater check --dismissed`."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import jsonschema

from nightwater.desk.schema import SCHEMAS

Run = Callable[..., tuple[int, str, str]]


def _findings(run_cli: Run, course: Path, *more: str) -> list[dict[str, Any]]:
    status, out, err = run_cli("check", course, "--format", "json", *more)
    assert status == 0, err
    found: list[dict[str, Any]] = json.loads(out)
    return found


def test_a_finding_is_dismissed_shown_and_opened_again(run_cli: Run, small_course: Path) -> None:
    before = _findings(run_cli, small_course)
    one = (before[0]["code"], before[0]["subject"])
    status, _, err = run_cli("dismiss", small_course, *one, "--why", "Known.", "--by", "Tomas")
    assert status == 0, err
    assert "Dismissed: " in err
    still_open = _findings(run_cli, small_course)
    assert one not in {(f["code"], f["subject"]) for f in still_open}
    jsonschema.validate(still_open, SCHEMAS["findings"]())
    (kept,) = _findings(run_cli, small_course, "--dismissed")
    assert (kept["code"], kept["subject"]) == one
    assert (kept["reason"], kept["author"]) == ("Known.", "Tomas")
    assert kept["message"] == before[0]["message"]
    assert "Dismissed besides: 1;" in run_cli("check", small_course)[2]
    assert run_cli("dismiss", small_course, *one, "--restore", "--by", "Ines")[0] == 0
    assert _findings(run_cli, small_course) == before
    assert _findings(run_cli, small_course, "--dismissed") == []


def test_a_reason_is_asked_for(run_cli: Run, small_course: Path) -> None:
    first = _findings(run_cli, small_course)[0]
    status, _, err = run_cli("dismiss", small_course, first["code"], first["subject"])
    assert status == 2
    assert "Say why" in err


def test_what_is_not_there_is_told(run_cli: Run, small_course: Path) -> None:
    status, _, err = run_cli("dismiss", small_course, "spacing-differs", "heads:X", "--why", "No.")
    assert status == 2
    assert "no open finding 'spacing-differs' about heads:X" in " ".join(err.split())


def test_an_error_is_refused_and_check_still_fails(run_cli: Run, small_course: Path) -> None:
    with closing(sqlite3.connect(small_course)) as connection:
        (nozzle,) = connection.execute("SELECT id FROM nozzles ORDER BY id").fetchone()
        connection.execute("UPDATE nozzles SET flow_l_s = 0 WHERE id = ?", (nozzle,))
        connection.commit()
    subject = f"nozzles:{nozzle}"
    status, _, err = run_cli("dismiss", small_course, "flow-zero", subject, "--why", "So.")
    assert status == 2
    assert "cannot be dismissed" in " ".join(err.split())
    status, out, _ = run_cli("check", small_course, "--format", "json")
    assert status == 1
    assert {"flow-zero"} == {f["code"] for f in json.loads(out) if f["severity"] == "error"}
    assert run_cli("check", small_course, "--dismissed")[0] == 1
