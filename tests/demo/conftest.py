"""The invented club, written and read once for all its tests."""

from __future__ import annotations

import pytest

from nightwater.demo.layout import head_spots
from nightwater.demo.vellenby import SETTINGS, write_survey
from nightwater.ground.links import resolve_station_lists
from nightwater.ground.record import ground_from
from nightwater.ground.tables import TABLES
from nightwater.survey.read import read_table


@pytest.fixture(scope="session")
def survey(tmp_path_factory):
    return write_survey(tmp_path_factory.mktemp("survey") / "made")


@pytest.fixture(scope="session")
def read(survey):
    """What the survey reads out of each file, by table."""
    crs = SETTINGS.site.crs
    return {
        file.table: read_table(file.path, TABLES[file.table], crs, file.options)
        for file in survey.files
    }


@pytest.fixture(scope="session")
def ground(read):
    raw = ground_from(SETTINGS.site.crs, {name: rows.rows for name, rows in read.items()})
    resolved, findings = resolve_station_lists(raw)
    assert findings == []
    return resolved


@pytest.fixture(scope="session")
def spots():
    return head_spots()
