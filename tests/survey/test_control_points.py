"""Control points out of text tables: which columns, which system."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from pyproj import Transformer

from nightwater.findings import UserError
from nightwater.survey.control_points import MOST_POINTS, read_control_points

UTM = "EPSG:32612"
X, Y = 413_000.0, 4_340_000.0
LONGITUDE, LATITUDE = Transformer.from_crs(UTM, "EPSG:4326", always_xy=True).transform(X, Y)


def written(tmp_path: Path, text: str, name: str = "points.csv") -> Path:
    path = tmp_path / name
    path.write_text(text)
    return path


@pytest.mark.parametrize(
    "header", ["column,row,longitude,latitude", "Column,ROW,lon,lat", "row,column,lat,lon"]
)
def test_degrees_become_the_records_metres(tmp_path: Path, header: str) -> None:
    cells = {"column": 12.5, "row": 700}
    cells |= dict.fromkeys(("longitude", "lon"), LONGITUDE)
    cells |= dict.fromkeys(("latitude", "lat"), LATITUDE)
    line = ",".join(repr(cells[name.lower()]) for name in header.split(","))
    found = read_control_points(written(tmp_path, f"{header}\n{line}\n"), UTM)
    np.testing.assert_allclose(found, [[12.5, 700, X, Y]], atol=1e-3)


def test_metres_of_the_record_need_no_system(tmp_path: Path) -> None:
    path = written(tmp_path, f"column,row,x_m,y_m\n1,2,{X},{Y}\n3,4,{X + 1},{Y}\n")
    assert read_control_points(path, UTM).tolist() == [[1, 2, X, Y], [3, 4, X + 1, Y]]


@pytest.mark.parametrize("pair", ["x,y", "easting,northing"])
def test_plain_coordinates_ask_for_their_system(tmp_path: Path, pair: str) -> None:
    path = written(tmp_path, f"column,row,{pair}\n1,2,{X},{Y}\n")
    with pytest.raises(UserError, match=r"in which system .* --crs .*EPSG:32612"):
        read_control_points(path, UTM)
    assert read_control_points(path, UTM, UTM).tolist() == [[1, 2, X, Y]]


def test_feet_are_told_by_their_system(tmp_path: Path) -> None:
    """A state plane system in US survey feet: 1 ft is 0.3048006 m."""
    there = Transformer.from_crs(UTM, "EPSG:3560", always_xy=True)
    first, second = there.transform(X, Y), there.transform(X + 100, Y)
    assert np.hypot(second[0] - first[0], second[1] - first[1]) == pytest.approx(328.1, abs=0.5)
    path = written(tmp_path, f"column,row,x,y\n1,2,{first[0]:.5f},{first[1]:.5f}\n")
    found = read_control_points(path, UTM, "EPSG:3560")
    np.testing.assert_allclose(found[0, 2:], [X, Y], atol=0.01)


def test_decimal_commas_where_semicolons_part_the_columns(tmp_path: Path) -> None:
    path = written(tmp_path, "column;row;x_m;y_m\n1,5;2;413000,25;4340000\n")
    assert read_control_points(path, UTM).tolist() == [[1.5, 2, 413_000.25, Y]]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("row,x_m,y_m\n1,2,3\n", "lacks the columns 'column' and 'row'"),
        ("column,row\n1,2\n", "says no place. Wanted: column,row,longitude,latitude"),
        ("column,row,x_m,y_m\n1,2,3,4\n1,two,3,4\n", "line 3: 'two' is not a number"),
        ("column,row,x_m,y_m\n1,,3,4\n", "line 2: '' is not a number"),
        ("column,row,lon,lat\n1,2,-112,99\n", "lies outside"),
        ("column,row,x_m,y_m\n" + "1,2,3,4\n" * (MOST_POINTS + 1), "has 101 rows; 100 are"),
    ],
)
def test_what_cannot_be_read_is_named(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(UserError, match=words):
        read_control_points(written(tmp_path, text), UTM)


def test_an_unknown_system_and_another_kind_of_file(tmp_path: Path) -> None:
    path = written(tmp_path, "column,row,x,y\n1,2,3,4\n")
    with pytest.raises(UserError, match="no coordinate system 'EPSG:0'"):
        read_control_points(path, UTM, "EPSG:0")
    with pytest.raises(UserError, match="come in a text table"):
        read_control_points(written(tmp_path, "{}", "points.json"), UTM)
