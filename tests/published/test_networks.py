"""EPANET's own example networks and others' (folder `networks`), each to its reference answer.

References: `<name>__epanet22_ref.csv` holds EPANET 2.2's answers, computed elsewhere through
another wrapper and printed to 0.0001; `epanet_net1.out` is the binary answer that the EPANET
project keeps beside its own tests. Files are read in a process of their own.
"""

from __future__ import annotations

import os
import struct
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from nightwater.findings import UserError
from nightwater.pipes.emitters import Emitters
from nightwater.pipes.engine import Engine
from nightwater.pipes.hydraulic_network import Feed, HydraulicNetwork, Pump
from nightwater.pipes.pump_curves import pump_curve
from nightwater.survey.network_file import NetworkFile, read_network_file
from nightwater.units import KPA_PER_M_WATER, M_PER_FT, to_si

SOLVED = [
    "Balerma",
    "Hanoi",
    "NET1emit",
    "Net1",
    "Net3",
    "Todini_Fig2_solA_CMH",
    "Todini_Fig2_solA_GPM",
    "epanet_net1",
    "latin1",
]


@pytest.fixture(scope="module")
def folder() -> Path:
    place = os.environ.get("NIGHTWATER_DATA")
    if place is None:
        pytest.skip("NIGHTWATER_DATA is not set: the folder of real files is not here")
    return Path(place) / "networks"


def answers(folder: Path, name: str) -> pd.DataFrame:
    return pd.read_csv(folder / f"{name}__epanet22_ref.csv", dtype={"id": str})


@pytest.mark.parametrize("name", SOLVED)
def test_every_state_that_the_reference_prints(folder: Path, name: str) -> None:
    """Heads, outflows and flows at first, middle and last time."""
    told, found = answers(folder, name), read_network_file(folder / f"{name}.inp", solve=True)
    steps = {step.time_s: step for step in found.steps}
    rows_compared = 0
    for time, rows in told.groupby("time_s"):
        step = steps[int(time)]
        for kind, names, values in (
            ("node", [n["id"] for n in found.nodes], (step.head_m, step.outflow_l_s)),
            ("link", [link["id"] for link in found.links], (None, step.flow_l_s)),
        ):
            mine = rows[rows["kind"] == kind].set_index("id").reindex(names)
            if values[0] is not None:
                # EPANET 2.2 and 2.3 stop at the same accuracy, not at the same digit.
                assert values[0] == pytest.approx(mine["head_m"].to_numpy(), abs=2e-3)
            flow = mine["flow_or_demand_Lps"].to_numpy()
            assert values[1] == pytest.approx(flow, abs=2e-2, rel=2e-3)
            rows_compared += len(mine)
    assert rows_compared == len(told)


def _binary_heads_ft(path: Path, nodes: int, links: int) -> tuple[np.ndarray, np.ndarray]:
    """Heads [ft] and flows [gpm] by period of an EPANET binary file.

    EPANET 2.2 User Manual, appendix C.4: prolog, energy, then per period node results (demand,
    head, pressure, quality) and link results (flow, velocity, …), four bytes each.
    """
    raw = path.read_bytes()
    periods = struct.unpack("<i", raw[-12:-8])[0]
    size = 4 * (4 * nodes + 8 * links)
    start = len(raw) - 28 - periods * size
    table = np.frombuffer(raw[start : start + periods * size], "<f4").reshape(periods, -1)
    return table[:, nodes : 2 * nodes], table[:, 4 * nodes : 4 * nodes + links]


def test_net1_against_the_binary_answer_of_the_epanet_project(folder: Path) -> None:
    """25 hourly states of a day with a pump, a tank and controls, 11 nodes and 13 links."""
    found = read_network_file(folder / "epanet_net1.inp", solve=True)
    heads, flows = _binary_heads_ft(folder / "epanet_net1.out", 11, 13)
    assert len(heads) == 25
    steps = {step.time_s: step for step in found.steps}
    for hour in range(25):
        step = steps[hour * 3600]
        assert step.head_m / M_PER_FT == pytest.approx(heads[hour], abs=0.02)
        assert step.flow_l_s == pytest.approx(to_si(flows[hour], "gpm"), abs=0.02)


