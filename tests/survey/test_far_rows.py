"""Swapped axes, wrong signs, wrong systems: told with the distance, tried out, never applied."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import pytest
import shapely
from pyproj import CRS, Geod, Transformer
from shapely.geometry import Point

from nightwater.desk.course import open_course
from nightwater.desk.surveying import survey_file
from nightwater.findings import Finding, Severity, UserError
from nightwater.ground.record import conform, ground_from
from nightwater.ground.tables import TABLES
from nightwater.survey.far_rows import check_degrees, elsewhere, in_degrees
from nightwater.survey.propose import propose, to_changes
from nightwater.survey.read import ReadOptions, SurveyRows, read_table

UTM = "EPSG:32612"
NEAR = (39.2, -112.0)
HERE = [(-112 + n * 1e-3, 39.2 + n * 1e-3) for n in range(5)]
DEGREES = CRS("EPSG:4326")


def table_of(tmp_path: Path, spots: list[tuple[float, float]], header: str = "lon,lat") -> Path:
    path = tmp_path / "heads.csv"
    lines = [f"H{n},{x},{y}" for n, (x, y) in enumerate(spots)]
    path.write_text("\n".join([f"id,{header}", *lines]))
    return path


def read(path: Path, **said: Any) -> SurveyRows:
    return read_table(path, TABLES["heads"], UTM, ReadOptions(near=NEAR, **said))


def far(survey: SurveyRows) -> list[Finding]:
    return [finding for finding in survey.findings if finding.code == "far-from-course"]


def test_rows_on_the_course_are_not_spoken_of(tmp_path: Path) -> None:
    survey = read(table_of(tmp_path, HERE))
    assert (survey.findings, survey.far) == ((), frozenset())


@pytest.mark.parametrize(
    ("x", "y", "words"),
    [
        (-1, 1, "the longitude's sign turned"),
        (1, -1, "the latitude's sign turned"),
        (-1, -1, "both signs turned"),
    ],
)
def test_a_wrong_sign_is_suggested(tmp_path: Path, x: int, y: int, words: str) -> None:
    spots = [(lon * x, lat * y) for lon, lat in HERE]
    survey = read(table_of(tmp_path, spots))
    (told,) = far(survey)
    assert told.severity is Severity.ERROR
    true_km = Geod(ellps="WGS84").inv(*spots[2], NEAR[1], NEAR[0])[2] / 1000
    assert f"5 of 5 rows lie {true_km:,.0f} km from the course" in told.message
    assert f"With {words} they would lie 0.3 km from it." in told.message or (
        f"With {words} they would lie 0.2 km from it." in told.message
    )


def test_swapped_degrees_are_suggested_where_they_exist() -> None:
    near = (43.4, 28.2)  # where the latitude of the one is a longitude of the other
    shapes = [Point(43.4 + n * 1e-3, 28.2) for n in range(4)]
    found = elsewhere(shapes, DEGREES, near, "x.csv")
    assert found.rows == {0, 1, 2, 3}
    assert "With latitude and longitude swapped they would lie 0." in found.findings[0].message


def test_swapped_metres_are_suggested() -> None:
    to_metres = Transformer.from_crs(4326, 32612, always_xy=True)
    shapes = [Point(*to_metres.transform(*spot)[::-1]) for spot in HERE]
    found = elsewhere(shapes, CRS(UTM), NEAR, "x.csv")
    assert "With east and north swapped they would lie" in found.findings[0].message


def test_a_wrong_zone_is_told_without_a_suggestion(tmp_path: Path) -> None:
    to_metres = Transformer.from_crs(4326, 32612, always_xy=True)
    path = table_of(tmp_path, [to_metres.transform(*spot) for spot in HERE], "x,y")
    assert not far(read(path, crs=UTM))
    (told,) = far(read(path, crs="EPSG:32613"))
    assert "5 of 5 rows lie 518 km from" in told.message
    assert "With" not in told.message


@pytest.mark.parametrize(("away_km", "told"), [(0, 0), (49, 0), (51, 1), (9000, 1)])
def test_fifty_kilometres_are_the_limit(away_km: float, told: int) -> None:
    lon, lat, _ = Geod(ellps="WGS84").fwd(NEAR[1], NEAR[0], 80, away_km * 1000)
    found = elsewhere([Point(lon, lat), *map(Point, HERE)], DEGREES, NEAR, "x.csv")
    assert len(found.findings) == told
    assert found.rows == ({0} if told else set())
    if told:
        assert f"1 of 6 rows lie {away_km:,.0f} km" in found.findings[0].message


def test_a_row_without_place_is_nowhere() -> None:
    nowhere = [None, Point(), Point(math.nan, 1), Point(math.inf, 1), shapely.Polygon()]
    assert elsewhere(nowhere, DEGREES, NEAR, "x").rows == frozenset()
    assert elsewhere([], DEGREES, NEAR, "x").rows == frozenset()
    check_degrees(nowhere[:2], DEGREES, "x")


def test_without_a_place_nothing_is_told(tmp_path: Path) -> None:
    path = table_of(tmp_path, [(-110.0, 39.2)])
    survey = read_table(path, TABLES["heads"], UTM, ReadOptions())
    assert survey.findings == ()


def test_rows_far_away_wait_for_a_person(tmp_path: Path) -> None:
    spots = [*HERE, (-110.0, 39.2), (-110.001, 39.2)]
    path = table_of(tmp_path, spots)
    proposal = propose(ground_from(UTM, {}), TABLES["heads"], read(path))
    assert sorted(proposal.added) == [f"H{n}" for n in range(5)]
    assert sorted(proposal.doubtful) == ["H5", "H6"]
    assert [f.code for f in proposal.findings] == ["far-from-course"]
    assert len(to_changes(proposal, include_doubtful=False).rows) == 5


def test_a_known_row_that_jumps_away_waits_too(tmp_path: Path) -> None:
    first = read(table_of(tmp_path, HERE))
    record = ground_from(UTM, {"heads": conform(first.rows, TABLES["heads"], UTM)})
    again = read(table_of(tmp_path, [*HERE[:4], (-110.0, 39.2)]))
    proposal = propose(record, TABLES["heads"], again)
    assert list(proposal.doubtful) == ["H4"]
    assert not proposal.changed


def test_made_up_ids_stay_with_their_rows(tmp_path: Path) -> None:
    taken = read(table_of(tmp_path, HERE[1:2]))
    path = tmp_path / "heads.csv"
    path.write_text("lon,lat\n-110.0,39.2\n-112.0,39.2\n")
    known = taken.rows.rename(index={"H0": "head-0001"})
    record = ground_from(UTM, {"heads": conform(known, TABLES["heads"], UTM)})
    proposal = propose(record, TABLES["heads"], read(path))
    assert len(proposal.doubtful) == 1
    (change,) = proposal.doubtful.values()
    assert change.after is not None
    assert change.after["geometry"].x > 500_000  # the one at 110 degrees west


@pytest.mark.parametrize(
    ("spots", "words"),
    [
        ([(y, x) for x, y in HERE], "longitude 39.2, latitude -112. Latitude and longitude look"),
        (
            [(413_000.0, 4_340_000.0)],
            "longitude 413000, latitude 4.34e\\+06. They look like metres",
        ),
        (
            [(200.0, 10.0)],
            "1 of 1 rows lie at degrees that do not exist.*Count longitudes from -180",
        ),
    ],
)
def test_degrees_that_do_not_exist_refuse_the_file(
    tmp_path: Path, spots: list[tuple[float, float]], words: str
) -> None:
    with pytest.raises(UserError, match=words):
        read(table_of(tmp_path, spots))


def test_one_row_of_many_with_impossible_degrees_is_a_bad_row(tmp_path: Path) -> None:
    survey = read(table_of(tmp_path, [*HERE, (39.2, -112.0), (-248.0, 39.2)]))
    assert survey.refused == {"H5", "H6"}
    bad = [f.message for f in survey.findings if f.code == "bad-row"]
    assert all("beyond ±180 of longitude or ±90 of latitude" in message for message in bad)


def test_the_edges_of_the_globe_exist() -> None:
    check_degrees([Point(180, 90), Point(-180, -90)], DEGREES, "x")
    with pytest.raises(UserError):
        check_degrees([Point(180.001, 0)], DEGREES, "x")


@pytest.mark.parametrize(
    ("system", "degrees"),
    [("EPSG:4326", True), ("EPSG:4269", True), (UTM, False), ("EPSG:4807", False)],
)
def test_only_systems_in_degrees_are_held_to_degrees(system: str, degrees: bool) -> None:
    """EPSG:4807 (Paris) measures in grads, of which a circle has 400."""
    assert in_degrees(CRS(system)) is degrees


def test_a_survey_knows_where_its_course_lies(small_course: Path, tmp_path: Path) -> None:
    """The deed gives the reader the course's latitude and longitude."""
    with open_course(small_course) as course:
        site = course.settings.site
        there = (-site.longitude_deg, site.latitude_deg)
        path = table_of(tmp_path, [there])
        proposal = survey_file(course, path, "heads", ReadOptions(), complete=False)
    (told,) = [f for f in proposal.findings if f.code == "far-from-course"]
    assert "With the longitude's sign turned they would lie 0.0 km from it" in told.message
    assert not proposal.added
