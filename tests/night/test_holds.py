"""Under which names a hold holds a station, and what stretch of the night it leaves."""

from __future__ import annotations

import pytest

from nightwater.night.holds import Held, free_minutes, holds_of

ONE = Held(100.0, 200.0, "held")


def test_holds_of_a_station_come_in_order_of_time() -> None:
    early, late = Held(0.0, 5.0, "a"), Held(7.0, 9.0, "b")
    by_subject = {"course": [late], "kind:green": [early], "kind:tee": [ONE]}
    assert holds_of({"course", "kind:green"}, by_subject) == [early, late]


@pytest.mark.parametrize(
    ("holds", "stretch"),
    [
        ([], (0, 480)),
        ([ONE], (200, 480)),
        ([Held(300.0, 480.0, "")], (0, 300)),
        ([Held(100.4, 380.6, "")], (0, 100)),
        ([ONE, Held(150.0, 420.0, "")], (0, 100)),
        ([Held(-10.0, 500.0, "")], (0, 0)),
    ],
)
def test_the_longest_stretch_without_a_hold_is_left(
    holds: list[Held], stretch: tuple[int, int]
) -> None:
    first, last = free_minutes(0, 480, holds)
    assert (first, last) == stretch or first == last == stretch[1]
