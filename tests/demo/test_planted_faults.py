"""Faults planted into the sound record: each must be told, and little else."""

from __future__ import annotations

from collections import defaultdict

import numpy as np
import pandas as pd
import pytest
import shapely
import shapely.ops
from shapely import affinity
from shapely.geometry import Point

from nightwater.demo.numbering import CLUB_NUMBERS
from nightwater.findings import Severity
from nightwater.ground.checks import check_ground
from nightwater.ground.linked import Linked
from nightwater.ground.links import resolve_station_lists, station_heads
from nightwater.ground.number_rules import number_rules_from
from nightwater.ground.settings import NightRules
from nightwater.ground.tables import WATERED_KINDS
from nightwater.pipes.checks import check_pipes

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


CLUB = number_rules_from(CLUB_NUMBERS)


def test_a_clean_record_is_silent_by_the_clubs_numbers_and_by_the_trades(ground):
    assert check_ground(ground, CLUB) == []
    assert check_ground(ground) == []


def test_nozzles_of_another_size_are_told(ground, chance):
    """Twelve rough and fairway heads carry the tees' nozzle: half the rate of their like."""
    heads = ground.heads.copy()
    own = Linked(ground).heads.query("nozzle == 'N27' and kind in ('rough', 'fairway')")
    wrong = chance.choice(own.index, 12, replace=False)
    heads.loc[wrong, "nozzle"] = "N14"
    found = told(ground.with_table("heads", heads))
    assert found["rate-outlier"] == {f"heads:{head}" for head in wrong}
    beside = {"station-flow-differs", "station-mixes-nozzles", "spacing-against-throw"}
    beside |= {"rate-implausible", "spacing-differs"}
    assert false_alarms(found, {"rate-outlier", *beside}) <= FALSE_PER_THOUSAND


def outwards(ground):
    """Heads on the outer edge of the rough, and the bearing in which 20 m of no turf lie."""
    own = Linked(ground).heads.query("kind == 'rough'")
    turf = shapely.union_all(ground.areas.geometry[ground.areas["kind"].isin(WATERED_KINDS)])
    for head, row in own.iterrows():
        for bearing in range(0, 360, 30):
            turns = np.radians(bearing + np.array([-45.0, -20.0, 0.0, 20.0, 45.0]))[:, None]
            out = np.linspace(2.0, 20.0, 10)
            x, y = row["x"] + out * np.sin(turns), row["y"] + out * np.cos(turns)
            if shapely.contains_xy(turf, x, y).mean() < 0.2:
                yield head, float(bearing)


def test_arcs_pointing_off_the_course_are_told(ground, chance):
    """Edge heads of the rough set to quarter circles, twelve inwards, twelve outwards."""
    edge = dict(outwards(ground))
    chosen = chance.choice(sorted(edge), 24, replace=False)
    heads = ground.heads.copy()
    heads.loc[chosen, "arc_deg"] = 90.0
    heads.loc[chosen[:12], "bearing_deg"] = [(edge[head] + 180.0) % 360.0 for head in chosen[:12]]
    heads.loc[chosen[12:], "bearing_deg"] = [edge[head] for head in chosen[12:]]
    found = told(ground.with_table("heads", heads))
    assert found["arc-off-turf"] == {f"heads:{head}" for head in chosen[12:]}


def test_a_pond_over_heads_is_told(ground):
    """Half of fairway 7 is called water."""
    areas = ground.areas.copy()
    areas.loc["07-fairway", "kind"] = "water"
    found = told(ground.with_table("areas", areas))
    on_it = found["throw-off-turf"]
    assert len(on_it) >= 15
    labels = ground.heads["label"].reindex([head.partition(":")[2] for head in on_it])
    assert set(labels.str[:2]) == {"07"}


