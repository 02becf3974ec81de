"""Every real file of golf and GIS: how many rows of which table, or the sentence that refuses it.

Rows as the files hold them, counted apart from the code under test; no file comes unlisted.
"""

from __future__ import annotations

import os
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from nightwater.findings import Severity, UserError
from nightwater.ground.tables import TABLES
from nightwater.survey.read import ReadOptions, SurveyRows, read_table

FOLDER = os.environ.get("NIGHTWATER_DATA")
pytestmark = pytest.mark.skipif(FOLDER is None, reason="NIGHTWATER_DATA names no folder of files")
DATA = Path(FOLDER or ".")
PIPE: dict[str, Any] = {"fixed": {"diameter_mm": "54"}}
ROUGH: dict[str, Any] = {"fixed": {"kind": "rough"}}
GOLF = [  # file, table, zone, rows, bad rows (points and lines tagged as areas; two-way repairs)
    ("BG.geojson", "areas", 32635, 381, 0),
    ("BG.geojson", "holes", 32635, 18, 0),
    ("LU.geojson", "areas", 32632, 613, 18),
    ("LU.geojson", "holes", 32632, 36, 0),
    ("PT.geojson", "areas", 32629, 4539, 28),
    ("PT.geojson", "holes", 32629, 607, 0),
    ("CY.geojson", "areas", 32636, 1104, 2),
    ("CY.geojson", "holes", 32636, 107, 0),
    ("tpc_scottsdale_stadium_course.kml", "areas", 32612, 194, 1),
    ("crown_golf_club.kml", "areas", 32616, 202, 1),
    ("cypress_point.kml", "areas", 32610, 217, 2),
]
NAMES = {"bad-row", "kind-not-told", "name-against-tag"}
DOUBTS = {  # warnings and errors of areas; none elsewhere
    "LU.geojson": {"bad-row"},
    "PT.geojson": {"bad-row", "geometry-repaired"},
    "CY.geojson": {"bad-row", "geometry-repaired"},
    "tpc_scottsdale_stadium_course.kml": NAMES,
    "crown_golf_club.kml": NAMES | {"hole-not-told"},
    "cypress_point.kml": NAMES | {"hole-not-told"},
}
GIS = [  # file, table, zone, what a person says, rows
    ("coutwildrnp.shp", "areas", 32612, ROUGH, 67),
    ("nybb_16a.zip", "areas", 32618, ROUGH, 5),
    ("points_noproj.shp", "heads", 32618, {"crs": "EPSG:32618"}, 3),
    ("curvepolygon.gpkg", "areas", 32610, ROUGH, 1),
    ("line_zm.gpkg", "pipes", 32610, PIPE, 1),
    ("multicurve.gml", "pipes", 32610, {**PIPE, "crs": "EPSG:32610"}, 1),
    ("test_gpx.gpx", "pipes", 32619, PIPE, 1),
    ("test_gpx.gpx", "heads", 32619, {}, 0),
]
REFUSED = [
    ("golf/opengolfmap_manifest.json", "areas", "cannot be read as a map layer"),
    ("golf/BG.geojson", "heads", "tell areas and holes, not heads"),
    ("cad_gis/points_noproj.shp", "heads", "does not say its coordinate system.*--crs"),
    ("cad_gis/multicurve.gml", "pipes", "does not say its coordinate system.*--crs"),
    *(
        (f"cad_gis/{name}", "areas", "are not read. Known:")
        for name in (
            "coutwildrnp.dbf",
            "coutwildrnp.prj",
            "coutwildrnp.shx",
            "points_noproj.dbf",
            "points_noproj.shx",
        )
    ),
]


def read(path: Path, table: str, zone: int, **said: Any) -> SurveyRows:
    return read_table(path, TABLES[table], f"EPSG:{zone}", ReadOptions(**said))


def doubts(survey: SurveyRows) -> Counter[str]:
    return Counter(f.code for f in survey.findings if f.severity is not Severity.NOTE)


@pytest.mark.parametrize("case", GOLF, ids=str)
def test_a_golf_file_loads_as_it_is_written_down(case: tuple[str, str, int, int, int]) -> None:
    name, table, zone, rows, bad = case
    survey = read(DATA / "golf" / name, table, zone)
    assert (len(survey.rows), len(survey.refused)) == (rows, bad)
    told = doubts(survey)
    assert set(told) == (DOUBTS.get(name, set()) if table == "areas" else set())
    assert told["bad-row"] == bad
    assert survey.rows.geometry.is_valid.all()
    assert not survey.rows.geometry.is_empty.any()


@pytest.mark.parametrize("case", GIS, ids=str)
def test_a_gis_file_loads_whole(case: tuple[str, str, int, dict[str, Any], int]) -> None:
    name, table, zone, said, rows = case
    survey = read(DATA / "cad_gis" / name, table, zone, **said)
    assert (len(survey.rows), len(survey.refused)) == (rows, 0)
    assert not doubts(survey)


@pytest.mark.parametrize(("name", "table", "words"), REFUSED)
def test_a_real_file_is_refused_with_a_sentence(name: str, table: str, words: str) -> None:
    with pytest.raises(UserError, match=words) as refusal:
        read(DATA / name, table, 32635)
    assert str(refusal.value).endswith(".")


def test_no_real_file_is_left_out() -> None:
    loaded = {f"golf/{case[0]}" for case in GOLF} | {f"cad_gis/{case[0]}" for case in GIS}
    there = {
        f"{folder}/{path.name}"
        for folder in ("golf", "cad_gis")
        for path in (DATA / folder).iterdir()
        # .gfs: what the map library leaves beside a GML where others read it by its path
        if path.suffix not in (".dxf", ".gfs")
    }
    assert there == loaded | {name for name, *_ in REFUSED}