def _feeds(found: NetworkFile, step) -> list[Feed]:
    """Reservoirs and tanks at their level, and pumps between two nodes as a feed."""
    feeds, junctions = [], [n for n in found.nodes if n["kind"] == "junction"]
    for row, node in enumerate(found.nodes):
        if node["kind"] == "junction":
            continue
        touching = [link for link in found.links if row in link["ends"]]
        pumped = [link for link in touching if link["kind"] == "pump" and link["open"]]
        for link in pumped:
            curve = pump_curve(
                link["id"], {"curve": " ".join(f"{q}:{h}" for q, h in link["curve"])}
            )
            pump = Pump(link["id"], curve, 0.9, True)
            at = link["ends"][1]
            feeds.append(Feed(f"pumps:{link['id']}", at, (pump,), step.head_m[row], np.nan, np.nan))
        if not pumped:
            feeds.append(Feed(f"sources:{node['id']}", row, (), step.head_m[row], np.nan, np.nan))
    assert junctions
    return feeds


def _taps(found: NetworkFile, step):
    """Node, fixed flow and emitter coefficient of every outlet; one with both is two."""
    for row, (node, flow) in enumerate(zip(found.nodes, step.outflow_l_s, strict=True)):
        if node["kind"] != "junction":
            continue
        emitted = node["emitter"] * np.sqrt(max(step.head_m[row] - node["level_m"], 0.0))
        if node["emitter"]:
            yield row, emitted, node["emitter"]
        if abs(flow - emitted) > 1e-6:
            yield row, flow - emitted, 0.0


def as_network(found: NetworkFile) -> HydraulicNetwork:
    """A file's network in our own form: demands as heads that take a flow whatever."""
    step = found.steps[0]
    pipes = [link for link in found.links if link["kind"] in ("pipe", "check")]
    taps = list(_taps(found, step))
    tables, regulated = [], []
    for _, flow, k in taps:
        regulated.append(k == 0)
        at_one = k / np.sqrt(KPA_PER_M_WATER)
        tables.append((np.array([[1.0, at_one if k else flow, 1.0]]), 0.5))
    feeds = _feeds(found, step)
    # a reservoir behind a pump is no node of ours
    kept = {row for link in pipes for row in link["ends"]}
    number = {row: place for place, row in enumerate(sorted(kept))}
    feeds = [replace(feed, node=number[feed.node]) for feed in feeds]
    one, count = np.ones(len(taps)), len(pipes)
    assert all(flow > 0 for _, flow, _ in taps)
    emitters = Emitters(
        np.arange(len(taps)), tuple(tables), one, one, one * 1.0, np.array(regulated, dtype=bool)
    )
    return HydraulicNetwork(
        places=np.zeros((len(number), 2)),
        elevation_m=np.array([found.nodes[row]["level_m"] for row in number]),
        kind=np.full(count, "pipe", dtype="U9"),
        owner=np.array([link["id"] for link in pipes], dtype=object),
        start=np.array([number[link["ends"][0]] for link in pipes]),
        end=np.array([number[link["ends"][1]] for link in pipes]),
        length_m=np.array([link["length_m"] for link in pipes]),
        diameter_mm=np.array([link["diameter_mm"] for link in pipes]),
        roughness=np.array([link["roughness"] for link in pipes]),
        is_open=np.array([link["open"] for link in pipes]),
        setting_m=np.full(count, np.nan),
        heads=tuple(found.nodes[row]["id"] for row, _, _ in taps),
        head_node=np.array([number[row] for row, _, _ in taps]),
        station=np.array([""] * len(taps), dtype=object),
        emitters=emitters,
        feeds=tuple(feeds),
        left_out=frozenset(),
        formula=found.formula,
    )


