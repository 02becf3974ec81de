"""Mangled files: never a crash, never a partial write, never a value nobody wrote."""

from __future__ import annotations

import json
import random
import warnings
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from nightwater.findings import UserError
from nightwater.ground.changes import plain_rows
from nightwater.ground.tables import TABLES
from nightwater.ground.validity import row_faults
from nightwater.store.course_file import CourseFile
from nightwater.survey.propose import propose, to_changes
from nightwater.survey.read import ReadOptions, read_table
from nightwater.survey.suggest import suggest_columns

NOW = datetime(2026, 7, 14, tzinfo=UTC)
HEADS = "id,lon,lat,arc_deg,spacing_ft,row_ft,condition,evidence,elevation_ft\n" + "".join(
    f"H{n},{-112 + n * 0.0002:.6f},{39.2 + n * 0.0001:.6f},{90 + n},65,56.3,good,surveyed,4500\n"
    for n in range(25)
)
STATIONS = "id;label;output;heads_listed;flow_listed_gpm\n" + "".join(
    f"S{n};path {n};{n};2;{27.5 + n:.1f}\n".replace(".", ",") for n in range(25)
)
PIPES = json.dumps(
    {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "properties": {"id": f"P{n}", "diameter_in": 2.1 + n, "kind": "lateral"},
                "geometry": {
                    "type": "LineString",
                    "coordinates": [[-112 + n * 1e-4, 39.2], [-112 + n * 1e-4, 39.201, 1372.0]],
                },
            }
            for n in range(15)
        ],
    }
)
SEEDS = {"heads": (HEADS, ".csv"), "stations": (STATIONS, ".csv"), "pipes": (PIPES, ".geojson")}
PIECES = ["", ",", ";", "\t", "\n", "\r\n", '"', "'", "\x00", "\ufeff", "NaN", "inf", "-1", "1e309"]
PIECES += ["9" * 400, "ä", "\udcff", "id", "null", "{}", "[]", "[[]]", "{", "}", "]", ":", "\\"]
PIECES += [
    "-999",
    "1,5",
    "1.234,5",
    "true",
    "=1+1",
    "<b>",
    "'; DROP TABLE heads; --",
    "\u202e",
    "0x1",
]


def mangled(text: str, chance: random.Random) -> bytes:
    """A few edits as bad hands, bad disks and bad programs make them."""
    for _ in range(chance.randint(1, 5)):
        start = chance.randrange(len(text) + 1)
        end = min(len(text), start + chance.choice([0, 0, 1, 3, 12, 200]))
        piece = chance.choice([*PIECES, text[start:end] * 2, text[end : end + 40]])
        text = text[:start] + piece + text[end:]
    content = text.encode("utf-8", "surrogateescape")
    if chance.random() < 0.15:
        position = chance.randrange(len(content) + 1)
        content = content[:position] + bytes(chance.randrange(256) for _ in range(3))
    return content


VALUES = [
    None,
    True,
    -1,
    0,
    1e300,
    "wide",
    "",
    "2,1",
    [],
    {},
    [1, 2],
    "P1",
    54,
    "\u202e",
    "é" * 300,
]


def mangled_features(text: str, chance: random.Random) -> bytes:
    """Sound JSON with wrong things in it."""
    whole = json.loads(text)
    for _ in range(chance.randint(1, 6)):
        feature = chance.choice(whole["features"])
        where = chance.choice(["properties", "geometry", "coordinates", "feature", "crs"])
        value = chance.choice(VALUES)
        if where == "properties":
            (feature["properties"] or {})[chance.choice(["id", "diameter_in", "kind", "x"])] = value
        elif where == "coordinates" and isinstance(feature["geometry"], dict):
            feature["geometry"]["coordinates"] = chance.choice(
                [value, [], [[-112, 39.2]], [[-112, 39.2], [1e9, 39.2]], [[-112, 139], [0, 0]]]
            )
        elif where == "geometry" and isinstance(feature["geometry"], dict):
            feature["geometry"]["type"] = chance.choice(["Point", "Polygon", "Nothing", value])
        elif where == "feature":
            feature[chance.choice(["geometry", "id", "type", "extra"])] = value
        else:
            whole["crs"] = value
        whole["features"] = [f for f in whole["features"] if isinstance(f, dict)]
        for each in whole["features"]:
            each.setdefault("properties", {})
    return json.dumps(whole).encode()


@pytest.mark.parametrize("table", sorted(SEEDS))
def test_the_seeds_load_whole(tmp_path: Path, table: str) -> None:
    text, ending = SEEDS[table]
    path = tmp_path / f"seed{ending}"
    path.write_text(text)
    survey = read_table(path, TABLES[table], "EPSG:32612", ReadOptions())
    assert len(survey.rows) == (15 if table == "pipes" else 25)
    assert not survey.refused


@pytest.mark.parametrize("table", sorted(SEEDS))
def test_mangled_files_are_read_refused_or_named_never_half_saved(
    tmp_path: Path, write_course: Callable[[], Path], table: str
) -> None:
    text, ending = SEEDS[table]
    chance = random.Random(f"nightwater {table}")
    sound = refused = 0
    with CourseFile.open(write_course()) as file, warnings.catch_warnings():
        warnings.simplefilter("error", RuntimeWarning)
        before = file.ground()
        for turn in range(100):
            path = tmp_path / f"mangled{turn}{ending}"
            hand = mangled_features if table == "pipes" and turn % 3 else mangled
            path.write_bytes(hand(text, chance))
            try:
                suggest_columns(path, TABLES[table])
                survey = read_table(path, TABLES[table], before.crs, ReadOptions())
                changes = to_changes(
                    propose(before, TABLES[table], survey), include_doubtful=bool(turn % 2)
                )
            except UserError:
                refused += 1
                continue
            finally:
                path.unlink()
            sound += len(survey.rows) > 0
            if not changes:
                continue
            file.accept(changes, "Pilar", "survey", NOW)
            before = file.ground()
            rows = plain_rows(before.table(table), TABLES[table])
            for change in changes.rows:
                assert rows[change.id] == change.after
            assert [
                fault for row in rows.values() for fault in row_faults(TABLES[table], row)
            ] == []
        assert file.running("nights").empty
    assert sound > 20
    assert refused > 0


@pytest.mark.parametrize("ending", [".gpkg", ".shp", ".zip", ".fgb", ".gml", ".json", ".csv"])
def test_bytes_of_nothing_are_refused_with_a_sentence(tmp_path: Path, ending: str) -> None:
    chance = random.Random(7)
    path = tmp_path / f"noise{ending}"
    options = ReadOptions(crs="EPSG:4326")
    for size in (1, 16, 100, 5000):
        path.write_bytes(bytes(chance.randrange(256) for _ in range(size)))
        try:
            survey = read_table(path, TABLES["heads"], "EPSG:32612", options)
        except UserError:
            continue
        assert ending == ".csv"  # any bytes are Latin-1 text
        assert "geometry" not in survey.rows


def test_a_torn_geopackage_is_refused_with_a_sentence(
    tmp_path: Path, write_course: Callable[[], Path]
) -> None:
    content = write_course().read_bytes()
    path = tmp_path / "torn.gpkg"
    for share in (0.1, 0.5, 0.9):
        path.write_bytes(content[: int(len(content) * share)])
        with pytest.raises(UserError, match=r"torn\.gpkg"):
            read_table(path, TABLES["heads"], "EPSG:32612", ReadOptions(layer="heads"))
