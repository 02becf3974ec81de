"""Real files: a zipped shapefile in US survey feet, curves, measures, and four countries' golf.

Counts are of the files as they stand (osm tags counted apart from the code under test).
"""

from __future__ import annotations

import json
import os
from collections import Counter
from pathlib import Path

import geopandas as gpd
import pyogrio
import pytest
import shapely

from nightwater.findings import UserError
from nightwater.ground.record import ground_from
from nightwater.ground.tables import TABLES
from nightwater.survey.propose import propose
from nightwater.survey.read import ReadOptions, SurveyRows, read_table

FOLDER = os.environ.get("NIGHTWATER_DATA")
pytestmark = pytest.mark.skipif(FOLDER is None, reason="NIGHTWATER_DATA names no folder of files")
DATA = Path(FOLDER or ".")
KINDS = {
    "green": "green",
    "tee": "tee",
    "fairway": "fairway",
    "rough": "rough",
    "bunker": "bunker",
    "driving_range": "practice",
    "water_hazard": "water",
    "lateral_water_hazard": "water",
}
COUNTRIES = [("BG", 32635), ("LU", 32632), ("PT", 32629), ("CY", 32636)]


def read(path: Path, table: str, record: str, **said: object) -> SurveyRows:
    return read_table(path, TABLES[table], record, ReadOptions(**said))  # type: ignore[arg-type]


def messages(survey: SurveyRows, code: str) -> list[str]:
    return [finding.message for finding in survey.findings if finding.code == code]


def test_new_york_boroughs_in_us_survey_feet() -> None:
    """The file states Shape_Area in its own square US survey feet."""
    path = DATA / "cad_gis" / "nybb_16a.zip"
    survey = read(path, "areas", "EPSG:32618", fixed={"kind": "rough"})
    raw = pyogrio.read_dataframe(f"/vsizip/{path}")
    assert len(survey.rows) == 5
    assert (survey.rows.geometry.geom_type == "MultiPolygon").all()
    square_metres = raw["Shape_Area"].to_numpy() * (1200 / 3937) ** 2
    # UTM stretches areas here by up to 2 x 0.04 % + the distance from its middle: 0.2 %.
    assert survey.rows.geometry.area.to_numpy() == pytest.approx(square_metres, rel=2e-3)
    middle = survey.rows.to_crs("EPSG:4326").union_all().centroid
    assert (middle.x, middle.y) == pytest.approx((-73.94, 40.66), abs=0.05)
    assert len(messages(survey, "unknown-column")) == 4


def test_utah_wilderness_from_a_shapefile() -> None:
    survey = read(DATA / "cad_gis" / "coutwildrnp.shp", "areas", "EPSG:32612")
    assert len(survey.rows) == 67
    proposal = propose(ground_from("EPSG:32612", {}), TABLES["areas"], survey)
    assert not proposal.added
    unfit = [f for f in proposal.findings if f.code == "new-row-incomplete"]
    assert len(unfit) == 67
    assert "kind is missing" in unfit[0].message
    fixed = read(
        DATA / "cad_gis" / "coutwildrnp.shp", "areas", "EPSG:32612", fixed={"kind": "native"}
    )
    assert len(propose(ground_from("EPSG:32612", {}), TABLES["areas"], fixed).added) == 67


def test_points_without_a_system_ask_for_one() -> None:
    path = DATA / "cad_gis" / "points_noproj.shp"
    with pytest.raises(UserError, match="--crs"):
        read(path, "heads", "EPSG:32618")
    assert len(read(path, "heads", "EPSG:32618", crs="EPSG:32618").rows) == 3


def test_curves_come_as_straight_pieces() -> None:
    survey = read(
        DATA / "cad_gis" / "curvepolygon.gpkg", "areas", "EPSG:32610", fixed={"kind": "native"}
    )
    assert survey.rows.geometry.is_valid.all()
    assert survey.rows.geometry.area.iloc[0] > 0
    arcs = read(
        DATA / "cad_gis" / "multicurve.gml",
        "pipes",
        "EPSG:32610",
        crs="EPSG:32610",
        fixed={"diameter_mm": "54"},
    )
    line = arcs.rows.geometry.iloc[0]
    assert line.geom_type == "MultiLineString"
    assert shapely.get_num_coordinates(line) > 20  # the file draws its arcs by 3 points each


def test_heights_and_measures_are_left_aside() -> None:
    survey = read(
        DATA / "cad_gis" / "line_zm.gpkg", "pipes", "EPSG:32610", fixed={"diameter_mm": "54"}
    )
    assert len(survey.rows) == 1
    assert shapely.get_coordinate_dimension(survey.rows.geometry.iloc[0]) == 2
    assert len(messages(survey, "heights-left-aside")) == 1


def test_arcs_without_a_system_ask_for_one() -> None:
    with pytest.raises(UserError, match="--crs"):
        read(DATA / "cad_gis" / "multicurve.gml", "pipes", "EPSG:32610")


