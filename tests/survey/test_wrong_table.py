"""A file surveyed as the wrong table, and every reason of a bad row at once."""

from __future__ import annotations

from pathlib import Path

import pytest

from nightwater.findings import UserError
from nightwater.ground.tables import TABLES
from nightwater.survey.read import ReadOptions, SurveyRows, read_table
from nightwater.survey.wrong_table import likely_tables

CRS = "EPSG:32612"
STATIONS = "id,Controller,Output,Heads listed,GPM\nS1,A,7,2,55\n"


def read(tmp_path: Path, table: str, text: str, **said: object) -> SurveyRows:
    path = tmp_path / "list.csv"
    path.write_text(text)
    return read_table(path, TABLES[table], CRS, ReadOptions(**said))  # type: ignore[arg-type]


def test_a_station_list_as_holes_is_refused_with_what_it_looks_like(tmp_path: Path) -> None:
    with pytest.raises(UserError) as refused:
        read(tmp_path, "holes", STATIONS)
    words = str(refused.value)
    assert words.startswith("list.csv has no column of table holes; it has Controller, Output")
    assert "It looks like stations: say --as stations." in words


def test_a_file_of_nothing_we_know_names_no_table(tmp_path: Path) -> None:
    with pytest.raises(UserError) as refused:
        read(tmp_path, "heads", "id,qqq,zzz\n1,2,3\n")
    assert "it has qqq, zzz. Or match columns" in str(refused.value)


def test_many_columns_are_not_all_told(tmp_path: Path) -> None:
    header = ",".join(f"c{n}x" for n in range(30))
    with pytest.raises(UserError, match="c11x and 18 more"):
        read(tmp_path, "heads", f"{header}\n{header}\n")


@pytest.mark.parametrize(
    ("table", "text", "said"),
    [
        ("heads", "id,lon,lat,qqq\nH1,-112,39.2,5\n", {}),  # bare points with an id
        ("heads", "id\nH1\n", {}),  # a list of ids
        ("nozzles", "id,throw,pressure\nN1,60,70\n", {}),  # a unit is asked for instead
        ("stations", "id,qqq\nS1,5\n", {"fixed": {"controller": "A"}}),
        ("stations", "id,qqq\nS1,5\n", {"columns": {"qqq": "output"}}),
    ],
)
def test_a_file_that_says_something_is_read(
    tmp_path: Path, table: str, text: str, said: dict[str, object]
) -> None:
    assert len(read(tmp_path, table, text, **said).rows) == 1


@pytest.mark.parametrize(
    ("header", "likely"),
    [
        (["id", "Throw ft", "GPM", "psi", "rotation_s"], "nozzles"),
        (["id", "nozzle", "arc_deg", "bearing", "station"], "heads"),
        (["id", "controller", "output", "heads_listed"], "stations"),
        (["id", "diameter_in", "material", "installed_year"], "pipes"),
        (["id", "soil", "grass", "kind"], "areas"),
    ],
)
def test_columns_tell_the_table(header: list[str], likely: str) -> None:
    assert likely_tables(header)[0] == likely


def test_names_that_all_tables_have_tell_nothing() -> None:
    assert likely_tables(["id", "label", "evidence"]) == []


def test_all_reasons_of_a_row_are_told_at_once(tmp_path: Path) -> None:
    text = "id,lon,lat,arc_deg,pressure_psi,condition\nH1,-112,39.2,5,8000,lost\n"
    survey = read(tmp_path, "heads", text)
    (finding,) = survey.findings
    for words in (
        "arc_deg is 5, outside 10 to 360",
        "pressure_kpa is 8000 psi, outside 7.252 to 174 psi",
        "condition is 'lost', not one of good",
    ):
        assert words in finding.message
    assert survey.refused == {"H1"}
