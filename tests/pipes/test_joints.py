"""Where pipes join, and how they are cut there."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiLineString, Point

from nightwater.pipes.joints import JOINT_M, Stretches, stretches_of

NOTHING = np.array([], dtype=object)


def cut(*lines: object, feeds: object = NOTHING) -> Stretches:
    return stretches_of(np.array(lines, dtype=object), np.array(feeds, dtype=object))


def lengths(stretches: Stretches, pipe: int) -> list[float]:
    mine = stretches.lines[stretches.pipe == pipe]
    return sorted(round(float(x), 6) for x in shapely.length(mine))


def test_two_pipes_end_to_end_share_one_node() -> None:
    found = cut(LineString([(0, 0), (10, 0)]), LineString([(10, 0), (10, 5)]))
    assert found.nodes == 3
    assert found.end[0] == found.start[1]


@pytest.mark.parametrize(("gap_m", "nodes"), [(0.0, 3), (0.49, 3), (0.51, 4)])
def test_ends_join_within_half_a_metre(gap_m: float, nodes: int) -> None:
    assert cut(LineString([(0, 0), (10, 0)]), LineString([(10 + gap_m, 0), (20, 0)])).nodes == nodes


@pytest.mark.parametrize(("gap_m", "pieces"), [(0.0, [4.0, 6.0]), (0.4, [4.0, 6.0]), (0.6, [10.0])])
def test_an_end_on_another_pipe_cuts_it(gap_m: float, pieces: list[float]) -> None:
    found = cut(LineString([(0, 0), (10, 0)]), LineString([(4, gap_m), (4, 9)]))
    assert lengths(found, 0) == pieces
    assert lengths(found, 1) == [pytest.approx(9 - gap_m)]


def test_pipes_that_only_cross_do_not_join() -> None:
    found = cut(LineString([(0, 0), (10, 0)]), LineString([(5, -5), (5, 5)]))
    assert len(found.lines) == 2
    assert found.nodes == 4


def test_a_feed_on_a_pipe_cuts_it() -> None:
    found = cut(LineString([(0, 0), (10, 0)]), feeds=[Point(3, 0.1)])
    assert lengths(found, 0) == [3.0, 7.0]


def test_an_end_beside_the_end_of_another_does_not_cut_a_crumb_off() -> None:
    found = cut(LineString([(0, 0), (10, 0)]), LineString([(9.7, 0.2), (20, 5)]))
    assert lengths(found, 0) == [10.0]
    assert found.nodes == 3


def test_cuts_follow_the_bends_of_a_pipe() -> None:
    bent = LineString([(0, 0), (10, 0), (10, 10)])
    found = cut(bent, LineString([(10, 4), (30, 4)]))
    assert lengths(found, 0) == [6.0, 14.0]
    long = found.lines[found.pipe == 0][0]
    assert list(long.coords) == [(0, 0), (10, 0), (10, 4)]


def test_parts_of_one_pipe_keep_its_row() -> None:
    found = cut(MultiLineString([[(0, 0), (5, 0)], [(5, 0), (5, 5)]]), LineString([(9, 9), (8, 8)]))
    assert found.pipe.tolist() == [0, 0, 1]


def test_missing_empty_and_pointlike_pipes_have_no_stretch() -> None:
    found = cut(None, MultiLineString(), LineString([(1, 1), (1, 1)]), LineString([(0, 0), (9, 0)]))
    assert found.pipe.tolist() == [3]


def test_a_ring_closes_on_itself() -> None:
    ring = LineString([(0, 0), (10, 0), (10, 10), (0, 10), (0, 0)])
    found = cut(ring)
    assert found.start[0] == found.end[0]
    assert found.nodes == 1


places = st.integers(0, 12).map(float)
segments = st.tuples(places, places, places, places).filter(lambda s: s[:2] != s[2:])


@given(st.lists(segments, min_size=1, max_size=8))
def test_cutting_loses_no_length_and_every_piece_has_two_nodes(
    given_segments: list[tuple[float, float, float, float]],
) -> None:
    lines = np.array([LineString([s[:2], s[2:]]) for s in given_segments], dtype=object)
    found = stretches_of(lines, NOTHING)
    total = [shapely.length(found.lines[found.pipe == row]).sum() for row in range(len(lines))]
    assert total == pytest.approx(shapely.length(lines).tolist())
    assert set(found.start) | set(found.end) == set(range(found.nodes))


@given(st.lists(segments, min_size=1, max_size=6))
def test_no_end_stays_unjoined_on_another_pipe(
    given_segments: list[tuple[float, float, float, float]],
) -> None:
    lines = np.array([LineString([s[:2], s[2:]]) for s in given_segments], dtype=object)
    found = stretches_of(lines, NOTHING)
    ends = shapely.get_point(lines, -1)
    inner = shapely.line_locate_point(found.lines[:, None], ends[None, :])
    length = shapely.length(found.lines)[:, None]
    on = shapely.distance(found.lines[:, None], ends[None, :]) < 1e-6
    # Nothing joins in the middle of a stretch: there it would have been cut.
    assert not (on & (inner > JOINT_M + 1e-6) & (inner < length - JOINT_M - 1e-6)).any()
