"""Nozzle tables of a club: several pressures a nozzle, measured legs, rows that contradict."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from nightwater.findings import Severity
from nightwater.ground.nozzle_performance import nozzle_performance
from nightwater.ground.tables import TABLES
from nightwater.spray.nozzle_tables import nozzle_profile
from nightwater.survey.read import ReadOptions, SurveyRows, read_table
from nightwater.units import to_si

Read = Callable[..., SurveyRows]
THREE = """nozzle,label,pressure_psi,flow_gpm,radius_ft,trajectory_deg
N1,Tall,60,24,60,25
N1,Tall,70,26,63,25
N1,Tall,50,22,57,25
N2,Short,60,12,40,15
"""


@pytest.fixture
def read(tmp_path: Path) -> Read:
    def build(content: str, table: str = "nozzles", **said: Any) -> SurveyRows:
        path = tmp_path / "nozzles.csv"
        path.write_text(content)
        return read_table(path, TABLES[table], "EPSG:32612", ReadOptions(**said))

    return build


def codes(survey: SurveyRows) -> list[str]:
    return [finding.code for finding in survey.findings]


def test_rows_of_one_nozzle_become_its_performance(read: Read) -> None:
    """The first row is the reference; the others in kPa, L/s and m."""
    survey = read(THREE)
    assert survey.findings == ()
    assert list(survey.rows.index) == ["N1", "N2"]
    first = survey.rows.loc["N1"]
    assert first["pressure_kpa"] == pytest.approx(to_si(60, "psi"))
    assert first["flow_l_s"] == pytest.approx(to_si(24, "gpm"))
    assert survey.rows.loc["N2", "performance"] is None
    points = nozzle_performance("N1", first.to_dict())
    expected = np.column_stack(
        [to_si([50, 60, 70], "psi"), to_si([22, 24, 26], "gpm"), to_si([57, 60, 63], "ft")]
    )
    assert points == pytest.approx(expected, rel=1e-5)
    assert survey.places["N1"] == "line 2"


def test_one_row_a_nozzle_is_read_as_ever(read: Read) -> None:
    survey = read("id,pressure_kpa,flow_l_s,radius_m\nN1,400,1.5,18\nN2,400,1.1,15\n")
    assert "performance" not in survey.rows
    assert survey.findings == ()


def test_a_unit_that_is_not_said_is_asked_for(read: Read) -> None:
    survey = read(THREE.replace("flow_gpm", "flow"))
    assert codes(survey) == ["unit-not-declared"]
    assert "flow_l_s" not in survey.rows
    assert "performance" not in survey.rows
    said = read(THREE.replace("flow_gpm", "flow"), units={"flow": "gpm"})
    assert codes(said) == []
    assert said.rows.loc["N1", "performance"] == read(THREE).rows.loc["N1", "performance"]


@pytest.mark.parametrize(
    ("row", "what"),
    [
        ("N1,Tall,60,25,60,25", "pressure_kpa 413.685"),
        ("N1,Tall,80,28,66,20", "trajectory_deg"),
        ("N1,Other,80,28,66,25", "label"),
    ],
)
def test_rows_that_contradict_are_told(read: Read, row: str, what: str) -> None:
    survey = read(f"{THREE}{row}\n")
    (found,) = survey.findings
    assert (found.code, found.severity) == ("nozzle-rows-contradict", Severity.ERROR)
    assert "line 6: nozzle 'N1'" in found.message
    assert f"of {what} than" in found.message
    assert survey.rows.loc["N1", "flow_l_s"] == pytest.approx(to_si(24, "gpm"))


def test_a_row_twice_is_no_contradiction(read: Read) -> None:
    survey = read(f"{THREE}N1,Tall,70,26,63,25\n")
    assert survey.findings == ()
    assert survey.rows.loc["N1", "performance"] == read(THREE).rows.loc["N1", "performance"]


def test_a_bad_row_holds_up_no_other(read: Read) -> None:
    survey = read(THREE.replace("N1,Tall,70,26", "N1,Tall,70,much"))
    assert codes(survey) == ["bad-row"]
    assert "line 3 (N1)" in survey.findings[0].message
    assert survey.rows.loc["N1", "performance"].count(":") == 2


def test_a_nozzle_that_cannot_be_read_at_all_is_refused_not_gone(read: Read) -> None:
    content = "id,pressure_kpa,flow_l_s,radius_m\nN1,x,1,9\nN1,y,1,9\nN2,400,1.1,15\n"
    survey = read(content)
    assert survey.refused == {"N1"}
    assert codes(survey).count("bad-row") == 2
    assert list(survey.rows.index) == ["N2"]


def test_a_file_with_its_own_performance_is_not_gathered(read: Read) -> None:
    survey = read(
        "id,pressure_kpa,flow_l_s,radius_m,performance\nN1,400,1.5,18,300:1.3:16\nN2,400,1.1,15,\n"
    )
    assert survey.rows.loc["N1", "performance"] == "300:1.3:16"


LEG = "nozzle,distance_ft,rate_in_h\nN1,30,0.4\nN1,10,0.5\nN1,50,0.2\nN2,5,0.1\nN2,20,0.3\n"


def test_a_leg_file_fills_the_leg_alone(read: Read) -> None:
    survey = read(LEG)
    assert survey.findings == ()
    assert list(survey.rows.columns) == ["leg"]
    words = survey.rows.loc["N1", "leg"].split()
    cans = np.array([[float(part) for part in word.split(":")] for word in words])
    assert cans[:, 0] == pytest.approx(to_si([30, 10, 50], "ft"), rel=1e-5)
    assert cans[:, 1] == pytest.approx(to_si([0.4, 0.5, 0.2], "in/h"), rel=1e-5)
    row = {"pressure_kpa": 400.0, "flow_l_s": 1.5, "radius_m": 20.0}
    profile = nozzle_profile("N1", {**row, "leg": survey.rows.loc["N1", "leg"]})
    assert profile.name == "measured"


def test_a_leg_may_come_under_other_names(read: Read) -> None:
    content = LEG.replace("distance_ft", "Away (ft)").replace("rate_in_h", "Caught in/h")
    said = {"Away (ft)": "distance_m", "Caught in/h": "rate_mm_h"}
    assert read(content, columns=said).rows["leg"].tolist() == read(LEG).rows["leg"].tolist()


def test_a_can_twice_with_two_rates_is_told(read: Read) -> None:
    survey = read(f"{LEG}N2,5,0.2\n")
    assert codes(survey) == ["nozzle-rows-contradict"]
    assert "distance_m 1.524" in survey.findings[0].message


def test_rates_without_distances_are_no_leg(read: Read) -> None:
    survey = read("nozzle,profile,rate_mm_h\nN1,ellipse,10\nN2,ellipse,8\n")
    assert codes(survey) == ["leg-incomplete"]
    assert "no distance_m" in survey.findings[0].message
    assert list(survey.rows.columns) == ["profile"]


def test_a_leg_s_unit_is_asked_for(read: Read) -> None:
    survey = read(LEG.replace("rate_in_h", "rate"))
    assert codes(survey) == ["unit-not-declared"]
    assert "leg" not in survey.rows
    assert list(survey.rows.index) == ["N1", "N2"]


def test_a_leg_with_a_cell_that_is_no_number(read: Read) -> None:
    survey = read(LEG.replace("N1,10,0.5", "N1,10,wet"))
    assert codes(survey) == ["bad-row"]
    assert survey.rows.loc["N1", "leg"].count(":") == 2


def test_other_tables_know_nothing_of_legs(read: Read) -> None:
    survey = read("id,label,distance_ft\nS1,one,3\n", table="stations")
    assert "unknown-column" in codes(survey)
    assert list(survey.rows.columns) == ["label"]
    frame: pd.DataFrame = survey.rows
    assert frame.index.tolist() == ["S1"]
