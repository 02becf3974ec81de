from __future__ import annotations

import hashlib
import json
import time

import geopandas as gpd
import pandas as pd
import pytest

from nightwater.demo.files import INVENTED
from nightwater.demo.place import CRS, LATITUDE_DEG, LONGITUDE_DEG, ORIGIN_M
from nightwater.demo.vellenby import write_survey
from nightwater.ground.record import ground_from
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.survey.propose import propose


def test_every_table_but_pictures_has_its_file(survey):
    assert {file.table for file in survey.files} == set(GROUND_TABLES) - {"images"}


def test_every_row_reads_without_a_finding(read):
    assert {name: rows.findings for name, rows in read.items() if rows.findings} == {}


def test_a_proposal_adds_every_row_and_doubts_none(read):
    empty = ground_from(CRS, {})
    for name, rows in read.items():
        proposal = propose(empty, TABLES[name], rows, complete=False)
        assert len(proposal.added) == len(rows.rows), name
        assert len(proposal.doubtful) == 0, name


def test_links_follow_the_tables_they_name(survey):
    order = [file.table for file in survey.files]
    assert order.index("stations") < order.index("heads")
    assert order.index("controllers") < order.index("stations")
    assert order.index("holes") < order.index("areas")


def test_nothing_needed_is_missing(ground):
    for name in set(GROUND_TABLES) - {"images"}:
        rows = ground.table(name)
        for column in TABLES[name].columns:
            if column.required:
                assert rows[column.name].notna().all(), (name, column.name)
    watered = ground.areas[ground.areas["wetted_m2"].notna()]
    for column in ("soil", "grass", "du_lq", "root_depth_mm", "intake_mm_h", "slope_pct"):
        assert watered[column].notna().all(), column
    assert ground.heads[["nozzle", "station", "spacing_m", "row_m"]].notna().all().all()


def test_us_columns_come_in_as_si(ground):
    """27.5 gpm is 1.735 L/s, 66 ft 20.1 m, 70 psi 483 kPa; 2.149 in 54.6 mm."""
    nozzle = ground.nozzles.loc["N27"]
    assert nozzle["flow_l_s"] == pytest.approx(1.735, abs=5e-4)
    assert nozzle["radius_m"] == pytest.approx(20.12, abs=5e-3)
    assert nozzle["pressure_kpa"] == pytest.approx(482.6, abs=0.05)
    assert ground.pipes["diameter_mm"].min() == pytest.approx(54.58, abs=5e-3)
    assert ground.heads["spacing_m"].max() == pytest.approx(22.04, abs=5e-3)
    assert ground.sources["allocation_m3"].iloc[0] == pytest.approx(351_540, rel=1e-4)
    assert ground.gauges.loc["weather-station", "wind_height_m"] == pytest.approx(2.0, abs=1e-3)


def test_survey_columns_are_written_in_the_units_people_use(survey):
    columns = {unit for file in survey.files for unit in file.options.units.values()}
    assert {"gpm", "psi", "ft", "in", "in/h", "acre", "acre-ft"} <= columns


def test_layers_lie_where_the_club_lies(survey):
    holes = gpd.read_file(next(file.path for file in survey.files if file.table == "holes"))
    assert holes.crs.to_epsg() == 4326
    middle = holes.union_all().centroid
    assert middle.y == pytest.approx(LATITUDE_DEG, abs=0.01)
    assert middle.x == pytest.approx(LONGITUDE_DEG, abs=0.01)


def test_places_are_true_to_the_centimetre(ground, spots):
    """GeoJSON keeps seven digits of a degree: 1 cm."""
    x, y = ground.heads.geometry.x - ORIGIN_M[0], ground.heads.geometry.y - ORIGIN_M[1]
    assert max(abs(x - [spot.x for spot in spots])) < 0.02
    assert max(abs(y - [spot.y for spot in spots])) < 0.02


def test_the_same_club_comes_out_of_every_run(survey, tmp_path):
    again = write_survey(tmp_path / "again")
    for one, other in zip(survey.files, again.files, strict=True):
        if one.path.suffix != ".gpkg":
            assert _digest(one.path) == _digest(other.path), one.path.name
            continue
        first, second = (gpd.read_file(f.path, layer=f.options.layer) for f in (one, other))
        pd.testing.assert_frame_equal(pd.DataFrame(first), pd.DataFrame(second))


def _digest(path):
    return hashlib.sha256(path.read_bytes()).hexdigest()


def test_writing_over_an_earlier_survey_leaves_no_old_layer(tmp_path):
    write_survey(tmp_path)
    again = write_survey(tmp_path)
    pipes = next(file for file in again.files if file.table == "pipes")
    assert len(gpd.list_layers(pipes.path)) == 6


def test_writing_takes_a_moment(tmp_path):
    """Some 1.5 s alone; the limit leaves room for a busy machine."""
    start = time.process_time()
    write_survey(tmp_path)
    assert time.process_time() - start < 5.0


def test_everything_says_that_it_is_invented(survey):
    folder = survey.files[0].path.parent
    assert (folder / "INVENTED.txt").read_text() == INVENTED
    assert "INVENTED" in INVENTED


def test_weather_files_carry_their_origin(survey):
    assert [weather.origin for weather in survey.weather] == ["observed", "forecast"]
    header = survey.weather[0].path.read_text().splitlines()[0]
    assert header == "date,tmax_c,tmin_c,dew_c,wind_m_s,wind_height_m,solar_mj_m2,rain_mm"


def test_geojson_is_geojson(survey):
    heads = next(file.path for file in survey.files if file.table == "heads")
    document = json.loads(heads.read_text())
    assert document["type"] == "FeatureCollection"
    assert {feature["geometry"]["type"] for feature in document["features"]} == {"Point"}
