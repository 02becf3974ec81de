"""Which rows were assumed: choices in order, lists of names, marks carried on."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd

from nightwater.weather.marks import MEANING_OF_MARK, first_known, joined, mark_lists, marks_of

NAN = float("nan")
SOURCE = Path(__file__).parents[2] / "src" / "nightwater" / "weather"


def test_first_known_takes_the_best_source_of_each_row() -> None:
    term = first_known(
        [
            (None, np.array([1.0, NAN, NAN, NAN])),
            ("second", np.array([9.0, 2.0, NAN, NAN])),
            ("third", np.array([9.0, 9.0, 3.0, NAN])),
        ]
    )
    assert np.array_equal(term.values, [1, 2, 3, NAN], equal_nan=True)
    assert {name: where.tolist() for name, where in term.marks.items()} == {
        "second": [False, True, False, False],
        "third": [False, False, True, False],
    }


def test_choices_that_were_not_used_leave_no_mark() -> None:
    assert first_known([(None, np.ones(3)), ("other", np.ones(3))]).marks == {}


def test_lists_follow_the_order_of_the_marks_and_are_not_shared() -> None:
    marks = {"b": np.array([True, True, False]), "a": np.array([False, True, False])}
    lists = mark_lists(marks, 3)
    assert lists == [["b"], ["b", "a"], []]
    lists[0].append("x")
    assert lists[2] == []


def test_marks_of_a_frame_come_back_as_rows() -> None:
    frame = pd.DataFrame({"flags": [["a"], ["a", "b"], None, NAN, []]})
    found = {name: where.tolist() for name, where in marks_of(frame).items()}
    assert found == {
        "a": [True, True, False, False, False],
        "b": [False, True, False, False, False],
    }


def test_a_frame_without_flags_has_no_marks() -> None:
    assert marks_of(pd.DataFrame({"tmax_c": [1.0]})) == {}


def test_joined_marks_cover_the_rows_of_both() -> None:
    both = joined({"a": np.array([True, False])}, {"a": np.array([False, True])})
    assert both["a"].tolist() == [True, True]


def test_every_mark_has_its_meaning_and_is_used_in_the_source() -> None:
    code = "\n".join(path.read_text() for path in SOURCE.glob("*.py") if path.name != "marks.py")
    assert [mark for mark in MEANING_OF_MARK if f'"{mark}"' not in code] == []
    assert all(meaning.endswith(".") for meaning in MEANING_OF_MARK.values())
