"""What lies between two records, and the record after it."""

from __future__ import annotations

from typing import Any

import pytest
from shapely.geometry import Point

from nightwater.ground.changes import Changes, RowChange
from nightwater.ground.differences import changes_between, with_changes
from nightwater.ground.record import Ground


@pytest.fixture
def ground(make: Any, hole: Any) -> Ground:
    return make(hole)


@pytest.fixture
def other(make: Any, hole: Any) -> Ground:
    """A head moved, one gone, one new, a station without its list's count."""
    hole["heads"]["F1"] |= {"geometry": Point(61, 0)}
    hole["heads"]["X1"] = {**hole["heads"]["F2"], "label": "new", "geometry": Point(99, 9)}
    del hole["heads"]["R2"]
    hole["stations"]["S1"] |= {"heads_listed": None}
    return make(hole)


def test_only_what_differs_is_told(ground: Ground, other: Ground) -> None:
    changes = changes_between(ground, other, "a walk")
    assert changes.in_words() == "a walk"
    told = {(row.table, row.id): row for row in changes.rows}
    assert set(told) == {("heads", "F1"), ("heads", "R2"), ("heads", "X1"), ("stations", "S1")}
    assert list(told["heads", "F1"].columns) == ["geometry"]
    assert told["heads", "R2"].after is None
    assert told["heads", "X1"].before is None
    assert told["stations", "S1"].columns == {"heads_listed": (2, None)}


def test_the_same_is_no_change(ground: Ground) -> None:
    assert len(changes_between(ground, ground)) == 0
    assert len(changes_between(ground, ground.with_table("heads", ground.heads.copy()))) == 0


def test_changes_lead_there_and_their_reverse_back(ground: Ground, other: Ground) -> None:
    changes = changes_between(ground, other)
    there = with_changes(ground, changes)
    assert len(changes_between(there, other)) == 0
    back = with_changes(other, changes.reversed)
    assert len(changes_between(back, ground)) == 0
    assert back.heads.index[-1] == "R2"  # what comes back stands last
    assert back.heads.dtypes.equals(ground.heads.dtypes)
    assert back.heads.crs == ground.heads.crs


def test_a_table_may_become_empty_and_full_again(make: Any, hole: Any) -> None:
    ground = make(hole)
    bare = ground.with_table("controllers", ground.controllers.iloc[:0])
    changes = changes_between(ground, bare)
    assert with_changes(ground, changes).controllers.empty
    assert list(with_changes(bare, changes.reversed).controllers.index) == ["A"]


def test_tables_that_do_not_change_stay_the_very_same(ground: Ground) -> None:
    change = RowChange("nozzles", "N", None, {"pressure_kpa": 1.0, "flow_l_s": 1.0})
    after = with_changes(ground, Changes((change,)))
    assert after.heads is ground.heads
    assert after.nozzles.loc["N", "pressure_kpa"] == 1.0
