"""`spacing-differs`: heads whose measured neighbour is nowhere near the declared spacing."""

from __future__ import annotations

import pytest
from shapely.geometry import Point

from nightwater.ground.rules import spacing_differs as rule


@pytest.mark.parametrize(("x", "told"), [(74.0, False), (72.0, True), (89.0, False), (91.0, True)])
def test_measured_against_declared(make, small, codes, x, told):
    """Declared 20 m; between 0.65 and 1.5 of it is what rows and curves do."""
    small["heads"]["F2"]["geometry"] = Point(x, 0)
    found = codes(make(small))
    assert ("spacing-differs" in found) is told
    if told:
        assert {f.subject for f in found["spacing-differs"]} == {"heads:F1", "heads:F2"}


def test_a_head_alone_in_its_area_has_no_neighbour(make, small, codes):
    del small["heads"]["R2"], small["stations"]["S3"]
    assert codes(make(small)) == {}


def test_another_nozzle_is_another_pattern(make, small, codes):
    small["heads"]["R2"] |= {"geometry": Point(64, 30), "nozzle": "small", "spacing_m": 15.0}
    small["stations"]["S3"]["flow_listed_l_s"] = 0.9
    assert "spacing-differs" not in codes(make(small))


def test_the_message_says_both_distances(small, told):
    small["heads"]["F2"]["geometry"] = Point(91, 0)
    (one, _) = told(rule, small)
    assert "declares 20.0 m to the next head; the nearest of its kind stands 31.0 m" in one.message
