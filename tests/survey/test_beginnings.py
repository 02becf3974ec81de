"""Files that hold something else than their ending promises, above all orders to read others."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

import geopandas as gpd
import pytest
from shapely.geometry import Point

from nightwater.findings import UserError
from nightwater.ground.tables import TABLES
from nightwater.survey.read import ReadOptions, SurveyRows, read_table

HEADS = gpd.GeoDataFrame({"id": ["H1"]}, geometry=[Point(-112, 39.2)], crs="EPSG:4326")
ENDINGS = [".geojson", ".json", ".gml", ".gpkg", ".fgb", ".shp", ".kml", ".gpx", ".osm"]


def read(path: Path, **said: str) -> SurveyRows:
    return read_table(path, TABLES["heads"], "EPSG:32612", ReadOptions(**said))  # type: ignore[arg-type]


@pytest.fixture
def orders(tmp_path: Path) -> dict[str, str]:
    """Two files that the library takes as orders to read a third one."""
    other = tmp_path / "private.csv"
    other.write_text("id,x,y\nprivate,-112,39.2\n")
    layer = (
        f'<OGRVRTLayer name="private"><SrcDataSource>{other}</SrcDataSource>'
        '<GeometryField encoding="PointFromColumns" x="x" y="y"/></OGRVRTLayer>'
    )
    line = f"gdal vector pipeline ! read {other}"
    streamed = {"type": "gdal_streamed_alg", "command_line": line, "features": []}
    return {
        "markup": f"<OGRVRTDataSource>{layer}</OGRVRTDataSource>",
        "json": json.dumps(streamed),
        "both": json.dumps({**streamed, "x": {"type": "FeatureCollection"}}),
        "gml": f'<OGRVRTDataSource xmlns="http://www.opengis.net/gml">{layer}</OGRVRTDataSource>',
    }


@pytest.mark.parametrize("ending", ENDINGS)
@pytest.mark.parametrize("which", ["markup", "json", "both", "gml"])
def test_a_survey_reads_no_other_file(
    tmp_path: Path, orders: dict[str, str], ending: str, which: str
) -> None:
    path = tmp_path / f"heads{ending}"
    path.write_text(orders[which])
    with pytest.raises(UserError, match=rf"heads{ending}"):
        read(path, crs="EPSG:4326")


def test_an_archive_of_orders_is_no_shapefile(tmp_path: Path, orders: dict[str, str]) -> None:
    path = tmp_path / "heads.zip"
    for member, words in (("heads.vrt", "no shapefile"), ("heads.shp", "does not begin as")):
        with zipfile.ZipFile(path, "w") as archive:
            archive.writestr(member, orders["markup"])
        with pytest.raises(UserError, match=words):
            read(path)


def zipped(tmp_path: Path, *names: str, folder: str = "") -> Path:
    path = tmp_path / "heads.zip"
    with zipfile.ZipFile(path, "w") as archive:
        for name in names:
            HEADS.assign(id=name).to_file(tmp_path / f"{name}.shp")
            for part in sorted(tmp_path.glob(f"{name}.*")):
                archive.write(part, f"{folder}{part.name}")
        archive.writestr("__MACOSX/x.shp", b"resource")
    return path


@pytest.mark.parametrize("folder", ["", "survey/of spring/"])
def test_a_zipped_shapefile_may_lie_in_a_folder(tmp_path: Path, folder: str) -> None:
    assert read(zipped(tmp_path, "front", folder=folder)).rows.index.tolist() == ["front"]


def test_several_zipped_shapefiles_ask_which(tmp_path: Path) -> None:
    path = zipped(tmp_path, "front", "back")
    with pytest.raises(UserError, match=r"2 layers. Name one with --layer: front, back"):
        read(path)
    with pytest.raises(UserError, match=r"no layer 'middle'. It holds front, back"):
        read(path, layer="middle")
    assert read(path, layer="back").rows.index.tolist() == ["back"]


@pytest.mark.parametrize("ending", [".geojson", ".gml", ".gpkg", ".fgb", ".shp"])
def test_what_the_library_writes_begins_rightly(tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"heads{ending}"
    HEADS.to_file(path)
    before = sorted(tmp_path.iterdir())
    assert read(path).rows.index.tolist()
    assert sorted(tmp_path.iterdir()) == before


@pytest.mark.parametrize(
    "text",
    [
        '{"type": "Feature", "id": "H1", "properties": {}, "geometry": null}',
        '\ufeff  {"type":"FeatureCollection","features":[FEATURE]}',
        '{"features": [FEATURE], "type" : "FeatureCollection"}',
    ],
)
def test_json_with_features_is_let_through(tmp_path: Path, text: str) -> None:
    path = tmp_path / "heads.geojson"
    feature = '{"type": "Feature", "id": "H1", "properties": {}, "geometry": null}'
    path.write_text(text.replace("FEATURE", feature), encoding="utf-8")
    assert len(read(path).rows) <= 1


def test_a_collection_of_nothing_is_told(tmp_path: Path) -> None:
    path = tmp_path / "heads.geojson"
    path.write_text('{"type": "FeatureCollection", "features": []}')
    with pytest.raises(UserError, match="holds no features"):
        read(path)


@pytest.mark.parametrize("text", [" ", "id,x\n1,2", '{"a": 1}', "[]", '"FeatureCollection"'])
def test_json_without_features_is_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "heads.json"
    path.write_text(text)
    with pytest.raises(UserError, match=r"heads\.json cannot be read as a map layer"):
        read(path)


def test_a_gml_beside_a_strange_schema_is_read_by_its_own(tmp_path: Path) -> None:
    path = tmp_path / "heads.gml"
    HEADS.to_file(path)
    path.with_suffix(".gfs").write_text("<GMLFeatureClassList/>")
    assert len(read(path).rows) == 1
