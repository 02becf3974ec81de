"""Finding and ordering stations by what people type."""

from __future__ import annotations

import math

import pytest

from nightwater.web.tonight.rows import StationRow
from nightwater.web.tonight.search import ORDERS, Wish, fits_word, matching, natural, ordered

HOLES = tuple(range(1, 19))
KINDS = ("green", "tee", "fairway")


def row(label: str, kind: str, hole: int | None, **more: object) -> StationRow:
    facts = {
        "station": f"S-{label}",
        "label": label,
        "area": f"A-{label}",
        "area_label": f"{kind} of {label}",
        "kind": kind,
        "hole": hole,
        "need_mm": 5.0,
        "run_min": 20,
        "placed_min": 20,
        "cycles_min": (10, 10),
        "starts": ("21:00", "21:40"),
        "start_min": 0,
        "flow_l_s": 1.7,
        "why_not": "",
        "trimmed": False,
    }
    return StationRow(**(facts | more))  # type: ignore[arg-type]


ROWS = [
    row("7-2", "fairway", 7),
    row("7-14", "fairway", 7),
    row("7-21", "green", 7),
    row("17-7", "fairway", 17),
    row("R-1", "rough", None),
]


def found(text: str = "", kind: str = "", hole: int | None = None) -> list[str]:
    return [r.label for r in matching(ROWS, Wish(text, kind, hole), KINDS, HOLES)]


@pytest.mark.parametrize(
    ("text", "labels"),
    [
        ("", ["7-2", "7-14", "7-21", "17-7", "R-1"]),
        ("fairway 7", ["7-2", "7-14"]),
        ("Fairways 7", ["7-2", "7-14"]),
        ("7 fairway", ["7-2", "7-14"]),
        ("hole 7", ["7-2", "7-14", "7-21"]),
        ("7-14", ["7-14"]),
        ("17", ["17-7"]),
        ("19", []),
        ("fairway", ["7-2", "7-14", "17-7"]),
        ("s-r", ["R-1"]),
        ("of 7-2", ["7-2", "7-21"]),
        ("nothing", []),
    ],
)
def test_words(text: str, labels: list[str]) -> None:
    assert found(text) == labels


def test_filters_and_words_must_all_fit() -> None:
    assert found("7", kind="green") == ["7-21"]
    assert found("7", hole=17) == []
    assert found(hole=7, kind="fairway") == ["7-2", "7-14"]


def test_where_the_record_has_no_holes_a_number_is_looked_for_in_names() -> None:
    assert fits_word(ROWS[3], "7", KINDS, ())
    assert not fits_word(ROWS[4], "7", KINDS, ())


def test_names_are_in_the_order_in_which_people_count() -> None:
    assert sorted(["7-14", "7-2", "10-1", "a", "7-2b"], key=natural) == [
        "7-2", "7-2b", "7-14", "10-1", "a",
    ]  # fmt: skip
    assert natural("²") == natural("²")  # a digit that is no decimal must not break it


def test_largest_need_first_and_missing_last() -> None:
    rows = [
        row("1", "tee", 1, need_mm=math.nan),
        row("2", "tee", 1, need_mm=2.0),
        row("3", "tee", 1, need_mm=9.0),
    ]
    assert [r.label for r in ordered(rows, "need")] == ["3", "2", "1"]


def test_earliest_start_first_and_what_does_not_run_last() -> None:
    rows = [
        row("1", "tee", 1, start_min=None),
        row("2", "tee", 1, start_min=30),
        row("3", "tee", 1, start_min=0),
    ]
    assert [r.label for r in ordered(rows, "start")] == ["3", "2", "1"]
    assert [r.label for r in ordered(rows, "no such order")] == ["3", "2", "1"]


@pytest.mark.parametrize("order", ORDERS)
def test_every_order_keeps_every_row(order: str) -> None:
    assert sorted(r.label for r in ordered(ROWS, order)) == sorted(r.label for r in ROWS)


def test_stations_of_no_hole_come_last_by_hole() -> None:
    assert [r.label for r in ordered(ROWS, "hole")][-1] == "R-1"
