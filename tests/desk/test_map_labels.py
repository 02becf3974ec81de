"""Labels beside their points: none covers another, none covers a mark, all stay on the paper."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nightwater.desk.map_labels import GAP_MM, Box, Wanted, place_labels

FRAME: Box = (0.0, 0.0, 120.0, 120.0)


def label(x: float, y: float, text: str = "F-12") -> Wanted:
    return Wanted(text, x, y, 1.3 * len(text), 2.0)


def overlap(one: Box, other: Box) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def test_a_lonely_label_stands_right_of_its_point_without_a_leader() -> None:
    (placed,), left = place_labels([label(50, 50)], FRAME, [])
    assert left == []
    assert not placed.led
    assert placed.box[0] == pytest.approx(50 + GAP_MM)
    assert placed.y == pytest.approx(50)


def test_a_label_at_the_right_edge_goes_to_the_left() -> None:
    (placed,), _ = place_labels([label(119.5, 50)], FRAME, [])
    assert placed.box[2] == pytest.approx(119.5 - GAP_MM)


def test_a_label_gives_way_to_what_is_covered_and_gets_a_leader_where_all_near_is_taken() -> None:
    ring = (44.0, 44.0, 56.0, 56.0)
    (placed,), left = place_labels([label(50, 50)], FRAME, [ring])
    assert left == []
    assert placed.led
    assert not overlap(placed.box, ring)


def test_a_label_without_any_room_is_told() -> None:
    placed, left = place_labels([label(50, 50, "A"), label(60, 60, "B")], FRAME, [FRAME])
    assert placed == []
    assert {each.text for each in left} == {"A", "B"}


def test_a_label_wider_than_the_frame_is_told() -> None:
    assert place_labels([label(5, 5, "x" * 99)], FRAME, [])[1][0].text == "x" * 99


def test_no_labels_need_no_room() -> None:
    assert place_labels([], FRAME, []) == ([], [])


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 120), st.floats(0, 120)), max_size=60))
def test_no_label_covers_another_or_a_mark_or_leaves_the_frame(
    points: list[tuple[float, float]],
) -> None:
    marks = [(x - 0.6, y - 0.6, x + 0.6, y + 0.6) for x, y in points]
    wanted = [label(x, y, f"F-{number}") for number, (x, y) in enumerate(points)]
    placed, left = place_labels(wanted, FRAME, marks)
    assert sorted(e.text for e in [*(p.wanted for p in placed), *left]) == sorted(
        each.text for each in wanted
    )
    boxes = [each.box for each in placed]
    for place, box in enumerate(boxes):
        assert min(box[0], box[1]) >= 0
        assert max(box[2], box[3]) <= 120
        assert not any(overlap(box, other) for other in [*boxes[:place], *marks])
    for each in placed:
        away = math.hypot(each.x - each.wanted.x, each.y - each.wanted.y)
        assert away <= 18 + each.wanted.width


def test_heads_of_a_row_close_together_all_find_room() -> None:
    """Common practice, no source: pairs of heads back to back at a green, 1 m apart."""
    points = [(20.0 + 6 * n, 40.0 + 0.5 * (n % 2)) for n in range(16)]
    points += [(x + 0.8, y) for x, y in points]
    placed, left = place_labels([label(x, y) for x, y in points], FRAME, [])
    assert left == []
    assert len(placed) == 32
