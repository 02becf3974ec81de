"""The course's wetting matrix: kept between questions, built again where heads changed."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from nightwater.desk import editing
from nightwater.desk.course import Course, open_course
from nightwater.desk.wetting import wetting
from nightwater.findings import UserError
from nightwater.spray.wind import Wind

NOW = datetime(2026, 7, 14, 21, tzinfo=UTC)


def test_stations_lay_what_their_heads_lay(course: Course) -> None:
    steps: list[str] = []
    found = wetting(course, 1.0, steps.append)
    assert steps[0] == "turf to cells"
    assert f"{len(found.patterns)} heads" in steps[1]
    assert found.matrix.rate_mm_min.shape == (len(found.grid), len(found.patterns))
    station = found.stations[0]
    heads = course.ground.heads["station"].reindex(found.matrix.heads).to_numpy() == station
    alone = np.asarray(found.matrix.rate_mm_min[:, heads].sum(axis=1)).ravel()
    depth = found.depth_mm({station: 10.0, "no such station": 99.0})
    assert depth == pytest.approx(10 * alone, rel=1e-5, abs=1e-6)
    assert depth.max() > 0
    assert (found.depth_mm({}) == 0).all()


def test_after_an_edit_only_its_head_differs(course: Course) -> None:
    before = wetting(course)
    head = str(before.matrix.heads[0])
    operation = [
        {"op": "set", "table": "heads", "ids": [head], "values": {"measured_radius_m": 9.0}}
    ]
    editing.save(course, operation, {}, who="Ines", why="a test", now=NOW)
    with open_course(course.path) as again:
        after = wetting(again)
    changed = [a != b for a, b in zip(before.matrix.keys, after.matrix.keys, strict=True)]
    assert changed == [name == head for name in before.matrix.heads]
    differing = (before.matrix.rate_mm_min != after.matrix.rate_mm_min).tocsc()
    assert np.flatnonzero(np.diff(differing.indptr)).tolist() == [0]


def test_wind_and_still_air_are_kept_apart(course: Course) -> None:
    still, windy = wetting(course), wetting(course, wind=Wind(5.0, 270.0))
    assert not set(still.matrix.keys) & set(windy.matrix.keys)
    assert (still.matrix.rate_mm_min != windy.matrix.rate_mm_min).nnz > 0
    again = wetting(course)
    assert again.matrix.keys == still.matrix.keys
    assert (again.matrix.rate_mm_min != still.matrix.rate_mm_min).nnz == 0


def test_a_storm_is_told(course: Course) -> None:
    assert "wind-beyond-model" not in [one.code for one in wetting(course).findings]
    stormy = wetting(course, wind=Wind(12.0, 270.0))
    assert "wind-beyond-model" in [one.code for one in stormy.findings]


def test_a_cell_that_is_not_offered(course: Course) -> None:
    with pytest.raises(UserError, match=r"A cell of 5 m is not offered"):
        wetting(course, 5.0)