def test_stations_labelled_as_another_holes_are_told(ground, chance):
    stations = ground.stations.copy()
    wrong = chance.choice(
        stations.index[stations["label"].str.startswith("12-R")], 4, replace=False
    )
    stations.loc[wrong, "label"] = [f"04-R-9{place}" for place in range(4)]
    found = told(ground.with_table("stations", stations))
    assert dict(found) == {"station-in-wrong-hole": {f"stations:{key}" for key in wrong}}


def test_tags_exchanged_within_a_hole_are_told(ground, chance):
    """On six holes two rough heads bear each other's tag, and nothing else is wrong."""
    heads = ground.heads.copy()
    moved = []
    for hole in ("02", "05", "08", "11", "14", "17"):
        own = heads.index[heads["label"].str.startswith(f"{hole}-R-")]
        one, other = chance.choice(own, 2, replace=False)
        heads.loc[[one, other], "label"] = heads.loc[[other, one], "label"].to_numpy()
        moved.append({f"heads:{one}", f"heads:{other}"})
    found = defaultdict(set)
    for finding in check_ground(ground.with_table("heads", heads), CLUB):
        found[finding.code].add(finding.subject)
    assert set(found) == {"label-out-of-order"}
    assert found["label-out-of-order"] == set().union(*moved)


def test_a_nozzle_of_nothing_is_told(ground):
    nozzles = ground.nozzles.copy()
    nozzles.loc["N14", "flow_l_s"] = 0.0
    found = told(ground.with_table("nozzles", nozzles))
    assert found["flow-zero"] == {"nozzles:N14"}


def test_areas_without_soil_and_grass_are_told(ground, chance):
    areas = ground.areas.copy()
    turf = areas.index[areas["soil"].notna()]
    bare = chance.choice(turf, 6, replace=False)
    areas.loc[bare[:3], "soil"] = None
    areas.loc[bare[3:], "grass"] = None
    found = told(ground.with_table("areas", areas))
    assert found["area-without-soil"] == {f"areas:{key}" for key in bare[:3]}
    assert found["area-without-grass"] == {f"areas:{key}" for key in bare[3:]}
    assert len(found) == 2


def test_a_lost_line_of_play_is_told(ground):
    holes = ground.holes.copy()
    lost = holes.index[6]
    holes.geometry = [None if key == lost else line for key, line in holes.geometry.items()]
    found = told(ground.with_table("holes", holes))
    assert found["hole-without-line"] == {f"holes:{lost}"}


def about_pipes(ground):
    found = defaultdict(set)
    for finding in check_pipes(ground, NightRules()):
        found[finding.code].add(finding.subject)
    return found


def test_the_clean_network_is_silent(ground):
    """Nothing but a note: the invented club's survey holds no valve at its pump station."""
    told = [(finding.severity, finding.code) for finding in check_pipes(ground, NightRules())]
    assert told == [(Severity.NOTE, "pipe-no-isolation")]


def test_laterals_drawn_short_of_their_main_are_told(ground, chance):
    """Eight laterals whose first metre is missing: none is joined, all say to what."""
    pipes = ground.pipes.copy()
    lengths = pipes.geometry.length
    linked = [key for key in pipes.index[pipes["kind"] == "lateral"] if lengths[key] > 15.0]
    cut = chance.choice(linked, 8, replace=False)
    pipes.geometry = [
        shapely.ops.substring(shapely.line_merge(line), 1.0, line.length) if key in cut else line
        for key, line in pipes.geometry.items()
    ]
    found = about_pipes(ground.with_table("pipes", pipes))
    own = {f"pipes:{key}" for key in cut}
    assert own <= found["pipe-end-apart"] | found["pipe-not-reached"]
    assert len(own & found["pipe-end-apart"]) >= 7
    assert len(found["pipe-end-apart"] - own) <= FALSE_PER_THOUSAND


