"""What a pair of rows costs: place, attributes, gates."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import MultiLineString, MultiPolygon, Point, box

from nightwater.ground.columns import EVIDENCE
from nightwater.ground.record import conform
from nightwater.ground.tables import GROUND_TABLES, TABLES
from nightwater.survey.gates import GATES_M, gate_m, pair_gates_m, widest_gate_m
from nightwater.survey.likeness import DISAGREEMENT, Pairs, disagreement, far_pairs, near_pairs

CRS = "EPSG:32612"
HEADS = TABLES["heads"]


def placed(table: str, shapes: list[object], **columns: list[object]) -> pd.DataFrame:
    index = pd.Index([f"r{n}" for n in range(len(shapes))], name="id", dtype=object)
    frame = gpd.GeoDataFrame(columns, index=index, geometry=shapes, crs=CRS)
    return conform(frame, TABLES[table], CRS)


def heads(*spots: tuple[float, float], **columns: list[object]) -> pd.DataFrame:
    return placed("heads", [Point(spot) for spot in spots], **columns)


def found(pairs: Pairs) -> dict[tuple[int, int], float]:
    keys = zip(pairs.told.tolist(), pairs.known.tolist(), strict=True)
    return dict(zip(keys, pairs.cost.tolist(), strict=True))


def test_a_gate_grows_with_the_weaker_evidence() -> None:
    assert [gate_m("heads", "surveyed", told) for told in EVIDENCE] == [3.0, 5.0, 8.0]
    assert gate_m("heads", "guessed", "surveyed") == 8.0
    assert gate_m("heads", None, None) == gate_m("heads", "surveyed", None) == 3.0


@pytest.mark.parametrize("name", [n for n in GROUND_TABLES if TABLES[n].shape is not None])
def test_every_table_with_places_has_a_gate(name: str) -> None:
    assert set(GATES_M[name]) == set(EVIDENCE)
    assert widest_gate_m(TABLES[name]) == max(GATES_M[name].values())


def test_the_gate_of_a_pair_is_that_of_both() -> None:
    told = heads((0, 0), (1, 0), evidence=["drawing", None])
    known = heads((0, 0), (1, 0), evidence=["guessed", "surveyed"])
    pair = np.array([0, 0, 1, 1]), np.array([0, 1, 0, 1])
    assert pair_gates_m(HEADS, told, known, pair).tolist() == [8.0, 5.0, 8.0, 3.0]
    bare = told.drop(columns="evidence")
    assert pair_gates_m(HEADS, bare, known, pair).tolist() == [8.0, 3.0, 8.0, 3.0]


def test_points_cost_their_share_of_the_gate() -> None:
    pairs = near_pairs(heads((0, 0)), heads((1.5, 0), (3.1, 0), (0, -3)), HEADS)
    assert found(pairs) == {(0, 0): pytest.approx(0.5), (0, 2): pytest.approx(1.0)}
    assert sorted(pairs.distance_m) == [1.5, 3.0]


def test_what_disagrees_costs_and_what_is_unknown_does_not() -> None:
    told = heads((0, 0), (9, 0), label=["A", "B"], nozzle=["N1", None])
    known = heads((0, 0), (9, 0), label=["a", "x"], nozzle=["N2", "N1"])
    pair = np.array([0, 0, 1, 1]), np.array([0, 1, 0, 1])
    label, nozzle = DISAGREEMENT["label"], DISAGREEMENT["nozzle"]
    assert disagreement(told, known, pair).tolist() == [nozzle, label, label, label]


def test_a_column_in_other_words_tells_nothing() -> None:
    told = heads((0, 0), (9, 0), station=["7-1", "7-2"])
    known = heads((0, 0), (9, 0), station=["S0701", "S0702"])
    pair = np.array([0, 0, 1, 1]), np.array([0, 1, 0, 1])
    assert disagreement(told, known, pair).tolist() == [0.0] * 4
    told, known = told.assign(arc_deg=90.0), known.assign(arc_deg=180.0)
    assert disagreement(told, known, pair).tolist() == [DISAGREEMENT["arc_deg"]] * 4


def test_sectors_agree_within_what_an_eye_reads_across_north() -> None:
    told = heads((0, 0), bearing_deg=[355.0], arc_deg=[180.0])
    known = heads((0, 0), (1, 0), bearing_deg=[10.0, 175.0], arc_deg=[190.0, 180.0])
    pair = np.array([0, 0]), np.array([0, 1])
    assert disagreement(told, known, pair).tolist() == [0.0, DISAGREEMENT["bearing_deg"]]


def test_areas_by_the_ground_they_share_and_their_kind() -> None:
    table = TABLES["areas"]
    told = placed("areas", [MultiPolygon([box(0, 0, 10, 10)])], kind=["green"])
    shapes = [MultiPolygon([box(0, 0, 10, y)]) for y in (10, 8, 2.5)]
    known = placed("areas", shapes, kind=["green", "tee", "green"])
    costs = found(near_pairs(told, known, table))
    assert costs[0, 0] == pytest.approx(0.0)
    assert costs[0, 1] == pytest.approx(0.2 / 0.7 + DISAGREEMENT["kind"])
    assert (0, 2) not in costs  # a quarter of the ground in common


def test_lines_by_their_course_and_their_nearness() -> None:
    table = TABLES["pipes"]

    def pipes(*lines: list[tuple[float, float]]) -> pd.DataFrame:
        shapes = [MultiLineString([line]) for line in lines]
        return placed("pipes", shapes, diameter_mm=[54.0] * len(lines))

    told = pipes([(0, 0), (100, 0)])
    known = pipes(
        [(0, 0), (100, 0)],  # itself
        [(0, 1), (100, 1)],  # beside it in the trench
        [(0, 0), (80, 0)],  # a fifth is missing
        [(0, 0), (0, 100)],  # from the same valve
        [(0, 0), (40, 0)],  # less than half of it
    )
    costs = found(near_pairs(told, known, table))
    assert sorted(known for _, known in costs) == [0, 1, 2]
    assert costs[0, 0] == pytest.approx(0.0, abs=1e-9)
    assert costs[0, 1] == pytest.approx(0.5 / 3)
    # The buffer's round end adds the gate: 83 of 100 m are beside it.
    assert costs[0, 2] == pytest.approx(0.5 * 0.17 / 0.5 + 0.5, abs=0.005)


def test_far_pairs_reach_one_spacing_and_not_another_label() -> None:
    told = heads((0, 0), (100, 0), label=["A", "B"])
    known = heads((12, 0), (16, 0), (112, 0), (95, 0), label=["A", "A", "C", None])
    pairs = far_pairs(told, known)
    assert found(pairs) == {(0, 0): pytest.approx(12 / 15), (1, 3): pytest.approx(5 / 15)}
