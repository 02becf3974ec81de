"""Proposed stations against the list: one matching of all, and every disagreement told."""

from __future__ import annotations

from collections.abc import Callable
from itertools import permutations
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, box

from nightwater.findings import UserError
from nightwater.ground.list_doubts import list_doubts
from nightwater.ground.number_rules import KIND_RULES, KindRule, NumberRules
from nightwater.ground.pair_rules import PairRules
from nightwater.ground.pairing import propose_stations
from nightwater.ground.reconcile import (
    AGREES,
    DOUBTFUL,
    NO_HEADS,
    NO_ROW,
    MatchCosts,
    Reconciliation,
    expected_stations,
    match_costs,
    reconcile,
    with_matches,
)
from nightwater.ground.record import Ground, ground_from

CRS = "EPSG:32612"
RULES = NumberRules(kinds=dict(KIND_RULES) | {"fairway": KindRule("F", "sequence")})
ALONE = PairRules(kinds={"fairway": "single", "rough": "pair"})
Listed = list[dict[str, Any]]


def fairway_list(count: int = 8) -> Listed:
    """A right list of the hole below: 01-F-01 … on outputs 1 … of path A."""
    return [
        {
            "id": f"S{n}",
            "label": f"01-F-{n:02d}",
            "controller": "A",
            "output": n,
            "heads_listed": 1,
            "flow_listed_l_s": 1.7,
            "heads": None,
        }
        for n in range(1, count + 1)
    ]


@pytest.fixture
def hole() -> Callable[..., Ground]:
    """One hole: eight heads along its fairway, two by two on its rough, with a list."""

    def made(listed: Listed, rough: int = 0, labels: bool = False) -> Ground:
        spots = {f"H{n}": Point(20.0 * n, 0.0) for n in range(1, 9)}
        spots |= {f"R{n}": Point(20.0 * n, 35.0) for n in range(1, rough + 1)}
        heads = gpd.GeoDataFrame(
            {
                "nozzle": "N",
                "arc_deg": 360.0,
                "spacing_m": 20.0,
                "row_m": 17.3,
                "label": [f"tag {name}" if labels else None for name in spots],
            },
            index=list(spots),
            geometry=list(spots.values()),
            crs=CRS,
        )
        areas = gpd.GeoDataFrame(
            {"kind": ["fairway", "rough"], "hole": "one"},
            index=["fairway", "rough"],
            geometry=[box(0, -15, 200, 15), box(-30, 15, 230, 60)],
            crs=CRS,
        )
        holes = gpd.GeoDataFrame(
            {"number": [1]}, index=["one"], geometry=[LineString([(0, 0), (200, 0)])], crs=CRS
        )
        nozzles = pd.DataFrame({"flow_l_s": [1.7], "pressure_kpa": [480.0], "radius_m": [20.0]})
        tables: dict[str, pd.DataFrame] = {
            "heads": heads,
            "areas": areas,
            "holes": holes,
            "nozzles": nozzles.set_axis(["N"]),
            "stations": pd.DataFrame(listed).set_index("id"),
            "controllers": pd.DataFrame({"label": ["A"]}, index=["A"]),
        }
        return ground_from(CRS, tables)

    return made


def judged(ground: Ground, costs: MatchCosts | None = None) -> Reconciliation:
    return reconcile(ground, propose_stations(ground, ALONE, RULES), RULES, costs)


def by_station(found: Reconciliation) -> dict[str, Any]:
    rows = found.rows.dropna(subset=["station"])
    return {row["station"]: row for row in rows.to_dict("records")}


def codes(found: Reconciliation) -> list[str]:
    return [finding.code for finding in list_doubts(found)]


# Agreement


def test_a_right_list_agrees_in_every_row_and_nothing_is_told(hole: Any) -> None:
    found = judged(hole(fairway_list()))
    assert found.rows["verdict"].tolist() == [AGREES] * 8
    assert found.rows["cost"].tolist() == [0.0] * 8
    assert list_doubts(found) == []
    assert by_station(found)["S3"]["heads"] == ("H3",)


def test_the_order_of_the_list_does_not_matter(hole: Any) -> None:
    found = judged(hole(fairway_list()[::-1]))
    assert by_station(found)["S3"]["heads"] == ("H3",)
    assert list_doubts(found) == []


def test_pairs_bear_the_number_of_their_first_head(hole: Any) -> None:
    listed = fairway_list() + [
        {"id": f"P{n}", "label": f"01-R-{n:02d}", "heads_listed": 2, "flow_listed_l_s": 3.4}
        for n in (1, 5)
    ]
    # All four rough heads stand on the left, so they are 01, 03, 05 and 07.
    found = by_station(judged(hole(listed, rough=4)))
    assert found["P1"]["heads"] == ("R1", "R2")
    assert found["P5"]["heads"] == ("R3", "R4")
    assert found["P5"]["verdict"] == AGREES


