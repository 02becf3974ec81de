"""Open map data: XML and query answers, outlines put together, and what is missing told."""

from __future__ import annotations

import json
import os
import random
from collections import Counter
from pathlib import Path
from typing import Any
from xml.sax.saxutils import quoteattr

import geopandas as gpd
import pytest
import shapely

from nightwater.findings import UserError
from nightwater.ground.tables import TABLES
from nightwater.survey.osm_shapes import is_area
from nightwater.survey.read import ReadOptions, SurveyRows, read_table

CRS = "EPSG:32612"
FOLDER = os.environ.get("NIGHTWATER_DATA")
Row = dict[str, Any]


def node(key: int, x: float, y: float, **tags: str) -> Row:
    return {"type": "node", "id": key, "lon": -112 + x * 1e-3, "lat": 39.2 + y * 1e-3, "tags": tags}


def way(key: int, nodes: list[int], **tags: str) -> Row:
    return {"type": "way", "id": key, "nodes": nodes, "tags": tags}


def relation(key: int, members: list[tuple[str, int]], **tags: str) -> Row:
    return {
        "type": "relation",
        "id": key,
        "tags": {"type": "multipolygon", **tags},
        "members": [{"type": "way", "ref": ref, "role": role} for role, ref in members],
    }


def grid(n: int = 6) -> list[Row]:
    """Nodes 100·x + y on a grid of n by n, from 1, 1."""
    return [node(100 * x + y, x, y) for x in range(1, n + 1) for y in range(1, n + 1)]


def as_markup(elements: list[Row]) -> str:
    lines = ["<?xml version='1.0'?><osm version='0.6'>"]
    for row in elements:
        place = f' lon="{row["lon"]}" lat="{row["lat"]}"' if row["type"] == "node" else ""
        lines.append(f'<{row["type"]} id="{row["id"]}"{place}>')
        lines += [f'<nd ref="{ref}"/>' for ref in row.get("nodes", ())]
        lines += [
            f'<member type="{m["type"]}" ref="{m["ref"]}" role="{m["role"]}"/>'
            for m in row.get("members", ())
        ]
        lines += [f"<tag k={quoteattr(k)} v={quoteattr(v)}/>" for k, v in row["tags"].items()]
        lines.append(f"</{row['type']}>")
    return "\n".join([*lines, "</osm>"])


def drawn(elements: list[Row]) -> list[Row]:
    """The same as a query with geometry answers: no bare nodes, places on ways and members."""
    spots = {e["id"]: {"lat": e["lat"], "lon": e["lon"]} for e in elements if e["type"] == "node"}
    ways = {e["id"]: [spots.get(ref) for ref in e["nodes"]] for e in elements if e["type"] == "way"}
    answer = []
    for row in elements:
        if row["type"] == "way" and row["tags"]:
            answer.append({**row, "geometry": ways[row["id"]]})
        elif row["type"] == "relation":
            members = [{**m, "geometry": ways.get(m["ref"], [])} for m in row["members"]]
            answer.append({**row, "members": members})
        elif row["type"] == "node" and row["tags"]:
            answer.append(row)
    return answer


def written(tmp_path: Path, elements: list[Row], how: str, **more: Any) -> Path:
    if how == "markup":
        path = tmp_path / "course.osm"
        path.write_text(as_markup(elements), encoding="utf-8")
        return path
    path = tmp_path / "course.json"
    rows = drawn(elements) if how == "drawn" else elements
    path.write_text(json.dumps({"version": 0.6, "elements": rows, **more}))
    return path


def read(path: Path, table: str = "areas", **said: Any) -> SurveyRows:
    return read_table(path, TABLES[table], CRS, ReadOptions(**said))


def messages(survey: SurveyRows, code: str) -> list[str]:
    return [finding.message for finding in survey.findings if finding.code == code]


def degrees(survey: SurveyRows, key: str) -> Any:
    return survey.rows.to_crs("EPSG:4326").geometry[key]


HOW = ["markup", "drawn", "nodes"]
SQUARE = [101, 401, 404, 104, 101]
COURSE = [
    *grid(),
    node(9000, 2.5, 2.5, golf="pin"),
    way(1, SQUARE, golf="green", name="7"),
    way(2, [101, 202, 303], golf="hole", ref="7", par="4"),
    way(3, [404, 504, 604, 606, 404], golf="cartpath", highway="service"),
    way(4, [505, 605, 606, 506, 505], natural="water"),
    way(5, [102, 103]),
]


