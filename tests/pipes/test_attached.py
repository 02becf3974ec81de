"""Points on stretches of pipe: which, where, and which node is nearer."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point

from nightwater.pipes.attached import attach, nodes_of
from nightwater.pipes.joints import stretches_of

LINES = np.array([LineString([(0, 0), (100, 0)]), LineString([(50, 0), (50, 40)])], dtype=object)
NOBODY = np.array([], dtype=object)


def points(*places: tuple[float, float]) -> np.ndarray:
    return np.array([Point(place) for place in places], dtype=object)


def test_a_point_stands_on_the_nearest_stretch_within_reach() -> None:
    stretches = stretches_of(LINES, NOBODY)
    found = attach(stretches, points((20, 2), (52, 30), (20, 9)), 5.0)
    assert found.row.tolist() == [0, 1]
    assert found.distance_m.tolist() == pytest.approx([2.0, 2.0])
    assert found.along_m.tolist() == pytest.approx([20.0, 30.0])
    assert stretches.pipe[found.stretch].tolist() == [0, 1]


def test_a_missing_or_empty_point_stands_nowhere() -> None:
    places = np.array([None, shapely.Point(), Point(10, 0)], dtype=object)
    assert attach(stretches_of(LINES, NOBODY), places, 5.0).row.tolist() == [2]


def test_no_points_are_no_rows() -> None:
    found = attach(stretches_of(LINES, NOBODY), NOBODY, 5.0)
    assert len(found.row) == len(found.along_m) == 0


def test_the_nearer_end_is_the_node() -> None:
    stretches = stretches_of(LINES, NOBODY)
    found = attach(stretches, points((10, 0), (45, 0)), 5.0)
    low, high = nodes_of(found, stretches)
    (first,) = set(found.stretch.tolist())
    assert (low, high) == (stretches.start[first], stretches.end[first])


def test_the_joint_is_the_same_node_from_both_pipes() -> None:
    stretches = stretches_of(LINES, NOBODY)
    from_main, from_branch = nodes_of(attach(stretches, points((49, 0), (50, 2)), 5.0), stretches)
    assert from_main == from_branch
