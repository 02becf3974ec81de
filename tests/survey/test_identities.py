"""Made-up ids, settled against the record."""

from __future__ import annotations

import geopandas as gpd
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiLineString, Point

from nightwater.ground.record import conform, empty
from nightwater.ground.tables import TABLES
from nightwater.survey.identities import settled
from nightwater.survey.read import SurveyRows, numbered_id

CRS = "EPSG:32612"
HEADS = TABLES["heads"]


def points(**places: tuple[float, float]) -> gpd.GeoDataFrame:
    index = pd.Index(list(places), name="id", dtype=object)
    return gpd.GeoDataFrame(
        {"arc_deg": 360.0}, index=index, geometry=[Point(p) for p in places.values()], crs=CRS
    )


def survey(rows: pd.DataFrame, *generated: str) -> SurveyRows:
    places = {str(key): f"line {number}" for number, key in enumerate(rows.index, 2)}
    return SurveyRows(rows, places, frozenset(generated), frozenset(), (), "file.csv")


def record(rows: pd.DataFrame) -> pd.DataFrame:
    return conform(rows, HEADS, CRS)


def test_numbers_are_padded_and_named_for_one_thing() -> None:
    assert numbered_id("heads", 7) == "head-0007"
    assert numbered_id("stations", 12345) == "station-12345"


def test_given_ids_are_never_touched() -> None:
    told = survey(points(H1=(0, 0)))
    assert settled(told, record(points(H1=(0, 0))), HEADS).rows is told


def test_the_nearest_thing_gives_its_id_and_only_once() -> None:
    known = record(points(A=(0, 0), B=(0.6, 0)))
    rows = points(**{"head-0001": (0.4, 0), "head-0002": (0.5, 0), "head-0003": (9, 0)})
    found = settled(survey(rows, *rows.index), known, HEADS).rows
    assert found.rows.index.tolist() == ["A", "B", "head-0003"]
    assert found.places == {"A": "line 2", "B": "line 3", "head-0003": "line 4"}
    assert found.generated == {"A", "B", "head-0003"}


def test_an_id_that_the_file_gives_to_another_row_is_not_taken_twice() -> None:
    known = record(points(A=(0, 0)))
    rows = points(**{"A": (50, 0), "head-0002": (0.1, 0)})
    found = settled(survey(rows, "head-0002"), known, HEADS).rows
    assert found.rows.index.tolist() == ["A", "head-0002"]


def test_a_line_is_found_again_by_its_whole_course() -> None:
    table = TABLES["pipes"]

    def pipes(**lines: list[tuple[float, float]]) -> gpd.GeoDataFrame:
        shapes = [MultiLineString([line]) for line in lines.values()]
        return gpd.GeoDataFrame(
            {"diameter_mm": 54.0}, index=pd.Index(list(lines), name="id"), geometry=shapes, crs=CRS
        )

    known = conform(pipes(P1=[(0, 0), (100, 0)], P2=[(0, 0), (0, 80)]), table, CRS)
    rows = pipes(**{"pipe-0001": [(0, 0.2), (0, 80.2)], "pipe-0002": [(0, 0), (40, 0)]})
    found = settled(survey(rows, *rows.index), known, table).rows
    assert found.rows.index.tolist() == ["P2", "pipe-0002"]


def test_labels_that_stand_twice_find_nobody() -> None:
    table = TABLES["controllers"]
    known = conform(pd.DataFrame({"label": ["a", "a", "b"]}, index=["C1", "C2", "C3"]), table, CRS)
    rows = pd.DataFrame({"label": ["a", "b", None]}, index=["k1", "k2", "k3"])
    found = settled(survey(rows, "k1", "k2", "k3"), known, table).rows
    assert found.rows.index.tolist() == ["k1", "C3", "k3"]


def test_an_empty_record_keeps_the_numbers() -> None:
    rows = points(**{"head-0001": (0, 0), "head-0002": (20, 0)})
    found = settled(survey(rows, *rows.index), empty(HEADS, CRS), HEADS).rows
    assert found.rows.index.tolist() == ["head-0001", "head-0002"]


def test_rows_without_place_in_a_table_of_places() -> None:
    known = record(points(**{"head-0001": (0, 0)}))
    rows = pd.DataFrame({"label": ["x"]}, index=["head-0001"])
    found = settled(survey(rows, "head-0001"), known, HEADS).rows
    assert found.rows.index.tolist() == ["head-0002"]


spots = st.lists(st.tuples(st.integers(0, 12), st.integers(0, 2)), max_size=8, unique=True)


@settings(max_examples=60, deadline=None)
@given(known=spots, told=spots)
def test_ids_stay_distinct_and_no_stranger_is_met(
    known: list[tuple[int, int]], told: list[tuple[int, int]]
) -> None:
    held = record(points(**{numbered_id("heads", n): p for n, p in enumerate(known, 1)}))
    rows = points(**{numbered_id("heads", n): p for n, p in enumerate(told, 1)})
    found = settled(survey(rows, *rows.index), held, HEADS)
    assert found.rows.rows.index.is_unique
    assert len(found.rows.rows) == len(told)
    for key, place in found.rows.rows.geometry.items():
        if key in held.index:
            apart = held.geometry[key].distance(place)
            assert apart == pytest.approx(found.found[str(key)].distance_m)
            assert (apart > 3.0) == found.found[str(key)].beyond_gate
        elif len(told) <= len(known):
            # With a row for everybody only distance keeps apart.
            free = [k for k in held.index if k not in found.rows.rows.index]
            assert all(held.geometry[k].distance(place) > 3.0 for k in free)
