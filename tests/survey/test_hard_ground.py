"""Paths and buildings out of open map data: by tags, by width, and only where heads reach.

Drawn about one place at 39.2° north, in metres of the record's own system, then turned into
degrees, so every expected area is plain arithmetic.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import shapely
from pyproj import Transformer
from shapely.geometry import LineString, Polygon, box, mapping

from nightwater.findings import UserError
from nightwater.ground.tables import TABLES
from nightwater.survey.hard_ground import hard_kinds, tagged_width_m, told_width_m
from nightwater.survey.read import ReadOptions, SurveyRows, read_table

CRS = "EPSG:32612"
EAST, NORTH = 413_000.0, 4_340_000.0
TO_DEGREES = Transformer.from_crs(CRS, "EPSG:4326", always_xy=True)


def degrees(shape: Any) -> Any:
    return shapely.transform(
        shape,
        lambda xy: np.column_stack(TO_DEGREES.transform(EAST + xy[:, 0], NORTH + xy[:, 1])),
    )


def feature(key: str, shape: Any, **tags: str) -> dict[str, Any]:
    geometry = mapping(degrees(shape))
    return {"type": "Feature", "id": key, "properties": tags, "geometry": geometry}


def read(tmp_path: Path, *features: dict[str, Any], **said: Any) -> SurveyRows:
    path = tmp_path / "course.geojson"
    fairway = feature("fairway", box(0, 0, 100, 40), golf="fairway")
    whole = {"type": "FeatureCollection", "features": [fairway, *features]}
    path.write_text(json.dumps(whole))
    return read_table(path, TABLES["areas"], CRS, ReadOptions(**said))


def kinds(survey: SurveyRows) -> dict[str, str]:
    found = survey.rows["kind"].to_dict()
    assert found.pop("fairway") == "fairway"
    return found


def codes(survey: SurveyRows) -> list[str]:
    return [finding.code for finding in survey.findings]


@pytest.mark.parametrize(
    ("said", "width_m"),
    [
        ("2.5", 2.5),
        ("2.5 m", 2.5),
        ("3m", 3.0),
        ("2,5", 2.5),
        ("8'", 8 * 0.3048),
        ("8 ft", 8 * 0.3048),
        ("7'6\"", 7.5 * 0.3048),
        ("narrow", None),
        ("2-3", None),
        ("0", None),
        ("250", None),
        ("", None),
        (None, None),
        (float("nan"), None),
    ],
)
def test_a_tagged_width_is_metres_or_says_feet(said: Any, width_m: float | None) -> None:
    assert tagged_width_m(said) == (None if width_m is None else pytest.approx(width_m))


@pytest.mark.parametrize(("said", "width_m"), [("2.4m", 2.4), ("8 ft", 2.4384), ("3 yd", 2.7432)])
def test_a_person_says_a_width_with_its_unit(said: str, width_m: float) -> None:
    assert told_width_m(said) == pytest.approx(width_m)


@pytest.mark.parametrize("said", ["2.4", "wide", "2.4 gpm", "2.4 ells", "-2 m", "0m", "25m"])
def test_a_width_without_a_unit_or_beyond_any_path_is_refused(said: str) -> None:
    with pytest.raises(UserError, match=r"width|unit"):
        told_width_m(said)


def test_tags_tell_paths_and_buildings() -> None:
    tags = [
        ({"golf": "cartpath"}, "path"),
        ({"golf": "path"}, "path"),
        ({"highway": "footway"}, "path"),
        ({"highway": "motorway"}, None),
        ({"golf": "hole", "highway": "path"}, None),
        ({"building": "yes"}, "building"),
        ({"building": "no"}, None),
        ({"golf": "clubhouse", "building": "yes"}, "building"),
        ({"golf": "clubhouse"}, None),
        ({"golf": "green"}, None),
    ]
    cells = pd.DataFrame([given for given, _ in tags], dtype=object)
    assert hard_kinds(cells).tolist() == [kind for _, kind in tags]


@pytest.mark.parametrize("key", ["width", "est_width"])
def test_a_line_takes_the_ground_of_its_tagged_width(tmp_path: Path, key: str) -> None:
    """50 m long, 2.5 m wide, flat ends: 125 m²; over a degree's length right within 0.6 %."""
    path = feature("p", LineString([(10, 20), (60, 20)]), golf="cartpath", **{key: "2.5"})
    survey = read(tmp_path, path, path_width_m=9.0)
    assert kinds(survey) == {"p": "path"}
    shape = survey.rows.geometry["p"]
    assert shape.area == pytest.approx(125.0, rel=0.006)
    assert shape.geom_type == "MultiPolygon"
    wanted = box(EAST + 10, NORTH + 18.75, EAST + 60, NORTH + 21.25)
    assert shape.symmetric_difference(wanted).area < 1.5
    assert codes(survey) == []