@pytest.mark.parametrize("how", HOW)
def test_ways_are_areas_and_lines(tmp_path: Path, how: str) -> None:
    path = written(tmp_path, COURSE, how)
    areas, holes = read(path), read(path, "holes")
    assert areas.rows["kind"].to_dict() == {"way/1": "green", "way/4": "water"}
    assert areas.rows["label"]["way/1"] == "7"
    assert degrees(areas, "way/1").bounds == pytest.approx((-111.999, 39.201, -111.996, 39.204))
    assert holes.rows[["number", "par"]].loc["way/2"].tolist() == [7, 4]
    (skipped,) = messages(areas, "features-skipped")
    assert "3 features" in skipped
    assert {"bad-row", "not-drawn"}.isdisjoint(f.code for f in areas.findings)


RING_WAYS = [  # an outline of three ways, two of them against its sense, and a hole of two
    way(11, [101, 301, 501]),
    way(12, [505, 503, 501]),
    way(13, [505, 105, 101]),
    way(14, [202, 402, 404]),
    way(15, [202, 204, 404]),
]
RING = [("outer", 11), ("outer", 12), ("outer", 13), ("inner", 14), ("inner", 15)]


@pytest.mark.parametrize("how", HOW)
@pytest.mark.parametrize("turn", range(4))
def test_outlines_are_put_together_in_any_order(tmp_path: Path, how: str, turn: int) -> None:
    members = RING[:]
    random.Random(turn).shuffle(members)
    rows = [*grid(), *RING_WAYS, relation(5, members, golf="fairway")]
    survey = read(written(tmp_path, rows, how))
    assert survey.rows.index.tolist() == ["relation/5"]
    shape = degrees(survey, "relation/5")
    # 4 x 4 squares of the grid less 2 x 2 inside
    assert shape.area == pytest.approx(12e-6, rel=1e-6)
    assert len(shape.geoms[0].interiors) == 1


@pytest.mark.parametrize("how", HOW)
def test_two_outer_outlines_are_one_row(tmp_path: Path, how: str) -> None:
    rows = [
        *grid(),
        way(21, [101, 201, 202, 102, 101]),
        way(22, [202, 302, 303, 203, 202]),  # touches the first at one node
        relation(6, [("outer", 21), ("", 22)], golf="rough"),
    ]
    shape = degrees(read(written(tmp_path, rows, how)), "relation/6")
    assert len(shape.geoms) == 2
    assert shape.area == pytest.approx(2e-6, rel=1e-6)


@pytest.mark.parametrize("how", HOW)
@pytest.mark.parametrize(
    ("members", "words"),
    [
        (RING[1:], "not closed: it begins at 39.2"),
        (RING[:4], "not closed"),
        (RING[3:], "no outer outline"),
        ([*RING, ("outer", 99)], "does not draw its member way/99"),
        ([*RING, ("inner", 16)], "lies in none of the outer ones"),
    ],
)
def test_an_outline_that_is_not_whole_names_its_relation(
    tmp_path: Path, how: str, members: list[tuple[str, int]], words: str
) -> None:
    outside = way(16, [506, 606, 605, 506])
    rows = [*grid(), *RING_WAYS, outside, relation(5, members, golf="fairway")]
    survey = read(written(tmp_path, rows, how))
    assert survey.rows.empty
    assert survey.refused == {"relation/5"}
    (told,) = messages(survey, "ring-not-closed")
    assert "relation/5 was not read as an area" in told
    assert words in told
    assert not messages(survey, "not-drawn")


def test_a_way_drawn_in_part_is_not_taken_for_the_whole(tmp_path: Path) -> None:
    rows = [row for row in COURSE if row.get("id") != 404]
    survey = read(written(tmp_path, rows, "nodes"))
    assert survey.refused == {"way/1"}
    (told,) = messages(survey, "not-drawn")
    assert "of 2 tagged elements" in told
    assert "the first is way/1" in told
    clipped = drawn(COURSE)
    clipped[1]["geometry"][2] = None
    path = tmp_path / "clipped.json"
    path.write_text(json.dumps({"elements": clipped}))
    assert read(path).refused == {"way/1"}


