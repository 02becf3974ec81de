"""The invented club as a drawing: made by a drawing program, and by our own export."""

from __future__ import annotations

import pytest

from nightwater.ground.changes import plain_rows
from nightwater.ground.record import conform
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.survey.drawing_out import write_drawing
from nightwater.survey.read import ReadOptions, read_table

DRAWN = ("heads", "areas", "pipes", "holes", "valves")
SHAPED = tuple(name for name in GROUND_TABLES if TABLES[name].shape is not None)
INCH_M = 0.0254


@pytest.fixture(scope="module")
def exported(ground, tmp_path_factory):
    path = tmp_path_factory.mktemp("out") / "vellenby.dxf"
    assert write_drawing(ground, path) == ()
    return path


@pytest.mark.parametrize("name", SHAPED)
def test_importing_the_export_gives_the_same_record(exported, ground, name):
    survey = read_table(exported, TABLES[name], ground.crs, ReadOptions())
    assert survey.findings == ()
    back = conform(survey.rows, TABLES[name], ground.crs)
    assert plain_rows(back, TABLES[name]) == plain_rows(ground.table(name), TABLES[name])
