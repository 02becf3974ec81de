"""Nozzles from the listed flow, on small hand-made lists."""

from __future__ import annotations

import pandas as pd
import pytest
from shapely.geometry import Point

from nightwater.ground.nozzles import COLUMNS, propose_nozzles, with_nozzles
from nightwater.ground.record import ground_from

FLOWS = {"small": 0.9, "middle": 1.5, "large": 1.75}


def course(flow_l_s, count, listed=None, heads=None, flows=None):
    """One station of so many heads without nozzles, and three nozzles to choose from."""
    nozzles = {
        name: {"pressure_kpa": 480.0, "flow_l_s": flow, "radius_m": 18.0}
        for name, flow in (FLOWS if flows is None else flows).items()
    }
    tables = {
        "nozzles": nozzles,
        "stations": {"S": {"flow_listed_l_s": flow_l_s, "heads_listed": listed}},
        "heads": heads
        or {f"h{n}": {"station": "S", "geometry": Point(n, 0)} for n in range(count)},
    }
    frames = {n: pd.DataFrame.from_dict(rows, orient="index") for n, rows in tables.items() if rows}
    return ground_from("EPSG:32612", frames)


@pytest.mark.parametrize(
    ("flow", "count", "nozzle"),
    [
        (3.5, 2, "large"),
        (3.0, 2, "middle"),
        (0.9, 1, "small"),
        (4.5, 5, "small"),
        (1.6, 1, "middle"),
    ],
)
def test_the_nearest_flow_wins(flow, count, nozzle):
    found = propose_nozzles(course(flow, count))
    assert list(found.columns) == list(COLUMNS)
    assert set(found["nozzle"]) == {nozzle}
    assert len(found) == count
    assert found["flow_each_l_s"].to_numpy() == pytest.approx(flow / count)


@pytest.mark.parametrize(("flow", "fits"), [(0.9 * 1.079, True), (0.9 * 1.081, False)])
def test_eight_percent_is_the_limit(flow, fits):
    found = propose_nozzles(course(flow, 1)).iloc[0]
    assert (found["nozzle"] is not None) == fits
    assert (found["confidence"] > 0) == fits


def test_a_wider_limit_may_be_asked_for():
    assert propose_nozzles(course(1.1, 1), tolerance=0.25)["nozzle"].iloc[0] == "small"


def test_the_nearer_the_runner_up_the_less_sure():
    clear = propose_nozzles(course(0.9, 1)).iloc[0]
    between = propose_nozzles(course(1.61, 1)).iloc[0]
    assert clear["confidence"] > 0.95
    assert between["confidence"] < 0.2
    assert between["nozzle"] == "middle"
    assert between["runner_up"] == "large"


def test_known_nozzles_are_taken_off_first():
    heads = {
        "known": {"station": "S", "nozzle": "large", "geometry": Point(0, 0)},
        "open": {"station": "S", "geometry": Point(1, 0)},
    }
    found = propose_nozzles(course(1.75 + 0.9, 2, heads=heads))
    assert list(found.index) == ["open"]
    assert found["nozzle"].iloc[0] == "small"


def test_heads_that_only_the_list_counts_share_the_flow_and_lower_the_trust():
    """The list says three heads, the record has two: 4.5 L/s is 1.5 for each of three."""
    found = propose_nozzles(course(4.5, 2, listed=3))
    assert set(found["nozzle"]) == {"middle"}
    assert found["confidence"].max() <= 0.6
    assert found["reasons"].iloc[0].endswith("the list counts other heads than the record")


def test_more_heads_than_the_list_counts_share_it_too():
    found = propose_nozzles(course(4.5, 3, listed=2))
    assert set(found["nozzle"]) == {"middle"}
    assert found["confidence"].max() <= 0.6


def test_without_a_listed_flow_or_a_station_nothing_is_proposed():
    assert propose_nozzles(course(None, 2)).empty
    lone = {"h": {"station": None, "geometry": Point(0, 0)}}
    assert propose_nozzles(course(3.0, 1, heads=lone)).empty


def test_a_flow_that_the_known_heads_use_up_leaves_nothing():
    heads = {
        "known": {"station": "S", "nozzle": "large", "geometry": Point(0, 0)},
        "open": {"station": "S", "geometry": Point(1, 0)},
    }
    assert propose_nozzles(course(1.75, 2, heads=heads)).empty


def test_without_nozzles_nothing_is_proposed():
    found = propose_nozzles(course(3.0, 2, flows={}))
    assert found.empty
    assert list(found.columns) == list(COLUMNS)


def test_a_single_nozzle_has_no_runner_up():
    found = propose_nozzles(course(1.0, 1, flows={"only": 1.0})).iloc[0]
    assert found["nozzle"] == "only"
    assert found["runner_up"] is None
    assert found["confidence"] > 0.9


def test_equal_nozzles_cannot_be_told_apart():
    found = propose_nozzles(course(1.02, 1, flows={"one": 1.0, "two": 1.0})).iloc[0]
    assert found["nozzle"] == "one"
    assert found["confidence"] == 0.0


def test_accepting_fills_the_gaps_only():
    ground = course(3.0, 2)
    after = with_nozzles(ground, propose_nozzles(ground))
    assert set(after.heads["nozzle"]) == {"middle"}
    assert ground.heads["nozzle"].isna().all()
    assert propose_nozzles(after).empty
    far = course(0.3, 1)
    assert with_nozzles(far, propose_nozzles(far)).heads["nozzle"].isna().all()
