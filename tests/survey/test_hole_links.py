"""Hole numbers out of names become links to the record's holes, or nothing."""

from __future__ import annotations

import pandas as pd
import pytest

from nightwater.findings import Severity
from nightwater.survey.hole_links import linked_holes
from nightwater.survey.read import SurveyRows


def areas(*holes: str | None, by_number: bool = True) -> SurveyRows:
    ids = [f"A{n}" for n in range(len(holes))]
    rows = pd.DataFrame({"hole": list(holes)}, index=pd.Index(ids, name="id"), dtype=object)
    none: frozenset[str] = frozenset()
    places = dict.fromkeys(ids, "placemark")
    return SurveyRows(rows, places, none, none, (), "course.kml", holes_by_number=by_number)


def holes(**numbers: int | None) -> pd.DataFrame:
    values = pd.array(list(numbers.values()), dtype="Int64")
    return pd.DataFrame({"number": values}, index=pd.Index(list(numbers), name="id"))


def test_numbers_become_ids() -> None:
    linked = linked_holes(areas("7", "8", None), holes(first=8, second=7, third=None))
    assert linked.rows["hole"].tolist() == ["second", "first", None]
    assert linked.findings == ()


@pytest.mark.parametrize("known", [holes(), holes(a=9), holes(a=7, b=7)])
def test_a_number_of_no_one_hole_is_left_empty_and_told(known: pd.DataFrame) -> None:
    linked = linked_holes(areas("7", "7", None), known)
    assert linked.rows["hole"].tolist() == [None, None, None]
    (told,) = linked.findings
    assert (told.code, told.severity) == ("hole-not-in-record", Severity.NOTE)
    assert "2 names" in told.message


def test_what_a_file_says_itself_is_let_alone() -> None:
    survey = areas("7", by_number=False)
    assert linked_holes(survey, holes(a=7)) is survey
    bare = SurveyRows(
        pd.DataFrame(index=pd.Index(["A"], name="id")),
        {},
        frozenset(),
        frozenset(),
        (),
        "x",
        holes_by_number=True,
    )
    assert linked_holes(bare, holes(a=7)) is bare


def test_the_survey_is_not_changed_in_place() -> None:
    survey = areas("7")
    linked_holes(survey, holes(a=7))
    assert survey.rows["hole"].tolist() == ["7"]