def test_pipes_drawn_twice_are_told(ground, chance):
    pipes = ground.pipes
    lines = pipes.index[pipes.geometry.length > 5.0]
    twice = chance.choice(lines, 6, replace=False)
    copies = pipes.loc[twice].set_axis([f"copy {key}" for key in twice])
    copies.geometry = [affinity.translate(line, 0.1, 0.1) for line in copies.geometry]
    found = about_pipes(ground.with_table("pipes", pd.concat([pipes, copies])))
    told_of = {key.removeprefix("pipes:").removeprefix("copy ") for key in found["pipes-doubled"]}
    assert told_of == set(twice)


def test_a_lateral_bore_read_in_the_wrong_size_is_told(ground):
    """All laterals as 1-inch pipe: every station of full nozzles is too much for them."""
    pipes = ground.pipes.copy()
    pipes.loc[pipes["kind"] == "lateral", "diameter_mm"] = 30.0
    found = about_pipes(ground.with_table("pipes", pipes))
    assert len(found["lateral-overloaded"]) > 400
    assert set(found) == {"lateral-overloaded", "pipe-no-isolation"}


def test_a_cut_loop_is_told_at_its_end(ground):
    """The last 20 m of a 10-inch main are missing."""
    pipes = ground.pipes.copy()
    mains = pipes[pipes["kind"] == "loop"]
    lost = mains.geometry.length.idxmax()
    pipes.geometry = [
        shapely.ops.substring(shapely.line_merge(line), 0.0, line.length - 20.0)
        if key == lost
        else line
        for key, line in pipes.geometry.items()
    ]
    found = about_pipes(ground.with_table("pipes", pipes))
    assert f"pipes:{lost}" in found["main-dead-end"] | found["pipe-end-apart"]


def test_many_faults_at_once_raise_few_false_alarms(ground, chance):
    """Sixteen wrong nozzles, eight exchanged tags, four stations of another hole, ten turned arcs.

    What is told of a planted head's own station, area or fellow heads is no false alarm.
    """
    heads, stations = ground.heads.copy(), ground.stations.copy()
    turf = Linked(ground).heads.query("nozzle == 'N27' and kind in ('rough', 'fairway')")
    sized = chance.choice(turf.index, 16, replace=False)
    heads.loc[sized, "nozzle"] = "N14"
    edge = dict(outwards(ground))
    turned = chance.choice(sorted(set(edge) - set(sized)), 10, replace=False)
    heads.loc[turned, "arc_deg"] = 90.0
    heads.loc[turned, "bearing_deg"] = [edge[head] for head in turned]
    tags = []
    for hole in ("02", "05", "08", "11"):
        own = heads.index[heads["label"].str.startswith(f"{hole}-R-")]
        pair = chance.choice(own, 2, replace=False)
        heads.loc[pair, "label"] = heads.loc[pair[::-1], "label"].to_numpy()
        tags += list(pair)
    renamed = chance.choice(stations.index[stations["label"].str.startswith("12-R")], 4, False)
    stations.loc[renamed, "label"] = [f"04-R-9{place}" for place in range(4)]
    planted = ground.with_table("heads", heads).with_table("stations", stations)
    found = defaultdict(set)
    for finding in check_ground(planted, CLUB):
        found[finding.code].add(finding.subject)
    assert {f"heads:{head}" for head in sized} <= found["rate-outlier"]
    assert found["arc-off-turf"] == {f"heads:{head}" for head in turned}
    assert {f"heads:{head}" for head in tags} <= found["label-out-of-order"]
    assert found["station-in-wrong-hole"] == {f"stations:{key}" for key in renamed}
    touched = [*sized, *turned, *tags]
    linked = Linked(planted).heads
    own = {f"heads:{head}" for head in touched} | {f"stations:{key}" for key in renamed}
    own |= {f"stations:{key}" for key in linked.loc[touched, "station"]}
    own |= {f"areas:{key}" for key in linked.loc[touched, "area"]}
    own |= {f"areas:{key}" for key in Linked(ground).heads.loc[touched, "area"]}
    false = set().union(*found.values()) - own
    assert len(false) <= FALSE_PER_THOUSAND * len(heads) / 1000
