"""GPX: which layer goes to which table, walks as rings, and what is no GPX."""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Any

import pytest
from pyproj import Geod

from nightwater.findings import UserError
from nightwater.ground.tables import TABLES
from nightwater.survey.read import ReadOptions, SurveyRows, read_table
from nightwater.survey.suggest import suggest_columns

CRS = "EPSG:32612"
FOLDER = os.environ.get("NIGHTWATER_DATA")


def spots(tag: str, places: list[tuple[float, float]], ele: float | None = None) -> str:
    high = "" if ele is None else f"<ele>{ele}</ele>"
    return "".join(f'<{tag} lat="{y}" lon="{x}">{high}</{tag}>' for x, y in places)


SQUARE = [(-112.0, 39.2), (-112.0, 39.201), (-111.999, 39.201), (-111.999, 39.2)]
WAYPOINTS = "".join(
    f'<wpt lat="{39.2 + n * 1e-3}" lon="-112"><ele>{1370 + n}</ele><name>H{n}</name>'
    f"<desc>by tree {n}</desc><sym>Flag</sym><type>head</type></wpt>"
    for n in range(3)
)
TRACK = f"<trk><name>lateral 1</name><trkseg>{spots('trkpt', SQUARE)}</trkseg></trk>"
ROUTE = f"<rte><name>Hole 7</name>{spots('rtept', SQUARE[:2])}</rte>"


def written(tmp_path: Path, inner: str) -> Path:
    path = tmp_path / "walk.gpx"
    head = '<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">'
    path.write_text(f"<?xml version='1.0'?>{head}{inner}</gpx>", encoding="utf-8")
    return path


def read(path: Path, table: str, **said: Any) -> SurveyRows:
    return read_table(path, TABLES[table], CRS, ReadOptions(**said))


def messages(survey: SurveyRows, code: str) -> list[str]:
    return [finding.message for finding in survey.findings if finding.code == code]


def test_heads_are_waypoints_with_their_names(tmp_path: Path) -> None:
    survey = read(written(tmp_path, WAYPOINTS + ROUTE + TRACK), "heads")
    assert survey.rows["label"].tolist() == ["H0", "H1", "H2"]
    assert list(survey.places.values()) == ["waypoint 1", "waypoint 2", "waypoint 3"]
    degrees = survey.rows.to_crs("EPSG:4326").geometry
    assert degrees.y.tolist() == pytest.approx([39.2, 39.201, 39.202])
    assert degrees.x.tolist() == pytest.approx([-112] * 3)
    (told,) = messages(survey, "receiver-walk")
    assert "3 waypoints (3 points) taken" in told


def test_pipes_are_tracks_and_routes(tmp_path: Path) -> None:
    path = written(tmp_path, WAYPOINTS + ROUTE + TRACK)
    survey = read(path, "pipes", fixed={"diameter_mm": "54"})
    assert survey.rows["label"].tolist() == ["lateral 1", "Hole 7"]
    assert list(survey.places.values()) == ["track 1", "route 1"]
    assert "1 tracks (4 points), 1 routes (2 points) taken" in messages(survey, "receiver-walk")[0]


def test_a_layer_can_be_named(tmp_path: Path) -> None:
    path = written(tmp_path, WAYPOINTS + ROUTE + TRACK)
    holes = read(path, "holes", layer="routes")
    assert holes.rows[["label", "number"]].to_numpy().tolist() == [["Hole 7", 7]]
    assert len(read(path, "heads", layer="track_points").rows) == 4
    with pytest.raises(UserError, match=r"has no layer 'walks'\. It holds waypoints"):
        read(path, "heads", layer="walks")


def test_the_columns_of_the_format_are_there_to_be_matched(tmp_path: Path) -> None:
    path = written(tmp_path, WAYPOINTS)
    names = {suggestion.theirs for suggestion in suggest_columns(path, TABLES["heads"])}
    assert names == {"ele", "name", "desc", "sym", "type"}
    plain = read(path, "heads")
    assert "elevation_m" not in plain.rows  # a hand-held receiver's height must be asked for
    high = read(path, "heads", columns={"ele": "elevation_m"}, units={"ele": "m"})
    assert high.rows["elevation_m"].tolist() == [1370.0, 1371.0, 1372.0]
    assert messages(read(path, "heads", columns={"ele": "elevation_m"}), "unit-not-declared")


