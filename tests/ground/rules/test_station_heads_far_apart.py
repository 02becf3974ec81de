"""`station-heads-far-apart`: stations with a head far from all their others."""

from __future__ import annotations

import pytest
from shapely.geometry import Point

from nightwater.ground.rules import station_heads_far_apart as rule


@pytest.mark.parametrize(("x", "told"), [(102.0, False), (106.0, True)])
def test_pair_far_apart(make, small, codes, x, told):
    """2.2 times the spacing of 20 m: 44 m."""
    small["heads"]["F2"]["geometry"] = Point(x, 0)
    found = codes(make(small))
    assert ("station-heads-far-apart" in found) is told


def test_a_long_row_is_not_far_apart(make, small, codes):
    """Each head of a zone has a neighbour, though its ends are far from each other."""
    for number in range(3, 8):
        row = dict(small["heads"]["F1"])
        row |= {"geometry": Point(40 + 20 * number, 0), "label": f"F{number}"}
        small["heads"][f"F{number}"] = row
    small["stations"]["S1"] |= {"heads_listed": 7, "flow_listed_l_s": 11.9}
    assert codes(make(small)) == {}


def test_without_declared_spacing_50_m_count(small, subjects):
    for name in ("F1", "F2"):
        small["heads"][name] |= {"spacing_m": None}
    small["heads"]["F2"]["geometry"] = Point(109, 0)
    assert subjects(rule, small) == []
    small["heads"]["F2"]["geometry"] = Point(111, 0)
    assert subjects(rule, small) == ["stations:S1"]