def test_middles_alone_are_no_geometry(tmp_path: Path) -> None:
    path = tmp_path / "middle.json"
    element = {"type": "way", "id": 1, "center": {"lat": 39.2, "lon": -112}, "tags": {}}
    path.write_text(json.dumps({"elements": [{**element, "tags": {"golf": "green"}}]}))
    survey = read(path)
    assert survey.refused == {"way/1"}
    assert messages(survey, "not-drawn")


def test_a_relation_and_its_outline_with_the_same_tag_are_one_area(tmp_path: Path) -> None:
    ways = [way(31, SQUARE, golf="fairway"), way(32, [202, 302, 303, 202], golf="bunker")]
    rows = [*grid(), *ways, relation(7, [("outer", 31), ("inner", 32)], golf="fairway")]
    survey = read(written(tmp_path, rows, "markup"))
    assert survey.rows["kind"].to_dict() == {"relation/7": "fairway", "way/32": "bunker"}
    assert "1 outer ways" in messages(survey, "outline-twice")[0]


def test_tags_on_the_outer_way_alone_are_the_relations(tmp_path: Path) -> None:
    ways = [way(31, SQUARE, golf="fairway"), way(32, [202, 302, 303, 202])]
    rows = [*grid(), *ways, relation(7, [("outer", 31), ("inner", 32)])]
    survey = read(written(tmp_path, rows, "nodes"))
    assert survey.rows["kind"].to_dict() == {"relation/7": "fairway"}
    assert degrees(survey, "relation/7").area == pytest.approx(8.5e-6, rel=1e-6)


def test_a_query_that_lists_members_twice_keeps_the_tags(tmp_path: Path) -> None:
    """out body; >; out skel qt; repeats what was asked for, without tags."""
    skeleton = [{k: v for k, v in row.items() if k != "tags"} for row in COURSE]
    path = tmp_path / "twice.json"
    for rows in (COURSE + skeleton, skeleton + COURSE):
        path.write_text(json.dumps({"elements": rows}))
        assert read(path).rows["kind"].to_dict() == {"way/1": "green", "way/4": "water"}


def test_the_servers_remark_is_passed_on(tmp_path: Path) -> None:
    survey = read(written(tmp_path, COURSE, "nodes", remark="runtime error: timed out"))
    assert "remarks: runtime error: timed out" in messages(survey, "answer-cut-short")[0]
    path = tmp_path / "cut.osm"
    path.write_text(as_markup(COURSE).replace("</osm>", "<remark>timed out</remark></osm>"))
    assert messages(read(path), "answer-cut-short")


def test_what_an_editor_deleted_is_gone(tmp_path: Path) -> None:
    text = as_markup(COURSE).replace('<way id="1"', '<way action="delete" id="1"')
    path = tmp_path / "edited.osm"
    path.write_text(text.replace('<way id="4"', '<way visible="false" id="4"'))
    assert read(path).rows.empty


@pytest.mark.parametrize("how", ["markup", "nodes"])
def test_a_layer_is_not_ignored_where_there_are_none(tmp_path: Path, how: str) -> None:
    with pytest.raises(UserError, match="has no layers"):
        read(written(tmp_path, COURSE, how), layer="golf")


def test_other_json_goes_to_the_other_reader(tmp_path: Path) -> None:
    feature = {
        "type": "Feature",
        "properties": {"id": "H1", "elements": "x"},
        "geometry": {"type": "Point", "coordinates": [-112, 39.2]},
    }
    path = tmp_path / "heads.json"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    assert read(path, "heads").rows.index.tolist() == ["H1"]
    path.write_text('{"elements": {}}')
    with pytest.raises(UserError, match="cannot be read as a map layer"):
        read(path)
    path.write_text('{"elements": []}')
    assert read(path).rows.empty


