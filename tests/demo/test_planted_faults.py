"""Faults planted into the sound record: each must be told, and little else."""

from __future__ import annotations

from collections import defaultdict

import numpy as np
import pandas as pd
import pytest
from shapely import affinity
from shapely.geometry import Point

from nightwater.ground.checks import check_ground
from nightwater.ground.links import resolve_station_lists, station_heads

FALSE_PER_THOUSAND = 5


def told(ground):
    """Subjects of the findings of a ground, by code."""
    found = defaultdict(set)
    for finding in check_ground(ground):
        found[finding.code].add(finding.subject)
    return found


def false_alarms(found, codes):
    return sum(len(subjects) for code, subjects in found.items() if code not in codes)


@pytest.fixture
def chance():
    return np.random.default_rng(57)


def test_wrong_nozzles_measured_are_told(ground, chance):
    """22 heads flow 15 to 60 % off their nozzle."""
    heads = ground.heads.copy()
    wrong = chance.choice(heads.index, 22, replace=False)
    rated = ground.nozzles["flow_l_s"].reindex(heads.loc[wrong, "nozzle"]).to_numpy(dtype=float)
    off = chance.uniform(0.16, 0.6, 22) * chance.choice([-1, 1], 22)
    heads.loc[wrong, "measured_flow_l_s"] = rated * (1 + off)
    found = told(ground.with_table("heads", heads))
    assert found["measured-flow-differs"] == {f"heads:{head}" for head in wrong}
    assert false_alarms(found, {"measured-flow-differs", "station-flow-differs"}) <= 5


def test_swapped_station_pairs_are_told(ground, chance):
    """Nine pairs of rough stations have changed a head, against a list that is right."""
    lists = station_heads(ground)
    stations = ground.stations.copy()
    stations["heads"] = [" ".join(heads) for heads in lists]
    heads = ground.heads.copy()
    pairs = [key for key, own in lists.items() if len(own) == 2]
    chosen = chance.choice(pairs, 18, replace=False)
    moved = []
    for one, other in zip(chosen[::2], chosen[1::2], strict=True):
        first, second = lists[one][0], lists[other][0]
        heads.loc[[first, second], "station"] = [other, one]
        moved += [first, second]
    planted = ground.with_table("heads", heads).with_table("stations", stations)
    resolved, disagreements = resolve_station_lists(planted)
    assert {f.subject for f in disagreements} == {f"heads:{head}" for head in moved}
    found = told(resolved)
    apart = found["station-heads-far-apart"] | found["station-mixes-kinds"]
    assert len(apart & {f"stations:{key}" for key in chosen}) >= 16


def test_wrong_head_counts_are_told(ground, chance):
    stations = ground.stations.copy()
    wrong = chance.choice(stations.index, 6, replace=False)
    stations.loc[wrong, "heads_listed"] = stations.loc[wrong, "heads_listed"] + 1
    found = told(ground.with_table("stations", stations))
    assert dict(found) == {"station-head-count": {f"stations:{key}" for key in wrong}}


def test_half_circles_listed_as_full_are_told_by_their_area(ground):
    """Four arcs listed 360 that are 180: the green's heads answer for twice the ground."""
    heads = ground.heads.copy()
    greens = [
        f"{hole}-G-0{number}" for hole, number in (("02", 1), ("05", 2), ("09", 3), ("14", 4))
    ]
    wrong = heads.index[heads["label"].isin(greens)]
    heads.loc[wrong, "arc_deg"] = 360.0
    found = told(ground.with_table("heads", heads))
    expected = {f"areas:{label[:2]}-approach" for label in greens}
    expected |= {f"areas:{label[:2]}-green" for label in greens}
    assert found["wetted-area-differs"] <= expected
    assert {f"areas:{label[:2]}-green" for label in greens} <= found["wetted-area-differs"]


