"""The invented club written out for other programs, and surveyed back without a change."""

from __future__ import annotations

import pytest

from nightwater.demo.vellenby import SETTINGS
from nightwater.ground.tables import TABLES
from nightwater.survey.geojson_out import geojson_bytes
from nightwater.survey.geopackage_out import geopackage_bytes
from nightwater.survey.kml_out import kml_bytes
from nightwater.survey.propose import propose
from nightwater.survey.read import ReadOptions, read_table

WRITERS = {".kml": kml_bytes, ".gpkg": geopackage_bytes, ".geojson": geojson_bytes}
SURVEYED = ("holes", "areas", "heads", "stations", "pipes", "valves")


@pytest.fixture(scope="module", params=list(WRITERS))
def written(request, ground, tmp_path_factory):
    path = tmp_path_factory.mktemp("out") / f"vellenby{request.param}"
    path.write_bytes(WRITERS[request.param](ground))
    return path


@pytest.mark.parametrize("name", SURVEYED)
def test_the_export_gives_the_same_record(written, ground, name):
    rows = read_table(written, TABLES[name], SETTINGS.site.crs, ReadOptions(layer=name))
    found = propose(ground, TABLES[name], rows, complete=True)
    assert len(rows.rows) == len(ground.table(name))
    parts = (found.added, found.moved, found.changed, found.removed, found.doubtful)
    assert [len(part) for part in parts] == [0, 0, 0, 0, 0]