def test_a_tag_named_like_a_column_of_ours_does_no_harm(tmp_path: Path) -> None:
    rows = [*grid(), way(1, SQUARE, golf="green", kind="tee", id="X", ID="Y")]
    survey = read(written(tmp_path, rows, "markup"))
    assert survey.rows["kind"].to_dict() == {"way/1": "green"}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        ("<osmChange/>", "its root is osmChange, not osm"),
        ("<osm><node id='1'", "not sound XML"),
        ("<!DOCTYPE osm><osm/>", "declares entities"),
    ],
)
def test_what_is_no_open_map_data_is_refused(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "x.osm"
    path.write_text(text)
    with pytest.raises(UserError, match=words):
        read(path)


@pytest.mark.parametrize(
    ("tags", "area"),
    [
        ({"golf": "green"}, True),
        ({"golf": "hole"}, False),
        ({"golf": "cartpath", "area": "yes"}, True),
        ({"golf": "green", "area": "no"}, False),
        ({"highway": "path", "landuse": "grass"}, False),
        ({"landuse": "grass"}, True),
        ({"natural": "water"}, True),
        ({"natural": "tree_row"}, False),
        ({"barrier": "fence"}, False),
        ({"name": "x"}, False),
        ({}, False),
    ],
)
def test_closed_ways_are_areas_by_their_tags(tags: dict[str, str], area: bool) -> None:
    assert is_area(tags) is area


def elements_of(features: gpd.GeoDataFrame) -> list[Row]:
    """A country's outlines as elements: every third, and any with holes, a relation of halves."""
    rows: list[Row] = []
    keys: dict[tuple[float, float], int] = {}
    count = iter(range(10**9, 2 * 10**9))

    def nodes_of(line: Any) -> list[int]:
        for spot in line.coords:
            if spot not in keys:
                keys[spot] = next(count)
                place = {"lon": spot[0], "lat": spot[1]}
                rows.append({"type": "node", "id": keys[spot], "tags": {}, **place})
        return [keys[spot] for spot in line.coords]

    def halves(role: str, line: Any) -> list[tuple[str, int]]:
        nodes, middle = nodes_of(line), len(line.coords) // 2
        found = []
        for part in (nodes[: middle + 1], nodes[middle:][::-1]):
            rows.append(way(next(count), part))
            found.append((role, rows[-1]["id"]))
        return found

    for feature in features.itertuples():
        _, key = feature.id.split("/")
        tags = {"golf": feature.golf} if isinstance(feature.golf, str) else {"leisure": "x"}
        if isinstance(feature.building, str):
            tags["building"] = feature.building
        shape = feature.geometry
        if feature.Index % 3 and not (shape.geom_type == "MultiPolygon" or shape.interiors):
            rows.append(way(int(key), nodes_of(shape.exterior), **tags))
            continue
        members = []
        for part in shapely.get_parts(shape):
            members += halves("outer", part.exterior)
            for hole in part.interiors:
                members += halves("inner", hole)
        rows.append(relation(int(key), members, **tags))
    return rows


@pytest.mark.skipif(FOLDER is None, reason="NIGHTWATER_DATA names no folder of files")
@pytest.mark.parametrize("how", HOW)
@pytest.mark.parametrize(("country", "epsg"), [("BG", 32635), ("PT", 32629)])
def test_a_country_comes_back_as_from_its_geojson(
    tmp_path: Path, how: str, country: str, epsg: int
) -> None:
    source = Path(FOLDER or ".") / "golf" / f"{country}.geojson"
    features = gpd.read_file(source)
    if "building" not in features:
        features["building"] = None
    outlines = features.geometry.geom_type.isin(["Polygon", "MultiPolygon"])
    features = features[outlines & features.is_valid].drop_duplicates("id")
    (tmp_path / "plain").mkdir()
    plain = tmp_path / "plain" / "course.geojson"
    features.to_file(plain)
    expected = read_table(plain, TABLES["areas"], f"EPSG:{epsg}", ReadOptions())
    path = written(tmp_path, elements_of(features), how)
    survey = read_table(path, TABLES["areas"], f"EPSG:{epsg}", ReadOptions())
    assert Counter(survey.rows["kind"]) == Counter(expected.rows["kind"])
    numbers = [key.split("/")[1] for key in survey.rows.index]
    assert len(set(numbers)) == len(numbers)
    assert 0.3 < sum(key.startswith("relation/") for key in survey.rows.index) / len(numbers) < 0.4
    known = expected.rows.geometry[[f"way/{number}" for number in numbers]].to_numpy()
    differing = shapely.area(shapely.symmetric_difference(survey.rows.geometry.to_numpy(), known))
    assert differing.max() < 1e-3
    assert len(expected.rows) == {"BG": 381, "PT": 4536}[country]