def test_a_drawing_turned_round_is_told(ground):
    """Hole 12's heads turned by 12° about its tee."""
    heads = ground.heads.copy()
    hole = heads["label"].str.startswith("12-")
    pivot = heads.geometry[hole].iloc[0]
    shapes = heads.geometry.to_numpy(dtype=object)
    shapes[hole] = [affinity.rotate(s, 12, origin=pivot) for s in heads.geometry[hole]]
    heads.geometry = shapes
    found = told(ground.with_table("heads", heads))
    subjects = set().union(*found.values())
    own = {f"heads:{head}" for head in heads.index[hole]}
    own |= {f"stations:{key}" for key in heads.loc[hole, "station"]}
    own |= {f"areas:{key}" for key in ground.areas.index if key.startswith("12-")}
    assert len(subjects & own) > 20
    strangers = {s for s in subjects - own if not s.startswith(("areas:11", "areas:13"))}
    assert len(strangers) <= FALSE_PER_THOUSAND


def test_heads_moved_off_the_course_are_told(ground, chance):
    heads = ground.heads.copy()
    lost = chance.choice(heads.index, 5, replace=False)
    shapes = dict(heads.geometry)
    shapes |= {head: Point(s.x + 30_000, s.y) for head, s in heads.geometry[lost].items()}
    heads.geometry = [shapes[head] for head in heads.index]
    found = told(ground.with_table("heads", heads))
    expected = {f"heads:{head}" for head in lost}
    assert found["far-from-course"] == expected
    assert found["head-in-no-area"] == expected


def test_heads_surveyed_twice_are_told(ground, chance):
    heads = ground.heads
    twice = chance.choice(heads.index, 2, replace=False)
    copies = heads.loc[twice].set_axis([f"copy {head}" for head in twice])
    copies.geometry = [affinity.translate(s, 0.15, 0.1) for s in copies.geometry]
    found = told(ground.with_table("heads", pd.concat([heads, copies])))
    assert found["heads-in-one-spot"] == {f"heads:copy {head}" for head in twice}
    assert found["label-twice"] == {f"heads:{head}" for head in twice}


def test_a_nozzle_read_in_the_wrong_unit_is_told(ground):
    """27.5 L/min read as 27.5 gpm is seen in every head's rate; L/s in its bounds too."""
    nozzles = ground.nozzles.copy()
    nozzles.loc["N27", "flow_l_s"] = 27.5
    found = told(ground.with_table("nozzles", nozzles))
    large = ground.heads.index[ground.heads["nozzle"] == "N27"]
    assert {f"heads:{head}" for head in large} <= found["rate-implausible"]
    assert found["value-out-of-bounds"] == {"nozzles:N27"}


def test_spacing_read_in_feet_as_metres_is_told(ground):
    heads = ground.heads.copy()
    heads["spacing_m"] *= 1 / 0.3048
    found = told(ground.with_table("heads", heads))
    assert len(found["spacing-differs"]) > 0.95 * len(heads)


def test_an_area_drawn_twice_is_told(ground):
    areas = ground.areas
    copy = areas.loc[["07-fairway"]].set_axis(["07-fairway again"])
    found = told(ground.with_table("areas", pd.concat([areas, copy])))
    assert found["areas-overlap"] == {"areas:07-fairway"}
    assert found["label-twice"] == {"areas:07-fairway"}


def test_a_dead_path_in_the_list_is_told(ground):
    controllers = ground.controllers.drop(index="C")
    found = told(ground.with_table("controllers", controllers))
    own = ground.stations.index[ground.stations["controller"] == "C"]
    assert found["unknown-link"] == {f"stations:{key}" for key in own}


def test_lines_turned_round_still_find_their_greens(ground):
    holes = ground.holes.copy()
    holes.geometry = holes.geometry.reverse()
    bare = ground.with_table("holes", holes).with_table("areas", ground.areas.assign(hole=None))
    found = told(bare)
    assert found["hole-line-backwards"] == {f"holes:{key}" for key in holes.index}
    assert set(found) == {"hole-line-backwards"}
