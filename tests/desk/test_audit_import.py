"""A file of cans: its columns are proposed, said, and remembered; a unit is never guessed."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from nightwater.desk.audit_cans import opening_m2
from nightwater.desk.audit_entering import record_catches
from nightwater.desk.audit_import import (
    can_columns,
    catches_from,
    import_catches,
    recalled_columns,
)
from nightwater.desk.audit_kept import audit_of
from nightwater.desk.audit_planning import AuditWish, plan_audit
from nightwater.desk.course import Course, open_course
from nightwater.desk.remembering import kept_choices
from nightwater.findings import NotFoundError, UserError

NOW = datetime(2026, 7, 14, 12, tzinfo=UTC)
BY: dict[str, Any] = {"who": "Pilar", "now": NOW}
SAID = ("Can", "Catch", "mL")


def planned(course: Course, throat_m2: float | None = 0.01) -> str:
    return plan_audit(course, AuditWish("A-G", cans=30, throat_m2=throat_m2), **BY)


def written(folder: Path, text: str, name: str = "cans.csv") -> Path:
    path = folder / name
    path.write_text(text)
    return path


@pytest.mark.parametrize(
    ("header", "can", "caught", "unit"),
    [
        ("Can,Catch", "Can", "Catch", ""),
        ("No;Volume ml", "No", "Volume ml", "mL"),
        ("label,caught_ml", "label", "caught_ml", "mL"),
        ("Cup,Depth [mm]", "Cup", "Depth [mm]", "mm"),
        ("Cup,Depth (in)", "Cup", "Depth (in)", "in"),
        ("Number,Catch floz", "Number", "Catch floz", "floz"),
        ("Spot,Result", "", "", ""),
    ],
)
def test_what_columns_look_like(
    tmp_path: Path, header: str, can: str, caught: str, unit: str
) -> None:
    mark = ";" if ";" in header else ","
    path = written(tmp_path, f"{header}\n1{mark}20\n2{mark}30\n")
    found = can_columns(path)
    assert (found.can, found.caught, found.unit) == (can, caught, unit)
    assert not found.remembered
    assert found.header == tuple(header.split(mark))
    assert found.examples[found.header[1]] == "20, 30"


def test_one_column_is_never_both(tmp_path: Path) -> None:
    found = can_columns(written(tmp_path, "Can volume,Other\n1,2\n"))
    assert found.can == "Can volume"
    assert found.caught != "Can volume"


@pytest.mark.parametrize(
    ("unit", "cell", "ml"),
    [("mL", "25", 25.0), ("floz", "1", 29.5735), ("mm", "4", 40.0), ("in", "0.5", 127.0)],
)
def test_every_unit_by_hand(
    course: Course, tmp_path: Path, unit: str, cell: str, ml: float
) -> None:
    """On an opening of 0.01 m² a millimetre is 10 mL and an inch 254."""
    path = written(tmp_path, f"Can,Catch\n1,{cell}\n")
    audit = audit_of(course, planned(course))
    assert catches_from(audit, path, "Can", "Catch", unit) == pytest.approx({"1": ml}, abs=1e-3)


@pytest.mark.parametrize("unit", ["", "cups", "ML", "l"])
def test_a_unit_that_is_not_said_is_asked_for(course: Course, tmp_path: Path, unit: str) -> None:
    path = written(tmp_path, "Can,caught_ml\n1,20\n")  # the name declares it; a person says it
    with pytest.raises(UserError, match="Say in what the catches are"):
        catches_from(audit_of(course, planned(course)), path, "Can", "caught_ml", unit)


def test_depths_need_the_opening_and_volumes_do_not(course: Course, tmp_path: Path) -> None:
    path = written(tmp_path, "Can,Catch\n1,20\n")
    audit = audit_of(course, planned(course, None))
    assert catches_from(audit, path, "Can", "Catch", "mL") == {"1": 20.0}
    with pytest.raises(UserError, match="needs the opening"):
        catches_from(audit, path, "Can", "Catch", "mm")


def test_a_workbook_is_read_like_text(course: Course, tmp_path: Path) -> None:
    path = tmp_path / "cans.xlsx"
    pd.DataFrame({"Can": [1, 2, 3], "Catch": [20.5, None, 0]}).to_excel(path, index=False)
    audit = audit_of(course, planned(course))
    assert catches_from(audit, path, "Can", "Catch", "mL") == {"1": 20.5, "3": 0.0}


def test_a_dry_can_is_zero_and_an_empty_one_is_not_read(course: Course, tmp_path: Path) -> None:
    path = written(tmp_path, "Can,Catch\n1,0\n2,\n3,  \n")
    identity = planned(course)
    assert import_catches(course, identity, path, SAID, **BY) == (1, 1)
    cans = audit_of(course, identity).cans.set_index("label")
    assert cans.at["1", "caught_ml"] == 0.0
    assert pd.isna(cans.at["2", "caught_ml"])


@pytest.mark.parametrize(
    ("text", "said", "told"),
    [
        ("Can,Catch\n1,20\n1,21\n", SAID, "can 1 stands there twice"),
        ("Can,Catch\n1,much\n", SAID, "'much' is no catch"),
        ("Can,Catch\n1,-3\n", SAID, "cannot be"),
        ("Can,Catch\n1,99999\n", SAID, "cannot be"),
        ("Can,Catch\n77,20\n", SAID, "has no can 77"),
        ("Can,Catch\n1,20\n", ("Can", "Volume", "mL"), "has no column 'Volume'. It has: Can, C"),
        ("Can,Catch\n1,20\n", ("Can", "Can", "mL"), "two columns"),
    ],
)
def test_a_wrong_file_keeps_nothing_and_is_not_remembered(
    course: Course, tmp_path: Path, text: str, said: tuple[str, str, str], told: str
) -> None:
    identity = planned(course)
    with pytest.raises(UserError, match=told):
        import_catches(course, identity, written(tmp_path, text), said, **BY)
    assert audit_of(course, identity).entered == 0
    assert kept_choices(course, "cans") == {}


def test_one_wrong_row_keeps_the_others_out_too(course: Course, tmp_path: Path) -> None:
    identity = planned(course)
    path = written(tmp_path, "Can,Catch\n1,20\n2,21\n3,x\n")
    with pytest.raises(UserError, match="'x' is no catch"):
        import_catches(course, identity, path, SAID, **BY)
    assert audit_of(course, identity).entered == 0


def test_what_was_said_is_remembered_for_the_same_header(course: Course, tmp_path: Path) -> None:
    text = "Spot,Result,Remark\n1,0.5,\n2,0.6,wet\n"
    first = written(tmp_path, text)
    assert recalled_columns(course, first).can == ""
    import_catches(course, planned(course), first, ("Spot", "Result", "in"), **BY)
    again = written(tmp_path, "Remark,Spot,Result\n,1,0.4\n", "next.csv")  # columns moved about
    found = recalled_columns(course, again)
    assert (found.can, found.caught, found.unit) == ("Spot", "Result", "in")
    assert found.remembered
    assert found.examples["Result"] == "0.4"
    other = written(tmp_path, "Spot,Result\n1,0.4\n", "other.csv")
    assert not recalled_columns(course, other).remembered  # one column less is another file


def test_it_is_remembered_in_the_file_across_openings(small_course: Path, tmp_path: Path) -> None:
    path = written(tmp_path, "A,B\n1,20\n")
    with open_course(small_course) as course:
        import_catches(course, planned(course), path, ("A", "B", "mL"), **BY)
    with open_course(small_course) as course:
        found = recalled_columns(course, path)
    assert (found.can, found.caught, found.unit, found.remembered) == ("A", "B", "mL", True)


def test_what_is_said_later_wins(course: Course, tmp_path: Path) -> None:
    path = written(tmp_path, "A,B\n1,2\n")
    identity = planned(course)
    import_catches(course, identity, path, ("A", "B", "mL"), **BY)
    later = {"who": "Tomas", "now": NOW + timedelta(hours=1)}
    assert import_catches(course, identity, path, ("A", "B", "mm"), **later) == (1, 1)
    assert recalled_columns(course, path).unit == "mm"
    import_catches(course, identity, written(tmp_path, "A,B\n20,3\n"), ("B", "A", "mL"), **later)
    found = recalled_columns(course, path)
    assert (found.can, found.caught, found.unit) == ("B", "A", "mL")


def test_a_survey_s_memory_and_that_of_cans_do_not_mix(course: Course, tmp_path: Path) -> None:
    path = written(tmp_path, "A,B\n1,20\n")
    import_catches(course, planned(course), path, ("A", "B", "mL"), **BY)
    assert len(kept_choices(course, "cans")) == 1
    assert kept_choices(course, "heads") == {}


def test_a_second_reading_keeps_the_first_beside_it(course: Course, tmp_path: Path) -> None:
    identity = planned(course)
    record_catches(course, identity, {"1": 18.0}, **BY)
    path = written(tmp_path, "Can,Catch\n1,20\n2,21\n")
    assert import_catches(course, identity, path, SAID, **BY) == (2, 2)
    assert import_catches(course, identity, path, SAID, **BY) == (2, 0)  # nothing new in it
    cans = audit_of(course, identity).cans.set_index("label")
    assert cans.at["1", "earlier"].endswith("Pilar: caught_ml was 18.0, now 20.0")
    assert pd.isna(cans.at["2", "earlier"])


def test_an_audit_that_is_not_there(course: Course, tmp_path: Path) -> None:
    with pytest.raises(NotFoundError, match="no audit 'AU9'"):
        import_catches(course, "AU9", written(tmp_path, "Can,Catch\n1,20\n"), SAID, **BY)


def test_an_opening_read_in_inches_is_the_same_can() -> None:
    assert opening_m2(4, "in") == pytest.approx(opening_m2(101.6, "mm"))