def test_a_list_without_labels_is_matched_by_what_it_does_say(hole: Any) -> None:
    listed = [row | {"label": None} for row in fairway_list()]
    found = judged(hole(listed))
    assert set(found.rows["verdict"]) == {DOUBTFUL}
    assert sorted(heads for row in found.rows["heads"] for heads in row) == [
        f"H{n}" for n in range(1, 9)
    ]


def test_names_on_the_list_count_more_than_numbers(hole: Any) -> None:
    listed = fairway_list()
    listed[2]["heads"], listed[3]["heads"] = "tag H4", "tag H3"
    found = judged(hole(listed, labels=True))
    assert by_station(found)["S3"]["heads"] == ("H4",)
    assert by_station(found)["S4"]["heads"] == ("H3",)


# Disagreement


def test_a_missing_row_leaves_its_heads_alone_and_shifts_nobody(hole: Any) -> None:
    listed = fairway_list()
    del listed[3]
    found = judged(hole(listed))
    assert found.rows["verdict"].value_counts().to_dict() == {AGREES: 7, NO_ROW: 1}
    (doubt,) = list_doubts(found)
    assert (doubt.code, doubt.subject) == ("heads-without-row", "heads:H4")
    alone = found.rows[found.rows["verdict"] == NO_ROW].iloc[0]
    assert (alone["station"], alone["label"], alone["runner_up"]) == (None, None, None)


def test_a_row_too_many_is_told(hole: Any) -> None:
    extra = {"id": "S99", "label": "07-F-40", "heads_listed": 1, "flow_listed_l_s": 1.7}
    found = judged(hole([*fairway_list(), extra]))
    (doubt,) = list_doubts(found)
    assert (doubt.code, doubt.subject) == ("list-row-without-heads", "stations:S99")
    assert found.rows["verdict"].value_counts().to_dict() == {AGREES: 8, NO_HEADS: 1}


def test_a_row_of_another_hole_never_takes_the_place_of_a_missing_one(hole: Any) -> None:
    listed = fairway_list()
    listed[3] = listed[3] | {"id": "S99", "label": "07-F-04"}
    assert sorted(codes(judged(hole(listed)))) == ["heads-without-row", "list-row-without-heads"]


def test_a_wrong_count_is_told_and_the_match_stays(hole: Any) -> None:
    listed = fairway_list()
    listed[4]["heads_listed"] = 2
    found = judged(hole(listed))
    (doubt,) = list_doubts(found)
    assert (doubt.code, doubt.subject) == ("list-count-differs", "stations:S5")
    assert by_station(found)["S5"]["heads"] == ("H5",)
    assert by_station(found)["S5"]["verdict"] == DOUBTFUL


def test_a_wrong_flow_is_told(hole: Any) -> None:
    listed = fairway_list()
    listed[4]["flow_listed_l_s"] = 2.4
    (doubt,) = list_doubts(judged(hole(listed)))
    assert (doubt.code, doubt.subject) == ("list-flow-differs", "stations:S5")
    assert "-29%" in doubt.message


@pytest.mark.parametrize(("one", "other"), [(3, 4), (1, 2), (7, 8), (2, 7)])
def test_exchanged_labels_run_against_the_outputs(hole: Any, one: int, other: int) -> None:
    listed = fairway_list()
    first, second = listed[one - 1], listed[other - 1]
    first["label"], second["label"] = second["label"], first["label"]
    found = judged(hole(listed + more_rows()))
    doubts = [d for d in list_doubts(found) if d.code == "list-neighbours-swapped"]
    assert [d.subject for d in doubts] == [f"stations:S{one}"]
    assert f"01-F-{one:02d}" in doubts[0].message
    assert f"01-F-{other:02d}" in doubts[0].message


def more_rows() -> Listed:
    """Enough other stations in order that two out of order are an exception."""
    return [
        {"id": f"X{n}", "label": f"02-F-{n:02d}", "controller": "A", "output": 20 + n}
        for n in range(1, 21)
    ]


def test_three_out_of_order_are_told_as_mixed(hole: Any) -> None:
    listed = fairway_list()
    labels = [listed[n]["label"] for n in (1, 2, 3)]
    for place, label in zip((2, 3, 1), labels, strict=True):
        listed[place]["label"] = label
    found = judged(hole(listed + more_rows()))
    assert codes(found).count("list-order-mixed") == 1
    assert "list-neighbours-swapped" not in codes(found)


def test_outputs_without_any_order_tell_nothing(hole: Any) -> None:
    listed = fairway_list()
    for row, output in zip(listed, (5, 2, 8, 1, 7, 3, 6, 4), strict=True):
        row["output"] = output
    assert codes(judged(hole(listed))) == []


