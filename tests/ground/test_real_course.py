"""Two real 18-hole courses of open map data, read through the survey."""

from __future__ import annotations

import os
from collections import Counter
from pathlib import Path

import pytest
import shapely

from nightwater.findings import Severity
from nightwater.ground.checks import check_ground
from nightwater.ground.links import area_holes, net_area_m2
from nightwater.ground.play import backward_lines
from nightwater.ground.record import ground_from
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


def surveyed(name):
    file, crs, outline = COURSES[name]
    options = ReadOptions(within=outline)
    path = Path(str(DATA)) / "golf" / file
    rows = {
        table: read_table(path, TABLES[table], crs, options).rows for table in ("areas", "holes")
    }
    return ground_from(crs, rows)


@pytest.fixture(scope="module")
def cliffs():
    return surveyed("cliffs")


@pytest.fixture(scope="module")
def plain():
    return surveyed("plain")


def test_holes_get_their_numbers_where_names_carry_them(cliffs, plain):
    assert sorted(cliffs.holes["number"]) == list(range(1, 19))
    assert plain.holes["number"].isna().all()
    codes = Counter(finding.code for finding in check_ground(plain))
    assert codes["hole-without-number"] == 18


def test_three_lines_are_drawn_from_green_to_tee(cliffs):
    """Their ends lie 22, 44 and 65 m from any green: they begin on one."""
    backwards = backward_lines(cliffs)
    assert sorted(cliffs.holes["number"][backwards]) == [9, 12, 14]
    told = [f.subject for f in check_ground(cliffs) if f.code == "hole-line-backwards"]
    assert told == [f"holes:{identity}" for identity in backwards.index[backwards]]


@pytest.mark.parametrize("name", COURSES)
def test_every_hole_has_one_green_and_its_tees(name, request):
    course = request.getfixturevalue(name)
    holes = area_holes(course).groupby(course.areas["kind"])
    greens, tees = holes.get_group("green"), holes.get_group("tee")
    assert len(greens) == 21
    assert sorted(greens.dropna()) == sorted(course.holes.index)
    assert set(tees.dropna()) == set(course.holes.index)
    assert tees.isna().sum() <= 2
    assert set(holes.get_group("fairway")) == set(course.holes.index)


@pytest.mark.parametrize("name", COURSES)
def test_greens_inside_fairways_are_not_counted_twice(name, request):
    course = request.getfixturevalue(name)
    net = net_area_m2(course)
    shapes = shapely.make_valid(course.areas.geometry.to_numpy())
    assert net.sum() == pytest.approx(shapely.union_all(shapes).area, rel=1e-9)
    gross = course.areas.area.groupby(course.areas["kind"]).sum()
    kinds = net.groupby(course.areas["kind"]).sum()
    assert kinds["green"] == pytest.approx(gross["green"])
    assert kinds["fairway"] < gross["fairway"] - 1000.0


@pytest.mark.parametrize("name", COURSES)
def test_doubts_are_few_and_none_is_an_error(name, request):
    found = check_ground(request.getfixturevalue(name))
    assert not [f for f in found if f.severity is Severity.ERROR]
    unsaid = {"hole-without-number", "area-without-soil", "area-without-grass"}
    assert len([f for f in found if f.code not in unsaid]) <= 6
    assert [f.subject for f in found if f.code == "area-without-soil"] == ["areas:*"]
