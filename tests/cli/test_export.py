"""`nightwater export`, as a person runs it: every ending, whole or not at all."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from nightwater.desk.course import open_course
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.survey.propose import propose, to_changes
from nightwater.survey.read import ReadOptions, read_table

Run = Callable[..., tuple[int, str, str]]


@pytest.mark.parametrize(
    "name", ["r.json", "r.gpkg", "r.geojson", "r.kml", "r.xlsx", "r.zip", "r.KML"]
)
def test_every_ending_is_written(
    small_course: Path, tmp_path: Path, run_cli: Run, name: str
) -> None:
    status, _, err = run_cli("export", small_course, tmp_path / name)
    assert status == 0, err
    assert (tmp_path / name).stat().st_size > 500


@pytest.mark.parametrize("name", ["r.gpkg", "r.geojson", "r.zip"])
def test_surveying_an_export_changes_nothing(
    small_course: Path, tmp_path: Path, run_cli: Run, name: str
) -> None:
    assert run_cli("export", small_course, tmp_path / name)[0] == 0
    with open_course(small_course) as course:
        ground = course.file.ground()
    for table in GROUND_TABLES:
        rows = read_table(tmp_path / name, TABLES[table], ground.crs, ReadOptions(layer=table))
        proposal = propose(ground, TABLES[table], rows, complete=True)
        assert len(to_changes(proposal, include_doubtful=True)) == 0
        assert proposal.findings == ()


def test_the_survey_command_takes_an_export_back(
    small_course: Path, tmp_path: Path, run_cli: Run
) -> None:
    out = tmp_path / "r.zip"
    assert run_cli("export", small_course, out)[0] == 0
    more = ("--as", "heads", "--layer", "heads", "--complete", "--yes")
    status, _, err = run_cli("survey", small_course, out, *more)
    assert (status, "Nothing to change." in err) == (0, True)


def test_a_name_without_ending_is_a_new_folder_of_tables(
    small_course: Path, tmp_path: Path, run_cli: Run
) -> None:
    out = tmp_path / "tables"
    assert run_cli("export", small_course, out)[0] == 0
    assert {path.stem for path in out.glob("*.csv")} == set(GROUND_TABLES)
    assert (out / "heads.prj").is_file()
    status, _, err = run_cli("export", small_course, out)
    assert (status, "is there already" in " ".join(err.split())) == (2, True)
    assert sorted(path.name for path in tmp_path.iterdir() if path.name.startswith(".")) == []


def test_a_folder_that_is_a_file_is_refused(
    small_course: Path, tmp_path: Path, run_cli: Run
) -> None:
    (tmp_path / "tables").write_text("mine")
    assert run_cli("export", small_course, tmp_path / "tables")[0] == 2
    assert (tmp_path / "tables").read_text() == "mine"


def test_the_course_itself_is_never_written_over(
    small_course: Path, tmp_path: Path, run_cli: Run
) -> None:
    before = small_course.read_bytes()
    status, _, err = run_cli("export", small_course, small_course)
    assert (status, "is the course itself" in " ".join(err.split())) == (2, True)
    link = tmp_path / "alias.gpkg"
    link.symlink_to(small_course)
    assert run_cli("export", small_course, link)[0] == 2
    assert small_course.read_bytes() == before


def test_an_ending_nobody_writes_is_refused_with_the_known_ones(
    small_course: Path, tmp_path: Path, run_cli: Run
) -> None:
    status, _, err = run_cli("export", small_course, tmp_path / "r.doc")
    assert (status, ".geojson" in err) == (2, True)
    assert not (tmp_path / "r.doc").exists()


def test_a_place_that_cannot_be_written_is_told(
    small_course: Path, tmp_path: Path, run_cli: Run
) -> None:
    for name in ("nowhere/r.kml", "nowhere/tables"):
        status, _, err = run_cli("export", small_course, tmp_path / name)
        assert (status, "cannot be written" in " ".join(err.split())) == (2, True)


def test_an_archive_holds_the_tables_and_their_systems(
    small_course: Path, tmp_path: Path, run_cli: Run
) -> None:
    run_cli("export", small_course, tmp_path / "r.zip")
    names = zipfile.ZipFile(tmp_path / "r.zip").namelist()
    located = [name for name in GROUND_TABLES if TABLES[name].shape is not None]
    assert sorted(names) == sorted(
        [*(f"{name}.csv" for name in GROUND_TABLES), *(f"{name}.prj" for name in located)]
    )
