"""How a file's columns could be matched."""

from __future__ import annotations

from pathlib import Path

import pytest

from nightwater.findings import UserError
from nightwater.ground.tables import TABLES
from nightwater.survey.read import ReadOptions, read_table
from nightwater.survey.suggest import suggest_columns

TEXT = """ID,Label,radius_ft,Flow [gpm],pressure,rotation,colour,lon,lat
N1,full,65,27.5,70,180,blue,-112,39.2
N2,full,50,14,60,,red,-112,39.3
N3,full,40,9,60,,green,-112,39.4
N4,full,30,5,60,,black,-112,39.5
"""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    (tmp_path / "nozzles.csv").write_text(TEXT)
    return tmp_path / "nozzles.csv"


def test_each_column_gets_one_suggestion_in_order(path: Path) -> None:
    found = suggest_columns(path, TABLES["nozzles"])
    assert [(s.theirs, s.ours, s.certain, s.unit) for s in found] == [
        ("ID", "id", True, None),
        ("Label", "label", True, None),
        ("radius_ft", "radius_m", True, "ft"),
        ("Flow [gpm]", "flow_l_s", True, "gpm"),
        ("pressure", "pressure_kpa", False, None),
        ("rotation", "rotation_s", False, None),
        ("colour", None, False, None),
        ("lon", "geometry", True, None),
        ("lat", "geometry", True, None),
    ]


def test_units_that_must_still_be_said_are_listed(path: Path) -> None:
    by_name = {s.theirs: s for s in suggest_columns(path, TABLES["nozzles"])}
    assert by_name["pressure"].units == ("kPa", "bar", "psi", "m-water")
    assert by_name["radius_ft"].units == ()


def test_examples_are_as_they_stand_without_repeats(path: Path) -> None:
    by_name = {s.theirs: s for s in suggest_columns(path, TABLES["nozzles"])}
    assert by_name["Label"].examples == ("full",)
    assert by_name["radius_ft"].examples == ("65", "50", "40")
    assert by_name["rotation"].examples == ("180",)


def test_what_is_called_certain_is_what_the_survey_takes(path: Path) -> None:
    certain = {
        s.ours
        for s in suggest_columns(path, TABLES["nozzles"])
        if s.certain and s.ours not in ("id", "geometry")
    }
    survey = read_table(path, TABLES["nozzles"], "EPSG:32612", ReadOptions())
    assert set(survey.rows.columns) == certain


def test_a_file_that_cannot_be_read_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="no file"):
        suggest_columns(tmp_path / "none.csv", TABLES["nozzles"])