def test_a_walk_around_is_an_area_and_its_gap_is_told(tmp_path: Path) -> None:
    whole = SQUARE + SQUARE[:1]
    gap = [*SQUARE, (-111.99995, 39.2)]  # 4.3 m short of the beginning
    inner = "".join(
        f"<trk><name>{name}</name><trkseg>{spots('trkpt', places, 9)}</trkseg></trk>"
        for name, places in (("green 1", whole), ("green 2", gap), ("green 3", SQUARE))
    )
    survey = read(written(tmp_path, inner), "areas")
    assert survey.rows[["label", "kind", "hole"]].to_numpy().tolist() == [
        ["green 1", "green", "1"],
        ["green 2", "green", "2"],
    ]
    lon, lat = zip(*SQUARE, strict=True)
    true_m2 = abs(Geod(ellps="WGS84").polygon_area_perimeter(lon, lat)[0])
    assert survey.rows.geometry.area.tolist() == pytest.approx([true_m2] * 2, rel=2e-3)
    (told,) = messages(survey, "walk-closed")
    assert "1 walks end up to 4.3 m" in told
    skipped = messages(survey, "features-skipped")
    assert "1 features are not areas" in skipped[0]


@pytest.mark.parametrize(
    "places",
    [
        SQUARE[:2],  # two points
        [(-112.0, 39.2), (-112.0, 39.20001), (-111.99999, 39.2), (-112.0, 39.2)],  # 4 m around
        [*SQUARE, (-111.9998, 39.2)],  # 17 m open
    ],
)
def test_what_is_no_walk_around_is_no_area(
    tmp_path: Path, places: list[tuple[float, float]]
) -> None:
    text = f"<trk><name>green</name><trkseg>{spots('trkpt', places)}</trkseg></trk>"
    survey = read(written(tmp_path, text), "areas")
    assert survey.rows.empty
    assert "not a Polygon" in messages(survey, "bad-row")[0]


def test_a_track_of_several_pieces_is_one_pipe_and_no_area(tmp_path: Path) -> None:
    pieces = "".join(f"<trkseg>{spots('trkpt', SQUARE[n : n + 2])}</trkseg>" for n in (0, 2))
    path = written(tmp_path, f"<trk><name>main</name>{pieces}</trk>")
    pipe = read(path, "pipes", fixed={"diameter_mm": "54"}).rows.geometry.iloc[0]
    assert len(pipe.geoms) == 2
    assert read(path, "areas").rows.empty


def test_an_empty_walk_gives_no_rows(tmp_path: Path) -> None:
    survey = read(written(tmp_path, TRACK), "heads")
    assert survey.rows.empty
    assert "0 waypoints" in messages(survey, "receiver-walk")[0]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is empty"),
        ("<kml></kml>", "its root is kml, not gpx"),
        ("<!DOCTYPE gpx><gpx/>", "declares entities"),
        ('<gpx version="1.1"><wpt lat="39" lon="-112">', "cannot be read as GPX"),
    ],
)
def test_what_is_no_gpx_is_refused_with_a_sentence(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "walk.gpx"
    path.write_text(text)
    with pytest.raises(UserError, match=words):
        read(path, "heads")


@pytest.mark.skipif(FOLDER is None, reason="NIGHTWATER_DATA names no folder of files")
def test_a_real_track_of_a_walk() -> None:
    path = Path(FOLDER or ".") / "cad_gis" / "test_gpx.gpx"
    survey = read_table(
        path, TABLES["pipes"], "EPSG:32619", ReadOptions(fixed={"diameter_mm": "54"})
    )
    assert survey.rows["label"].tolist() == ["Running 6/11/14 8:19 am"]
    assert "1 tracks (19 points)" in messages(survey, "receiver-walk")[0]
    found = re.findall(r'lat="([-0-9.]+)" lon="([-0-9.]+)"', path.read_text())
    true_m = Geod(ellps="WGS84").line_length(
        [float(x) for _, x in found], [float(y) for y, _ in found]
    )
    assert survey.rows.geometry.length.iloc[0] == pytest.approx(true_m, rel=1e-3)
    assert read_table(path, TABLES["heads"], "EPSG:32619", ReadOptions()).rows.empty