@pytest.mark.parametrize(("country", "epsg"), COUNTRIES)
def test_every_golf_feature_is_taken_or_named(country: str, epsg: int) -> None:
    path = DATA / "golf" / f"{country}.geojson"
    features = json.loads(path.read_text())["features"]
    tags = Counter(str(f["properties"].get("golf")) for f in features)
    survey = read(path, "areas", f"EPSG:{epsg}")
    built = [f["properties"].get("building") is not None for f in features]
    wanted = sum(count for tag, count in tags.items() if tag in KINDS) + sum(built)
    assert len(survey.rows) + len(survey.refused) == wanted
    assert len(messages(survey, "bad-row")) == len(survey.refused)
    expected = Counter(
        KINDS[f["properties"]["golf"]]
        for f in features
        if f["properties"].get("golf") in KINDS and f["id"] not in survey.refused
    )
    expected += Counter({"building": sum(built)})
    assert survey.rows["kind"].value_counts().to_dict() == dict(expected)
    (skipped,) = messages(survey, "features-skipped")
    assert f"{len(features) - wanted} features" in skipped
    (asked,) = messages(survey, "path-without-width")  # none of the four countries says a width
    assert f"{tags['cartpath'] + tags['path']} paths" in asked
    assert survey.rows.geometry.is_valid.all()
    assert (survey.rows.geometry.geom_type == "MultiPolygon").all()


def test_cart_paths_of_a_whole_country_become_ground_by_a_said_width() -> None:
    """115 lines of BG: their length by the ellipsoid times 2.5 m, but for overlaps at bends."""
    path = DATA / "golf" / "BG.geojson"
    rows = read(path, "areas", "EPSG:32635", path_width_m=2.5).rows
    paths = rows[rows["kind"] == "path"]
    raw = gpd.read_file(path)
    lines = raw[raw["golf"] == "cartpath"]
    geod = rows.crs.get_geod()
    length_m = sum(geod.geometry_length(line) for line in lines.geometry)
    assert len(paths) == len(lines) == 115
    assert paths.geometry.area.sum() == pytest.approx(length_m * 2.5, rel=0.02)


@pytest.mark.parametrize(("country", "epsg"), COUNTRIES)
def test_outlines_in_metres_have_the_area_of_the_ellipsoid(country: str, epsg: int) -> None:
    path = DATA / "golf" / f"{country}.geojson"
    rows = read(path, "areas", f"EPSG:{epsg}").rows
    geod = rows.crs.get_geod()
    whole = rows.to_crs("EPSG:4326")
    zone = rows.crs.area_of_use
    sample = whole.cx[zone.west : zone.east, zone.south : zone.north].iloc[::40]
    assert len(sample) >= 2  # Portugal's islands lie in other zones
    for key, shape in sample.geometry.items():
        true_m2 = abs(geod.geometry_area_perimeter(shape)[0])
        # Within its zone UTM is 0.08 % too small in the middle and 0.2 % too large at the edge.
        assert rows.geometry[key].area == pytest.approx(true_m2, rel=2e-3)


def test_the_holes_of_thracian_cliffs_carry_their_numbers() -> None:
    path = DATA / "golf" / "BG.geojson"
    survey = read(path, "holes", "EPSG:32635", within="way/153711317")
    assert sorted(survey.rows["number"]) == list(range(1, 19))
    total_km = survey.rows.geometry.length.sum() / 1000
    assert total_km == pytest.approx(6.69, abs=0.01)  # data/README


def test_the_areas_of_thracian_cliffs() -> None:
    """Counts and hectares as data/README states them."""
    path = DATA / "golf" / "BG.geojson"
    survey = read(path, "areas", "EPSG:32635", within="way/153711317")
    counts = survey.rows["kind"].value_counts()
    assert counts[["green", "tee", "fairway", "bunker"]].to_dict() == {
        "green": 21,
        "tee": 83,
        "fairway": 22,
        "bunker": 68,
    }
    hectares = survey.rows.assign(ha=survey.rows.geometry.area / 10_000).groupby("kind")["ha"].sum()
    assert hectares["green"] == pytest.approx(1.09, abs=0.01)
    assert hectares["tee"] == pytest.approx(0.70, abs=0.01)
    assert hectares["fairway"] == pytest.approx(9.8, abs=0.1)


def test_unnumbered_holes_load_without_a_number() -> None:
    rows = read(DATA / "golf" / "LU.geojson", "holes", "EPSG:32632").rows
    assert len(rows) == 36
    assert rows["number"].isna().any()


def test_invalid_outlines_are_repaired_or_refused_never_passed() -> None:
    """data/README counts 7 invalid features in PT and 4 in CY."""
    for country, epsg, at_most in (("PT", 32629, 7), ("CY", 32636, 4)):
        path = DATA / "golf" / f"{country}.geojson"
        raw = gpd.read_file(path).to_crs(epsg)
        broken = raw[~raw.geometry.is_valid & raw["golf"].isin(list(KINDS))]
        survey = read(path, "areas", f"EPSG:{epsg}")
        told = [*messages(survey, "geometry-repaired"), *messages(survey, "bad-row")]
        for number in broken.index + 1:
            assert any(f"feature {number}:" in m or f"feature {number} (" in m for m in told)
        assert 0 < len(broken) <= at_most


def test_a_second_survey_of_a_country_changes_nothing() -> None:
    survey = read(DATA / "golf" / "BG.geojson", "areas", "EPSG:32635")
    first = propose(ground_from("EPSG:32635", {}), TABLES["areas"], survey)
    assert len(first.added) == 381
    record = ground_from("EPSG:32635", {"areas": survey.rows})
    again = propose(record, TABLES["areas"], survey)
    assert [again.added, again.changed, again.doubtful] == [{}, {}, {}]
