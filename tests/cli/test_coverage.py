"""coverage as a person types it."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pytest
import rasterio
from PIL import Image

Run = Callable[..., tuple[int, str, str]]
NIGHT = "2026-07-14"


@pytest.fixture
def planned(small_course: Path) -> Path:
    from nightwater.desk.course import open_course
    from nightwater.desk.planning import plan

    now = datetime(2026, 7, 14, 21, tzinfo=UTC)
    with open_course(small_course) as course:
        plan(course, date.fromisoformat(NIGHT), who="Pilar", now=now)
    return small_course


def test_rates_of_every_area_as_a_table(run_cli: Run, small_course: Path) -> None:
    status, out, err = run_cli("coverage", small_course)
    assert status == 0
    assert "heads come from the solved pipes" in " ".join(err.split())
    for word in ("Rate while every head runs", "du_lq", "scheduling_coefficient", "A-F", "A-T"):
        assert word[:8] in out


def test_figures_of_a_night_as_csv_agree_with_json(run_cli: Run, planned: Path) -> None:
    words = ("coverage", planned, "--night", NIGHT, "--format")
    _status, out, _err = run_cli(*words, "csv")
    by_csv = {row["id"]: row for row in csv.DictReader(io.StringIO(out))}
    _status, out, _err = run_cli(*words, "json")
    rows = json.loads(out)
    assert {row["id"] for row in rows} == set(by_csv) == {"A-G", "A-F", "A-R", "A-T"}
    for row in rows:
        assert float(by_csv[row["id"]]["mean_mm"]) == pytest.approx(row["mean_mm"])
        assert 0 <= row["du_lq"] <= row["du_lh"] <= 1
        assert 0 <= row["short_share"] <= 1


def test_one_area_by_its_label_and_other_groups(run_cli: Run, planned: Path) -> None:
    _status, out, _err = run_cli("coverage", planned, "--area", "a-g", "--format", "json")
    (green,) = json.loads(out)
    assert green["id"] == "A-G"
    _status, out, _err = run_cli(
        "coverage", planned, "--area", "A-G", "--by", "station", "--format", "json"
    )
    stations = json.loads(out)
    assert {"S-G0", "S-G1", "S-G2", "S-G3"} <= {row["id"] for row in stations}
    reached_m2 = sum(row["turf_m2"] for row in stations)
    assert 0.9 * green["turf_m2"] < reached_m2 < green["turf_m2"]  # dry cells are nobody's
    _status, out, _err = run_cli("coverage", planned, "--by", "kind", "--format", "csv")
    assert "scheduling_coefficient" not in out.splitlines()[0]


def test_a_window_that_stays_dry_has_no_number(run_cli: Run, planned: Path) -> None:
    _status, out, _err = run_cli("coverage", planned, "--format", "json", "--window", "0.01")
    for row in json.loads(out):
        coefficient = row["scheduling_coefficient"]
        assert coefficient is None or 1 <= coefficient < 1e12


def test_a_geotiff_of_one_area(run_cli: Run, planned: Path, tmp_path: Path) -> None:
    path = tmp_path / "green.tif"
    words = ("--night", NIGHT, "--area", "A-G", "--units", "metric", "--cell", "0.5")
    status, out, err = run_cli("coverage", planned, *words, "--format", "json", "--out", path)
    assert status == 0
    assert "Wrote" in err
    with rasterio.open(path) as file:
        numbers = file.read(1)
        assert file.units == ("mm",)
        assert file.res == (0.5, 0.5)
    (row,) = json.loads(out)
    assert np.nanmean(numbers) == pytest.approx(row["mean_mm"], rel=1e-5)
    assert np.isfinite(numbers).sum() * 0.25 == pytest.approx(row["turf_m2"])


def test_a_picture_of_what_is_short(run_cli: Run, planned: Path, tmp_path: Path) -> None:
    path = tmp_path / "short.png"
    status, *_ = run_cli("coverage", planned, "--night", NIGHT, "--show", "shortage", "--out", path)
    assert status == 0
    assert Image.open(path).width > 400


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--show", "depth"), "needs a night"),
        (("--night", "2026-07-20"), "No night is planned"),
        (("--area", "11 green"), "no area '11 green'"),
        (("--out", "map.jpg"), "none of these endings"),
        (("--cell", "5"), "A cell of 5 m is not offered"),
        (("--window", "0.5"), "window of 50 %"),
    ],
)
def test_mistakes_are_told_in_one_sentence(
    run_cli: Run, planned: Path, words: tuple[str, ...], told: str
) -> None:
    status, _out, err = run_cli("coverage", planned, *words)
    assert status == 2
    assert told in " ".join(err.split())


def test_a_trim_on_the_map_makes_its_patch_short(
    run_cli: Run, planned: Path, tmp_path: Path
) -> None:
    from nightwater.desk.course import open_course
    from nightwater.desk.exceptions import TrimWish, add_trim

    words = ("coverage", planned, "--night", NIGHT, "--show", "shortage", "--format", "json")
    before = {row["id"]: row for row in json.loads(run_cli(*words)[1])}
    with open_course(planned) as course:
        knoll = course.ground.areas.geometry.loc["A-F"].centroid.buffer(12.0)
        day = date.fromisoformat(NIGHT)
        add_trim(course, TrimWish("map", 2.0, 0.0, day, day, "dry knoll", knoll), who="Ines")
    _status, out, err = run_cli(*words, "--out", tmp_path / "short.tif")
    after = {row["id"]: row for row in json.loads(out)}
    assert after["A-F"]["need_mm"] > before["A-F"]["need_mm"]
    assert after["A-F"]["short_m3"] > before["A-F"]["short_m3"]
    assert after["A-G"] == before["A-G"]
    assert "Need is that of each cell" in " ".join(err.split())