def test_rows_that_name_each_others_heads_are_exchanged(hole: Any) -> None:
    listed = [
        row | {"output": None, "heads": f"tag H{n}"} for n, row in enumerate(fairway_list(), 1)
    ]
    listed[2]["heads"], listed[3]["heads"] = "tag H4", "tag H3"
    found = judged(hole(listed, labels=True), MatchCosts(name=0.0))
    (doubt,) = [d for d in list_doubts(found) if d.code == "list-neighbours-swapped"]
    assert doubt.subject == "stations:S3"
    assert "each names the other's heads" in doubt.message


def test_a_label_on_two_rows_is_told_once_and_is_no_exchange(hole: Any) -> None:
    listed = fairway_list()
    listed[5]["label"] = "01-F-02"
    found = judged(hole(listed + more_rows()))
    told = codes(found)
    assert told.count("list-label-twice") == 1
    assert "list-neighbours-swapped" not in told


def test_the_runner_up_is_the_next_number(hole: Any) -> None:
    rows = by_station(judged(hole(fairway_list())))
    assert rows["S1"]["runner_up"] == "S2"
    assert rows["S1"]["runner_up_cost"] == pytest.approx(MatchCosts().step)


# The matching is the best of all


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 5), st.integers(1, 5), st.randoms(use_true_random=False))
def test_the_matching_is_the_cheapest_of_all(stations: int, rows: int, chance: Any) -> None:
    """Against every way to match: the sum of costs, with what is left alone."""
    from nightwater.ground.reconcile import _assigned

    costs = MatchCosts()
    cost = np.array(
        [
            [chance.choice([0.0, 0.4, 1.0, 2.5, 5.9, 6.0, 9.0]) for _ in range(rows)]
            for _ in range(stations)
        ]
    )

    def total(pairs: list[tuple[int, int]]) -> float:
        alone = stations + rows - 2 * len(pairs)
        return sum(float(cost[pair]) for pair in pairs) + costs.alone * alone

    places = [*range(rows), *([-1] * stations)]
    best = min(
        total([(station, row) for station, row in enumerate(choice) if row >= 0])
        for choice in set(permutations(places, stations))
    )
    chosen = list(zip(*(part.tolist() for part in _assigned(cost, costs)), strict=True))
    assert total(chosen) == pytest.approx(best)


def test_costs_add_up_over_hole_kind_number_count_and_flow(hole: Any) -> None:
    odd = {"id": "S1", "label": "02-R-04", "heads_listed": 3, "flow_listed_l_s": 3.4}
    ground = hole([odd])
    costs = MatchCosts()
    proposal = propose_stations(ground, ALONE, RULES)
    expected = expected_stations(ground, proposal, RULES)
    from nightwater.ground.list_rows import list_rows

    cost = match_costs(expected, list_rows(ground.stations, RULES), ground, costs)
    first = costs.place + costs.letter + 3 * costs.step + costs.most_heads + costs.flow * 0.5
    assert cost[0, 0] == pytest.approx(first)
    assert cost[3, 0] == pytest.approx(first - 3 * costs.step)


# Acceptance


def test_matches_are_accepted_by_hole_and_keep_everything_else(hole: Any) -> None:
    ground = hole(fairway_list())
    found = judged(ground)
    assert with_matches(ground, found.rows, ["2"]).heads["station"].isna().all()
    taken = with_matches(ground, found.rows, ["1"])
    assert taken.heads["station"].tolist() == [f"S{n}" for n in range(1, 9)]
    pd.testing.assert_frame_equal(taken.stations, ground.stations)
    assert ground.heads["station"].isna().all()


def test_rows_without_heads_change_nothing(hole: Any) -> None:
    ground = hole(fairway_list(3))
    rows = judged(ground).rows
    alone = rows[rows["verdict"].isin([NO_ROW, NO_HEADS])]
    assert with_matches(ground, alone).heads["station"].isna().all()


def test_a_record_that_changed_meanwhile_is_told(hole: Any) -> None:
    ground = hole(fairway_list())
    rows = judged(ground).rows
    fewer = ground.with_table("heads", ground.heads.drop(index="H3"))
    with pytest.raises(UserError, match=r"H3.*reconcile again"):
        with_matches(fewer, rows)
    without = ground.with_table("stations", ground.stations.drop(index="S3"))
    with pytest.raises(UserError, match="S3"):
        with_matches(without, rows)


def test_an_empty_list_or_ground_gives_what_there_is(hole: Any) -> None:
    ground = hole(fairway_list())
    nobody = ground.with_table("stations", ground.stations.iloc[:0])
    assert set(judged(nobody).rows["verdict"]) == {NO_ROW}
    bare = ground.with_table("heads", ground.heads.iloc[:0])
    assert set(judged(bare).rows["verdict"]) == {NO_HEADS}
