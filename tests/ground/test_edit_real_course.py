"""Edits on two real courses of open map data: every outline cut, joined, moved and taken back."""

from __future__ import annotations

import os
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
import shapely
from shapely.geometry import LineString, mapping

from nightwater.findings import UserError
from nightwater.ground.differences import changes_between, with_changes
from nightwater.ground.edits.merge import merge
from nightwater.ground.edits.move import move
from nightwater.ground.edits.pieces import area_pieces
from nightwater.ground.edits.reshape import reshape
from nightwater.ground.edits.split import split
from nightwater.ground.record import Ground, ground_from
from nightwater.ground.tables import TABLES
from nightwater.survey.read import ReadOptions, read_table

DATA = os.environ.get("NIGHTWATER_DATA")
pytestmark = pytest.mark.skipif(
    DATA is None, reason="NIGHTWATER_DATA is not set: no real course to read"
)
COURSES = {
    "cliffs": ("BG.geojson", "EPSG:32635", "Thracian Cliffs Golf And Beach Resort"),
    "plain": ("LU.geojson", "EPSG:32631", "Golf Club Grand Ducal"),
}


@pytest.fixture(scope="module", params=COURSES)
def course(request: Any) -> Ground:
    file, crs, outline = COURSES[request.param]
    path, options = Path(str(DATA)) / "golf" / file, ReadOptions(within=outline)
    tables = ("areas", "holes")
    rows = {name: read_table(path, TABLES[name], crs, options).rows for name in tables}
    return ground_from(crs, rows)


def across(shape: Any) -> LineString:
    """A line through the middle, over the shorter way of a shape, well beyond its edges."""
    box = shapely.get_coordinates(shapely.oriented_envelope(shape))
    sides = sorted(pairwise(box), key=lambda s: shapely.LineString(s).length)
    (a, b), (c, d) = sides[2], sides[3]
    one, other = (a + b) / 2, (c + d) / 2
    return LineString([one + (one - other), other + (other - one)])


def test_every_area_is_cut_and_joined_to_the_same_ground(course: Ground) -> None:
    cut = 0
    for shape in course.areas.geometry:
        try:
            pieces = area_pieces(shape, across(shape))
        except UserError as why:
            assert "would cut off" in str(why)  # noqa: PT017 - a slip along an edge is refused
            continue
        parts = [pieces.kept, *pieces.others]
        assert shapely.is_valid(parts).all()
        together = shapely.union_all(parts)
        assert together.area == pytest.approx(shape.area, abs=1e-6)
        assert shapely.symmetric_difference(together, shape).area < 1e-6
        cut += 1
    assert cut >= 0.95 * len(course.areas)


def test_the_largest_area_goes_through_split_and_merge(course: Ground) -> None:
    area = str(course.areas.geometry.area.idxmax())
    shape = course.areas.geometry[area]
    line = [(float(x), float(y)) for x, y in shapely.get_coordinates(across(shape))]
    after = split(course, "areas", area, line)
    new = [identity for identity in after.areas.index if identity not in course.areas.index]
    assert new
    whole = merge(after, "areas", [area, *new])
    assert list(whole.areas.index) == list(course.areas.index)
    assert whole.areas.geometry[area].area == pytest.approx(shape.area, abs=1e-6)
    changes = changes_between(course, after)
    assert len(changes_between(course, with_changes(after, changes.reversed))) == 0


def test_everything_moves_there_and_back(course: Ground) -> None:
    ids = [str(identity) for identity in course.areas.index]
    there = move(course, "areas", ids, 12.5, -7.25)
    assert there.areas.geometry.area.to_numpy() == pytest.approx(
        course.areas.geometry.area.to_numpy(), abs=1e-6
    )
    back = move(there, "areas", ids, -12.5, 7.25)
    apart = shapely.hausdorff_distance(
        back.areas.geometry.to_numpy(), course.areas.geometry.to_numpy()
    )
    assert apart.max() < 1e-8


def test_every_outline_drawn_anew_is_the_same(course: Ground) -> None:
    """What the page gets and sends back as GeoJSON changes nothing."""
    for identity, shape in list(course.areas.geometry.items())[:20]:
        again = reshape(course, "areas", str(identity), mapping(shape))
        assert len(changes_between(course, again)) == 0