@pytest.mark.parametrize(
    "name", ["Balerma", "Hanoi", "NET1emit", "Todini_Fig2_solA_CMH", "Todini_Fig2_solA_GPM", "Net1"]
)
def test_our_own_engine_gives_the_reference_of_other_peoples_networks(
    folder: Path, name: str
) -> None:
    """Built anew in memory: demands as fixed outlets, emitters as heads, tanks as levels."""
    found = read_network_file(folder / f"{name}.inp", solve=True)
    network = as_network(found)
    with Engine(network) as engine:
        answer = engine.solve(np.ones((1, len(network.heads)), dtype=bool))
    told = answers(folder, name)
    first = told[(told["time_s"] == 0) & (told["kind"] == "node")].set_index("id")
    kept = sorted({row for link in found.links if link["kind"] != "pump" for row in link["ends"]})
    names = [found.nodes[row]["id"] for row in kept]
    inner = np.array([found.nodes[row]["kind"] == "junction" for row in kept])
    heads = answer.node_pressure_kpa[0] / KPA_PER_M_WATER + network.elevation_m
    theirs = first["head_m"].reindex(names).to_numpy()
    # EPANET's files ask for 0.001 of flow, which leaves up to 3 mm in these; ours for 0.0001.
    assert np.abs(heads - theirs)[inner].max() < 0.01
    links = told[(told["time_s"] == 0) & (told["kind"] == "link")].set_index("id")
    speed = links["velocity_mps"].reindex(network.owner).to_numpy()
    assert answer.velocity_m_s[0] == pytest.approx(speed, abs=2e-3)


def test_the_emitter_of_net1_lets_out_6_937_l_s(folder: Path) -> None:
    """10 gpm per √psi at node 23: 6.937 L/s, by hand and by the reference."""
    network = as_network(read_network_file(folder / "NET1emit.inp", solve=True))
    with Engine(network) as engine:
        answer = engine.solve(np.ones((1, len(network.heads)), dtype=bool))
    emitter = int(np.flatnonzero(~network.emitters.regulated)[0])
    assert network.heads[emitter] == "23"
    assert answer.flow_l_s[0, emitter] == pytest.approx(6.937, abs=5e-4)
    # 10 √p psi gives 120.9 psi; EPANET's psi is 1 / 0.4333 ft, hence the 0.1 m beside 84.93 m
    assert answer.pressure_kpa[0, emitter] / KPA_PER_M_WATER == pytest.approx(85.049, abs=5e-3)


def test_balerma_runs_between_20_and_68_46_m(folder: Path) -> None:
    """A real irrigation district by Darcy–Weisbach: 443 outlets, 81 of 454 pipes over 1.5 m/s."""
    network = as_network(read_network_file(folder / "Balerma.inp", solve=True))
    with Engine(network) as engine:
        answer = engine.solve(np.ones((1, len(network.heads)), dtype=bool))
    pressure = answer.pressure_kpa[0] / KPA_PER_M_WATER
    assert pressure.min() == pytest.approx(20.00, abs=0.01)
    assert pressure.max() == pytest.approx(68.46, abs=0.01)
    assert int((answer.velocity_m_s[0] > 1.5).sum()) == 81
    assert answer.feed_flow_l_s.sum() == pytest.approx(1104, abs=3)


def test_pipes_of_no_diameter_are_refused_and_not_solved(folder: Path) -> None:
    with pytest.raises(UserError, match="pipe '1' has a diameter of 0"):
        read_network_file(folder / "hanoi-exeter.inp")


@pytest.mark.parametrize(
    ("name", "says"),
    [("bad_syntax", r"invalid section keyword \[FOO\]"), ("bad_values", "undefined node node1")],
)
def test_broken_files_are_refused_with_the_engines_own_words(folder, name, says) -> None:
    with pytest.raises(UserError, match=says):
        read_network_file(folder / f"{name}.inp")


def test_names_with_accents_are_kept(folder: Path) -> None:
    found = read_network_file(folder / "latin1.inp")
    assert found.findings == ()
    assert "12Ù" in [link["id"] for link in found.links]


def test_a_latin_1_file_is_read_and_told(folder: Path, tmp_path: Path) -> None:
    copy = tmp_path / "old.inp"
    copy.write_text((folder / "latin1.inp").read_text(encoding="utf-8"), encoding="latin-1")
    found = read_network_file(copy)
    assert [each.code for each in found.findings] == ["not-utf-8"]
    assert "12Ù" in [link["id"] for link in found.links]
