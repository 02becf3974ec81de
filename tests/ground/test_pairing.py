"""Stations proposed on drawn rows: who is paired, who stays single, and how sure it is."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, box

from nightwater.ground.head_pairs import candidate_pairs, like_spacing_m, matched
from nightwater.ground.pair_rules import PairRules
from nightwater.ground.pairing import COLUMNS, propose_stations, with_stations
from nightwater.ground.record import ground_from

SPACING = 18.0


def spot(x, y, **more):
    row = {"nozzle": "N", "arc_deg": 360.0, "spacing_m": SPACING, "geometry": Point(x, y)}
    return row | more


def course(heads):
    """One hole played north, 40 m of rough on either side of a fairway."""
    tables = {
        "areas": {
            "rough": {"kind": "rough", "geometry": box(-60, -20, 60, 400)},
            "fairway": {"kind": "fairway", "geometry": box(-20, 60, 20, 300)},
            "green": {"kind": "green", "geometry": Point(0, 350).buffer(12)},
            "lawn": {"kind": "grounds", "geometry": box(500, 0, 600, 50)},
        },
        "holes": {"H": {"number": 1, "geometry": LineString([(0, 0), (0, 350)])}},
        "nozzles": {
            "N": {"pressure_kpa": 480.0, "flow_l_s": 1.7, "radius_m": 20.0},
            "M": {"pressure_kpa": 480.0, "flow_l_s": 1.5, "radius_m": 18.0},
            "N2": {"pressure_kpa": 480.0, "flow_l_s": 1.72, "radius_m": 20.0},
        },
        "heads": heads,
    }
    frames = {name: pd.DataFrame.from_dict(rows, orient="index") for name, rows in tables.items()}
    return ground_from("EPSG:32612", frames)


def row(count, x=-40.0, first=0.0, name="r", **more):
    return {f"{name}{n}": spot(x, first + SPACING * n, **more) for n in range(count)}


def proposed(heads, rules=None, **more):
    return propose_stations(course(heads), rules or PairRules(), **more).rows


def groups(rows):
    return list(rows["heads"])


def test_a_row_is_paired_from_the_tee():
    assert groups(proposed(row(4))) == [("r0", "r1"), ("r2", "r3")]


def test_an_odd_row_leaves_the_last_one_single():
    rows = proposed(row(5))
    assert groups(rows) == [("r0", "r1"), ("r2", "r3"), ("r4",)]
    assert rows["reasons"].iloc[2] == "the row has one head too many"
    assert "5 heads in the row: any could be the single" in rows["reasons"].iloc[0]
    even = proposed(row(4))
    assert rows["confidence"].max() < even["confidence"].min()


def test_no_head_stays_single_where_a_pair_is_possible():
    """Nearest-first would pair the close two in the middle and leave both ends alone."""
    heads = {f"r{n}": spot(-40, y) for n, y in enumerate((0, 20, 36, 56))}
    assert groups(proposed(heads)) == [("r0", "r1"), ("r2", "r3")]


def test_left_and_right_rows_are_not_mixed():
    got = groups(proposed(row(2, -40.0, name="l") | row(2, 40.0, name="r")))
    assert got == [("l0", "l1"), ("r0", "r1")]


def test_a_pair_runs_along_its_row_even_where_the_other_row_is_nearer():
    heads = row(2, -8.0, 100.0, "l") | row(2, 8.0, 100.0, "r")
    assert groups(proposed(heads)) == [("l0", "l1"), ("r0", "r1")]


def test_beyond_the_reach_heads_stay_single():
    heads = {"a": spot(-40, 0), "b": spot(-40, 1.31 * SPACING)}
    rows = proposed(heads)
    assert groups(rows) == [("a",), ("b",)]
    assert set(rows["reasons"]) == {"no like head in reach"}
    assert groups(proposed(heads, PairRules(reach=1.4))) == [("a", "b")]


@pytest.mark.parametrize(
    ("more", "paired"),
    [
        ({"nozzle": "M"}, False),  # 1.5 against 1.7 L/s: 12 % apart
        ({"nozzle": "N2"}, True),  # 1 % apart
        ({"measured_flow_l_s": 1.3}, False),
        ({"arc_deg": 180.0, "bearing_deg": 0.0}, False),
    ],
)
def test_only_like_heads_are_paired(more, paired):
    heads = {"a": spot(-40, 0), "b": spot(-40, SPACING, **more)}
    assert (groups(proposed(heads)) == [("a", "b")]) is paired


@pytest.mark.parametrize(("arc", "paired"), [(180.0, True), (150.0, True), (90.0, False)])
def test_part_circles_go_with_part_circles_of_about_their_arc(arc, paired):
    heads = {
        "a": spot(-40, 0, arc_deg=180.0, bearing_deg=90.0),
        "b": spot(-40, SPACING, arc_deg=arc, bearing_deg=90.0),
    }
    assert (groups(proposed(heads)) == [("a", "b")]) is paired


def test_greens_run_alone_and_say_so():
    heads = {f"g{n}": spot(x, 350) for n, x in enumerate((-8, 8))}
    rows = proposed(heads)
    assert sorted(groups(rows)) == [("g0",), ("g1",)]
    assert set(rows["reasons"]) == {"green heads run alone by the rules"}
    assert (rows["confidence"] >= 0.9).all()


def test_lawns_run_by_the_zone():
    heads = {f"z{n}": spot(510 + 9 * n, 20, spacing_m=9.0) for n in range(8)}
    rows = proposed(heads)
    assert [len(members) for members in groups(rows)] == [8]
    assert rows["flow_l_s"].iloc[0] == pytest.approx(8 * 1.7)


def test_a_large_lawn_is_cut_into_even_zones():
    heads = {f"z{n:02d}": spot(505 + 7 * n, 20, spacing_m=9.0) for n in range(13)}
    rows = proposed(heads)
    assert [len(members) for members in groups(rows)] == [7, 6]
    assert "2 zones" in rows["reasons"].iloc[0]
    assert rows["confidence"].iloc[0] < 0.7


def test_unlike_heads_of_a_lawn_are_two_zones():
    heads = {f"z{n}": spot(510 + 9 * n, 20, nozzle="NM"[n % 2]) for n in range(6)}
    assert sorted(len(members) for members in groups(proposed(heads))) == [3, 3]


def test_two_laterals_are_never_one_station():
    laterals = pd.Series({"r0": "a", "r1": "b", "r2": "b", "r3": "c"})
    rows = proposed(row(4), laterals=laterals)
    assert groups(rows) == [("r0",), ("r1", "r2"), ("r3",)]
    assert "on one lateral" in rows["reasons"].iloc[1]


def test_an_unknown_lateral_forbids_nothing():
    assert groups(proposed(row(2), laterals=pd.Series({"r0": "a"}))) == [("r0", "r1")]
    known = proposed(row(2), laterals=pd.Series({"r0": "a", "r1": "a"}))
    assert known["confidence"].iloc[0] > proposed(row(2))["confidence"].iloc[0]


def test_heads_that_have_a_station_are_left_alone():
    heads = row(3)
    heads["r0"]["station"] = "S1"
    assert groups(proposed(heads)) == [("r1", "r2")]


def test_without_flow_a_pair_is_less_sure():
    known = proposed(row(2))
    unknown = proposed(row(2, nozzle=None))
    assert groups(unknown) == [("r0", "r1")]
    assert unknown["confidence"].iloc[0] < known["confidence"].iloc[0]
    assert "their flow is not known" in unknown["reasons"].iloc[0]
    assert np.isnan(unknown["flow_l_s"].iloc[0])


def test_without_declared_spacing_the_row_itself_tells_it():
    assert groups(proposed(row(4, spacing_m=None))) == [("r0", "r1"), ("r2", "r3")]


def test_each_row_says_place_kind_order_and_flow():
    rows = proposed(row(4) | row(2, -8.0, 100.0, "f"))
    assert list(rows.columns) == list(COLUMNS)
    rough = rows[rows["kind"] == "rough"]
    assert list(rough["order"]) == [1, 2]
    assert set(rows["place"]) == {"1"}
    assert rough["flow_l_s"].to_numpy() == pytest.approx([3.4, 3.4])
    assert rows["reasons"].iloc[0].startswith("18.0 m apart, 1.00 × spacing")


def test_heads_that_stand_nowhere_are_told():
    ground = course(row(2) | {"lost": spot(0, 0) | {"geometry": None}})
    proposal = propose_stations(ground, PairRules())
    assert [(f.code, f.subject) for f in proposal.findings] == [("head-not-grouped", "heads:lost")]
    assert len(proposal.rows) == 1


def test_nothing_to_propose_is_an_empty_table():
    proposal = propose_stations(course({}), PairRules())
    assert proposal.rows.empty
    assert list(proposal.rows.columns) == list(COLUMNS)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6)), unique=True, max_size=14))
def test_every_head_gets_one_station_and_pairs_keep_the_limits(cells):
    heads = {f"h{n}": spot(-40 + 9 * x, 16 * y) for n, (x, y) in enumerate(cells)}
    rows = propose_stations(course(heads), PairRules()).rows
    assert sorted(head for members in rows["heads"] for head in members) == sorted(heads)
    for members in rows["heads"]:
        assert len(members) <= 2
        if len(members) == 2:
            one, other = (heads[head]["geometry"] for head in members)
            assert one.distance(other) <= 1.3 * SPACING + 1e-9
    assert rows["confidence"].between(0, 1).all()


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6)), unique=True, max_size=12),
    st.randoms(),
)
def test_the_order_of_the_record_does_not_change_how_many_are_paired(cells, chance):
    heads = {f"h{n}": spot(-40 + 9 * x, 16 * y) for n, (x, y) in enumerate(cells)}
    names = list(heads)
    chance.shuffle(names)
    straight = propose_stations(course(heads), PairRules()).rows
    shuffled = propose_stations(course({n: heads[n] for n in names}), PairRules()).rows
    assert len(straight) == len(shuffled)
    again = propose_stations(course(heads), PairRules()).rows
    assert list(again["heads"]) == list(straight["heads"])


def best_by_trying(count, pairs):
    """Most pairs, then most weight, over every way to pair: the slow, plain count."""
    best = (0, 0)
    edges = list(pairs[["one", "other", "weight"]].itertuples(index=False))
    for size in range(count // 2 + 1):
        for some in combinations(edges, size):
            ends = [end for edge in some for end in (edge.one, edge.other)]
            if len(set(ends)) == len(ends):
                best = max(best, (size, int(sum(edge.weight for edge in some))))
    return best


edges_of = st.lists(
    st.tuples(st.integers(0, 5), st.integers(0, 5), st.integers(1, 50)).filter(
        lambda edge: edge[0] < edge[1]
    ),
    max_size=8,
    unique_by=lambda edge: edge[:2],
)


@given(edges_of)
def test_the_pairing_is_the_best_of_all(edges):
    pairs = pd.DataFrame(edges, columns=["one", "other", "weight"])
    taken, size, _ = matched(6, pairs)
    ends = pairs.loc[taken, ["one", "other"]].to_numpy().ravel()
    assert len(set(ends)) == len(ends)
    # Components are matched one by one; the best over all is the sum of the best of each.
    assert (int(taken.sum()), int(pairs["weight"][taken].sum())) == best_by_trying(6, pairs)
    assert (size >= 1).all()


def bare(heads):
    rows = pd.DataFrame.from_dict(heads, orient="index")
    usual = {
        "spacing_m": np.nan,
        "throw_m": 20.0,
        "flow_l_s": 1.7,
        "nozzle": "N",
        "arc_deg": 360.0,
        "area": "a",
        "side": "left",
        "lateral": "",
    }
    for name, value in usual.items():
        if name not in rows:
            rows[name] = value
    return rows.assign(rank=range(len(rows)))


def test_spacing_comes_from_the_head_the_row_or_the_throw():
    own = bare({"a": {"x": 0.0, "y": 0.0, "spacing_m": 15.0}})
    assert like_spacing_m(own) == pytest.approx([15.0])
    alone = bare({"a": {"x": 0.0, "y": 0.0}})
    assert like_spacing_m(alone) == pytest.approx([20.0])
    three = bare({n: {"x": 0.0, "y": y} for n, y in (("a", 0.0), ("b", 10.0), ("c", 22.0))})
    assert like_spacing_m(three) == pytest.approx([10.0, 10.0, 10.0])


def test_pairs_on_two_areas_weigh_less():
    near = {"a": {"x": 0.0, "y": 0.0, "spacing_m": 18.0}, "b": {"x": 0.0, "y": 18.0}}
    rows = bare(near).assign(spacing_m=18.0)
    alike = candidate_pairs(rows, PairRules())["weight"].iloc[0]
    parted = candidate_pairs(rows.assign(area=["a", "b"]), PairRules())["weight"].iloc[0]
    assert parted < alike


def test_accepted_stations_are_in_the_record():
    ground = course(row(4) | row(1, -8.0, 100.0, "f"))
    rows = propose_stations(ground, PairRules()).rows
    after = with_stations(ground, rows)
    assert len(after.stations) == len(rows) == 3
    assert after.heads["station"].notna().all()
    assert after.heads.loc["r0", "station"] == after.heads.loc["r1", "station"]
    station = after.stations.loc[after.heads.loc["r0", "station"]]
    assert (station["heads_listed"], station["evidence"]) == (2, "guessed")
    assert station["flow_listed_l_s"] == pytest.approx(3.4)
    assert ground.heads["station"].isna().all()
    assert propose_stations(after, PairRules()).rows.empty


def test_new_ids_are_never_those_of_the_record():
    ground = course(row(2))
    rows = propose_stations(ground, PairRules()).rows
    once = with_stations(ground, rows)
    assert list(once.stations.index) == ["S0001"]
    more = once.with_table("heads", once.heads.assign(station=None))
    twice = with_stations(more, propose_stations(more, PairRules()).rows)
    assert list(twice.stations.index) == ["S0001", "S0002"]
    assert set(twice.heads["station"]) == {"S0002"}