def test_a_line_without_a_width_is_left_aside_and_asked_for(tmp_path: Path) -> None:
    path = feature("p", LineString([(10, 20), (60, 20)]), golf="cartpath")
    survey = read(tmp_path, path)
    assert kinds(survey) == {}
    (asked,) = (f for f in survey.findings if f.code == "path-without-width")
    assert "1 paths are lines that say no width" in asked.message
    assert "--path-width" in asked.fix
    told = read(tmp_path, path, path_width_m=3.0)
    assert told.rows.geometry["p"].area == pytest.approx(150.0, rel=0.006)
    assert codes(told) == []


def test_a_closed_path_is_a_line_around_something_unless_it_is_tagged_an_area(
    tmp_path: Path,
) -> None:
    """A square of 20 m around a tee: its line of 2 m covers 22² − 18² = 160 m²."""
    square = Polygon([(10, 10), (30, 10), (30, 30), (10, 30)])
    around = feature("p", square, golf="path", width="2")
    yard = feature("q", square, highway="pedestrian", area="yes")
    rows = read(tmp_path, around, yard).rows
    # rounded corners lack (1 − π/4) m² each, the cut at the start a square metre
    assert 157.0 < rows.geometry["p"].area < 161.0
    assert not rows.geometry["p"].contains(shapely.Point(EAST + 20, NORTH + 20))
    assert rows.geometry["q"].area == pytest.approx(400.0, rel=1e-6)


def test_what_no_head_reaches_stays_outside(tmp_path: Path) -> None:
    """The fairway ends 100 m east: 38 m beyond it is near, 42 m is the village."""
    survey = read(
        tmp_path,
        feature("near", box(138, 0, 150, 10), building="house"),
        feature("far", box(142, 0, 150, 10), building="house"),
        feature("lane", LineString([(150, 0), (150, 90)]), highway="footway", width="2"),
        feature("cart", LineString([(350, 0), (350, 90)]), golf="cartpath", width="2"),
    )
    assert kinds(survey) == {"near": "building", "cart": "path"}
    (skipped,) = (f.message for f in survey.findings if f.code == "features-skipped")
    assert "2 features" in skipped


def test_a_building_in_feet_of_a_state_plane_is_as_near(tmp_path: Path) -> None:
    """The same course in US survey feet: reach and width stay metres."""
    feet = Transformer.from_crs(CRS, "EPSG:3560", always_xy=True)  # Utah north, US survey feet

    def in_feet(shape: Any) -> Any:
        return shapely.transform(
            shape,
            lambda xy: np.column_stack(feet.transform(EAST + xy[:, 0], NORTH + xy[:, 1])),
        )

    rows = [
        ("fairway", box(0, 0, 100, 40), {"golf": "fairway"}),
        ("near", box(138, 0, 150, 10), {"building": "yes"}),
        ("far", box(142, 0, 150, 10), {"building": "yes"}),
        ("p", LineString([(10, 20), (60, 20)]), {"golf": "path", "width": "2.5"}),
    ]
    whole = {
        "type": "FeatureCollection",
        "crs": {"type": "name", "properties": {"name": "urn:ogc:def:crs:EPSG::3560"}},
        "features": [
            {"type": "Feature", "id": k, "properties": t, "geometry": mapping(in_feet(s))}
            for k, s, t in rows
        ],
    }
    path = tmp_path / "feet.geojson"
    path.write_text(json.dumps(whole))
    survey = read_table(path, TABLES["areas"], CRS, ReadOptions())
    assert kinds(survey) == {"near": "building", "p": "path"}
    assert survey.rows.geometry["p"].area == pytest.approx(125.0, rel=0.002)
