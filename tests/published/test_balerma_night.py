"""A night planned on a real irrigation district: Balerma, a head at every demand node.

The folder `networks` holds the file and EPANET 2.2's answers of it. Bores, lengths, levels and
demands are the file's; the velocity limit of 1.5 m/s and the minutes are ours.
"""

from __future__ import annotations

import os
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from nightwater.findings import Severity
from nightwater.night.build import plan_night
from nightwater.night.plan import Night
from nightwater.night.referee import referee
from nightwater.night.waters import open_sets
from nightwater.pipes.engine import Engine
from nightwater.pipes.network_build import build_hydraulic_network
from nightwater.survey.network_file import NetworkFile, read_network_file
from nightwater.units import KPA_PER_M_WATER

from . import balerma
from .test_networks import as_network

NIGHT = date(2025, 7, 10)
ROUNDING_M = 0.005  # what the engine's accuracy leaves in a pressure


@pytest.fixture(scope="module")
def folder() -> Path:
    place = os.environ.get("NIGHTWATER_DATA")
    if place is None:
        pytest.skip("NIGHTWATER_DATA is not set: the folder of real files is not here")
    return Path(place) / "networks"


@pytest.fixture(scope="module")
def file(folder: Path) -> NetworkFile:
    return read_network_file(folder / "Balerma.inp", solve=True)


@pytest.fixture(scope="module")
def course(file: NetworkFile) -> balerma.District:
    return balerma.district(file)


def planned(course: balerma.District, *, hydraulic: bool = True) -> Night:
    return plan_night(
        course.ground, course.sums, course.settings, NIGHT, course.holds, hydraulic=hydraulic
    )


@pytest.fixture(scope="module")
def night(course: balerma.District) -> Night:
    return planned(course)


def violations(course: balerma.District, night: Night) -> list[tuple[str, str]]:
    found = referee(night, course.ground, course.settings, course.holds)
    return [(one.code, one.subject) for one in found if one.severity is not Severity.NOTE]


def test_the_record_is_the_network_of_the_file(course, file) -> None:
    """454 pipes as long as stated and 447 joints: eight loops, no joint too many."""
    network, _ = build_hydraulic_network(course.ground)
    assert (len(network.start), len(network.elevation_m)) == (454, 447)
    length = dict(zip(network.owner, network.length_m, strict=True))
    assert [length[link["id"]] for link in file.links] == pytest.approx(
        [link["length_m"] for link in file.links]
    )
    assert len(network.heads) == 442  # one of the 443 junctions takes nothing


def test_all_heads_at_once_have_the_pressures_of_the_reference(course, folder) -> None:
    """Every loss by Hazen–Williams, its C taken at full flow, against EPANET's by the file."""
    network, _ = build_hydraulic_network(course.ground)
    with Engine(network) as engine:
        answer = engine.solve(np.ones(len(network.heads), dtype=bool))
    told = pd.read_csv(folder / "Balerma__epanet22_ref.csv", dtype={"id": str})
    nodes = told[(told["kind"] == "node") & (told["time_s"] == 0)].set_index("id")
    theirs = nodes["pressure_m"].reindex([head.removeprefix("HS") for head in network.heads])
    mine = answer.pressure_kpa[0] / KPA_PER_M_WATER
    assert mine == pytest.approx(theirs.to_numpy(), abs=0.01)
    assert mine.min() == pytest.approx(20.0, abs=0.01)


def test_a_night_for_all_442_heads_that_the_referee_passes(course, night) -> None:
    assert violations(course, night) == []
    assert night.left_out == ()
    assert len({run.station for run in night.runs}) == 442
    asked = {one.station: one.run_min for one in course.sums}
    assert {run.station: run.run_min for run in night.runs} == asked
    # all could run at once by the sources; the pipes do not let them
    longest = max(balerma.RUN_MIN)
    assert longest < night.bound.minutes <= night.finish_min <= night.window.minutes


def test_the_linear_limits_alone_would_not_have_done(course) -> None:
    """What the solved network is for: loops share water otherwise than by one way."""
    found = violations(course, planned(course, hydraulic=False))
    assert {code for code, _ in found} == {"pipe-too-fast"}


def test_every_minute_has_its_floor_by_the_files_own_friction(file, night) -> None:
    """The planned sets by Darcy–Weisbach in the file's own network: no record, no C of ours."""
    network = as_network(file)
    sets = open_sets(night.runs, night.window.minutes)
    assert sum(sets.values()) == night.finish_min
    on = network.heads_named([{name.removeprefix("S") for name in one} for one in sets])
    assert on.any(axis=0).sum() == 442
    with Engine(network) as engine:
        answer = engine.solve(on)
    # one source is pushed back a little when little is drawn near it: a note
    assert {one.severity for one in answer.findings} <= {Severity.NOTE}
    pressure = answer.pressure_kpa[on] / KPA_PER_M_WATER
    assert pressure.min() > balerma.FLOOR_M - ROUNDING_M
    # the water of each set is that of its heads, and no pipe is faster than it may be
    asked = on.sum(axis=1) * file.steps[0].outflow_l_s.max()
    assert answer.feed_flow_l_s.sum(axis=1) == pytest.approx(asked, rel=1e-3)
    assert answer.velocity_m_s.max() < 1.5 * 1.005  # friction by another formula parts loops alike
