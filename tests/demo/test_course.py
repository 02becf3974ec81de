"""The ground of the invented club: holes, turf, heads and control."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

import numpy as np
import pandas as pd
import pytest
import shapely

from nightwater.demo.control import PATH_STATIONS, stations
from nightwater.demo.layout import RING_M, TEE_PAIR_M
from nightwater.demo.place import chance, elevation_m
from nightwater.demo.routing import LINES
from nightwater.ground.checks import check_ground
from nightwater.ground.linked import Linked, neighbour_distance_m
from nightwater.ground.links import area_holes, head_area_links, net_area_m2, station_heads


def test_the_record_raises_no_finding(ground):
    assert check_ground(ground) == []


def test_every_head_waters_what_it_was_drawn_for(ground, spots):
    """By geometry alone: no head names its area."""
    assert ground.heads["area"].isna().all()
    links = head_area_links(ground)
    assert links["area"].tolist() == [spot.turf for spot in spots]
    assert Counter(links["how"]) == {"inside": 1236, "aimed": 160}


def test_every_area_finds_its_hole_by_geometry(ground):
    bare = ground.with_table("areas", ground.areas.assign(hole=None))
    pd.testing.assert_series_equal(area_holes(bare), ground.areas["hole"], check_names=False)


def test_head_tags_are_unique_and_named_by_hole_and_class(ground):
    labels = ground.heads["label"]
    assert labels.is_unique
    assert labels.str.fullmatch(r"(\d\d|P1|P2|P|C)-[GATFRPZ]-\d{2,3}").all()
    assert {"07-F-14", "12-R-31", "11-F-01"} <= set(labels)
    assert {"07-F-14", "C-Z-03"} <= set(ground.stations["label"])


def test_odd_numbers_stand_left_of_play_and_even_ones_right(spots):
    line = LINES[6]
    for spot in spots:
        if spot.hole != line.label or spot.letter not in "FR":
            continue
        foot = int(np.argmin(np.hypot(*(line.points - (spot.x, spot.y)).T)))
        bearing = float(line.bearing_rad(line.along[foot]))
        away = np.array([spot.x, spot.y]) - line.points[foot]
        right = away @ np.array([np.cos(bearing), -np.sin(bearing)])
        assert (right > 0) == (spot.number % 2 == 0), spot.label


def test_numbers_rise_from_tee_to_green(spots):
    line = LINES[0]
    lefts = [s for s in spots if s.hole == "01" and s.letter == "F" and s.number % 2]
    along = [
        line.along[int(np.argmin(np.hypot(*(line.points - (s.x, s.y)).T)))]
        for s in sorted(lefts, key=lambda s: s.number)
    ]
    assert along == sorted(along)


def test_green_heads_count_clockwise_from_the_lower_left(spots):
    line = LINES[3]
    middle = line.at(line.length_m)[0]
    play = float(np.degrees(line.bearing_rad(line.length_m)))
    ring = sorted((s for s in spots if s.hole == "04" and s.letter == "G"), key=lambda s: s.number)
    turns = [(np.degrees(np.arctan2(s.x - middle[0], s.y - middle[1])) - play) % 360 for s in ring]
    assert turns == pytest.approx([225, 315, 45, 135], abs=2.0)
    assert [np.hypot(s.x - middle[0], s.y - middle[1]) for s in ring] == pytest.approx(
        [RING_M] * 4, abs=0.5
    )


def test_in_throw_heads_look_at_the_green_and_out_throw_heads_away(ground):
    links = head_area_links(ground)
    kinds = ground.areas["kind"].reindex(links["area"]).to_numpy()
    part = ground.heads["arc_deg"] < 360
    letters = ground.heads["label"].str.split("-").str[1]
    assert set(kinds[part & (letters == "G")]) == {"green"}
    assert set(kinds[part & (letters == "A")]) == {"approach"}


def test_measured_spacing_is_the_declared_one(ground):
    """Rows stand 4 % closer than the design; curves do the rest."""
    heads = Linked(ground).heads
    share = neighbour_distance_m(heads) / heads["spacing_m"]
    medians = share.groupby(heads["kind"]).median()
    assert medians.between(0.9, 1.2).all(), medians
    fairway = share[heads["kind"] == "fairway"]
    assert fairway.between(0.85, 1.1).all()


def test_tee_pairs_stand_fifty_feet_apart(ground, spots):
    lists = station_heads(ground)
    pairs = [heads for heads in lists if spots[int(heads[0][1:]) - 1].letter == "T"]
    assert len(pairs) == 56
    for one, other in pairs:
        points = ground.heads.geometry[[one, other]]
        assert points.iloc[0].distance(points.iloc[1]) == pytest.approx(TEE_PAIR_M, abs=0.8)


def test_stations_fill_their_paths_without_a_gap(ground):
    rows = ground.stations
    for path, count in PATH_STATIONS.items():
        outputs = sorted(rows["output"][rows["controller"] == path])
        assert outputs == list(range(1, count + 1))


def test_paths_hold_neighbouring_holes(ground):
    holes = ground.stations["label"].str.split("-").str[0]
    crossing = holes.groupby(holes).apply(
        lambda same: ground.stations.loc[same.index, "controller"].nunique()
    )
    assert crossing.max() == 2
    assert (crossing == 2).sum() <= 3


def test_the_zone_valves_take_their_heads_from_the_list(read, ground):
    raw = read["heads"].rows
    zones = raw["label"].str.startswith("C-Z")
    assert raw["station"][zones].isna().all()
    assert raw["station"][~zones].notna().all()
    assert ground.heads["station"].notna().all()


def test_station_list_agrees_with_the_heads(ground, spots):
    lists = station_heads(ground)
    listed = ground.stations["heads_listed"].astype(int)
    assert [len(heads) for heads in lists] == listed.tolist()
    assert len(stations(spots)) == len(lists)


def test_turf_polygons_are_sound_and_of_one_kind_apart(ground):
    assert ground.areas.is_valid.all()
    for kind in ("rough", "fairway", "green", "tee", "approach"):
        shapes = ground.areas.geometry[ground.areas["kind"] == kind].to_numpy()
        assert shapely.union_all(shapes).area == pytest.approx(shapely.area(shapes).sum(), rel=2e-3)


def test_no_head_stands_in_sand_or_water(ground):
    dry = ground.areas.geometry[ground.areas["kind"].isin(["bunker", "water"])]
    assert not ground.heads.intersects(dry.union_all()).any()


def test_greens_are_of_a_usual_size(ground):
    """Some 6,200 ft², 576 m²."""
    greens = ground.areas.area[ground.areas["kind"] == "green"]
    assert len(greens) == 20
    assert greens.between(480, 680).all()


def test_net_turf_counts_once_and_is_less_than_drawn(ground):
    net, drawn = net_area_m2(ground), ground.areas.area
    assert net.sum() == pytest.approx(ground.areas.union_all().area, rel=1e-6)
    rough = ground.areas["kind"] == "rough"
    assert net[rough].sum() < 0.7 * drawn[rough].sum()


def test_the_nines_return_to_the_clubhouse():
    for tee, green in ((LINES[0], LINES[8]), (LINES[9], LINES[17])):
        assert np.hypot(*tee.at(0.0)[0]) < 150
        assert np.hypot(*green.at(green.length_m)[0]) < 150


def test_each_tee_is_a_short_walk_from_the_green_before():
    for before, after in pairwise(LINES):
        if after.number == 10:
            continue
        walk = np.hypot(*(after.at(0.0) - before.at(before.length_m))[0])
        assert walk < 110.0, after.number


def test_holes_bend():
    """Each line is longer than its chord, doglegs by some percent."""
    ratio = [line.length_m / np.hypot(*(line.points[-1] - line.points[0])) for line in LINES]
    assert sum(r > 1.005 for r in ratio) >= 14
    assert sum(r > 1.015 for r in ratio) >= 4


def test_par_and_length_are_those_of_a_full_course():
    """Par 71 over some 6,770 yards."""
    assert sum(line.par for line in LINES) == 71
    yards = {line.number: line.length_m / 0.9144 for line in LINES}
    assert 6500 < sum(yards.values()) < 7000
    usual = {3: (140, 240), 4: (370, 470), 5: (520, 620)}
    for line in LINES:
        low, high = usual[line.par]
        assert low < yards[line.number] < high, line.number


def test_ground_levels_lie_where_the_club_says(ground):
    levels = ground.heads["elevation_m"]
    assert 1368.0 <= levels.min() < 1371.0
    assert 1397.0 < levels.max() <= 1402.0
    assert elevation_m(0.0, 452.0) == pytest.approx(1384, abs=6)


def test_chance_of_one_layer_moves_no_other():
    assert chance("heads").random() == chance("heads").random()
    assert chance("heads").random() != chance("turf").random()
