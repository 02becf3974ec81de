"""EPANET files in and out: a process of their own, tables of ours, a round trip in both units."""

from __future__ import annotations

import subprocess
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from shapely.geometry import LineString, MultiLineString, Point

from nightwater.findings import UserError
from nightwater.ground.record import Ground, ground_from
from nightwater.ground.tables import TABLES
from nightwater.pipes.engine import Engine
from nightwater.pipes.network_build import build_hydraulic_network
from nightwater.survey import network_file
from nightwater.survey.network_file import read_network_file
from nightwater.survey.network_out import network_text
from nightwater.survey.network_rows import network_rows
from nightwater.survey.read import ReadOptions, read_table
from nightwater.units import KPA_PER_M_WATER, UnitSystem, to_si

CRS = "EPSG:32613"
THEIRS = """[TITLE]
a stranger's
[JUNCTIONS]
a 100 0
b 110 0
[RESERVOIRS]
lake 90
[PIPES]
main a b {length} {bore} 130 0 Open
[PUMPS]
lift lake a HEAD one
[VALVES]
[CURVES]
one 500 150
[EMITTERS]
b 10
[OPTIONS]
UNITS GPM
HEADLOSS {formula}
[TIMES]
DURATION 0
[COORDINATES]
a 500000 4340000
b 500100 4340000
lake 499990 4340000
[VERTICES]
main 500050 4340010
[END]
"""


def theirs(folder: Path, *, length=1000, bore=6, formula="H-W", text: str = THEIRS) -> Path:
    path = folder / "their network.inp"
    path.write_text(text.format(length=length, bore=bore, formula=formula))
    return path


def table(path: Path, name: str):
    return read_table(path, TABLES[name], CRS, ReadOptions(crs=CRS))


def test_us_units_become_ours(tmp_path: Path) -> None:
    found = read_network_file(theirs(tmp_path), solve=True)
    (pipe,) = [link for link in found.links if link["kind"] == "pipe"]
    assert pipe["length_m"] == pytest.approx(304.8)
    assert pipe["diameter_mm"] == pytest.approx(152.4)
    (pump,) = [link for link in found.links if link["kind"] == "pump"]
    assert pump["curve"] == [pytest.approx([31.545, 45.72], abs=1e-3)]
    # what leaves at b is the emitter's 10 gpm per √psi
    head = found.steps[0].head_m[1] - 110 * 0.3048
    flow = float(to_si(10 * np.sqrt(head / 0.3048 * 0.4333), "gpm"))
    assert found.steps[0].outflow_l_s[1] == pytest.approx(flow, rel=1e-3)


def test_a_network_is_surveyed_table_by_table(tmp_path: Path) -> None:
    path = theirs(tmp_path)
    pipes = table(path, "pipes")
    assert pipes.rows.loc["main", "diameter_mm"] == pytest.approx(152.4)
    assert pipes.rows.loc["main", "hazen_williams_c"] == 130
    assert pipes.rows.loc["main", "end_elevation_m"] == pytest.approx(33.528)
    assert pipes.rows.geometry["main"].length == pytest.approx(2 * np.hypot(50, 10))
    pumps = table(path, "pumps")
    assert pumps.rows.loc["lift", "capacity_l_s"] == pytest.approx(31.545, abs=1e-3)
    flow, head = map(float, pumps.rows.loc["lift", "curve"].split(":"))
    assert (flow, head) == pytest.approx((31.545, 45.72), abs=1e-3)
    assert table(path, "sources").rows.loc["lake", "level_m"] == pytest.approx(27.432)
    heads = table(path, "heads")
    k = heads.rows.loc["b", "measured_flow_l_s"] / np.sqrt(heads.rows.loc["b", "pressure_kpa"])
    psi = 0.3048 / 0.4333 * KPA_PER_M_WATER  # EPANET's own psi
    assert k * np.sqrt(psi) == pytest.approx(float(to_si(10, "gpm")), rel=1e-3)


def test_the_coordinate_system_is_asked(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="--crs"):
        read_table(theirs(tmp_path), TABLES["pipes"], CRS, ReadOptions())


def test_a_table_that_no_network_fills_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="pipes, valves, pumps, sources, heads"):
        table(theirs(tmp_path), "areas")
    with pytest.raises(UserError, match="holds no valves"):
        table(theirs(tmp_path), "valves")


def test_a_diagram_is_told(tmp_path: Path) -> None:
    """Lengths that are not in proportion to the drawing: it is no map."""
    more = "[PIPES]\nx a b 50 4 130 0 Open\ny a b 4000 4 130 0 Open\n"
    path = theirs(tmp_path, text=THEIRS.replace("[PIPES]\n", more))
    assert "network-is-a-diagram" in [each.code for each in table(path, "pipes").findings]
    plain = table(theirs(tmp_path), "pipes")
    assert "network-is-a-diagram" not in [each.code for each in plain.findings]


def test_roughness_of_another_formula_is_not_taken(tmp_path: Path) -> None:
    found = table(theirs(tmp_path, formula="D-W"), "pipes")
    assert "roughness-not-taken" in [each.code for each in found.findings]
    assert "hazen_williams_c" not in found.rows


def test_a_pipe_of_no_diameter_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UserError, match="illegal numeric value 0"):
        table(theirs(tmp_path, bore=0), "pipes")


@pytest.mark.parametrize(
    "text", ["", "no network at all\n", "[PIPES]\nx y z\n", "\x00\x01\x02" * 50]
)
def test_what_is_no_network_is_refused_in_a_sentence(tmp_path: Path, text: str) -> None:
    path = tmp_path / "x.inp"
    path.write_text(text)
    with pytest.raises(UserError, match=r"x\.inp"):
        table(path, "pipes")


def test_a_file_that_ends_the_engines_process_does_not_end_ours(tmp_path, monkeypatch) -> None:
    child = tmp_path / "child.py"
    child.write_text("import os, signal\nos.kill(os.getpid(), signal.SIGSEGV)\n")
    monkeypatch.setattr(network_file, "_CHILD", child)
    with pytest.raises(UserError, match=r"makes EPANET break down .*-11"):
        read_network_file(theirs(tmp_path))


def test_a_file_that_never_ends_is_given_up(tmp_path, monkeypatch) -> None:
    def never(*words, **how):
        raise subprocess.TimeoutExpired(words, how["timeout"])

    monkeypatch.setattr(network_file.subprocess, "run", never)
    with pytest.raises(UserError, match="did not end within 120 s"):
        read_network_file(theirs(tmp_path))


NOZZLE = {"pressure_kpa": 400.0, "flow_l_s": 1.5, "radius_m": 18.0}


def frame(rows: dict[str, dict]) -> pd.DataFrame:
    return pd.DataFrame.from_dict(rows, orient="index")


@pytest.fixture
def ground() -> Ground:
    """A bent main with a loop, five heads, a shut valve, a reducer and a pump."""
    lines = {
        "M 1": [(0, 0), (50, 20), (100, 0)],
        "M 2": [(100, 0), (200, 0)],
        "L": [(100, 0), (150, 40), (200, 0)],
    }
    pipes = {
        name: {"diameter_mm": 80.0, "hazen_williams_c": 145.0, "kind": "main",
               "geometry": MultiLineString([LineString(points)])}
        for name, points in lines.items()
    }  # fmt: skip
    heads = {
        f"h{n}": {
            "nozzle": "n",
            "elevation_m": 5.0 + n,
            "regulated": False,
            "geometry": Point(x, 1),
        }
        for n, x in enumerate((20, 120, 140, 160, 190))
    }
    valves = {
        "V-1": {"kind": "isolation", "open": False, "geometry": Point(150, 40)},
        "R-1": {"kind": "pressure_reducing", "setting_kpa": 350.0, "geometry": Point(110, 0)},
    }
    pump = {"capacity_l_s": 20.0, "curve": "0:80 20:60 30:40", "set_pressure_kpa": 550.0,
            "geometry": Point(0, 0)}  # fmt: skip
    tables = {"pipes": pipes, "heads": heads, "valves": valves, "pumps": {"P1": pump},
              "nozzles": {"n": NOZZLE}}  # fmt: skip
    return ground_from(CRS, {name: frame(rows) for name, rows in tables.items()})


@pytest.mark.parametrize("units", list(UnitSystem))
def test_the_written_network_solves_as_ours_does(ground, tmp_path, units) -> None:
    network, _ = build_hydraulic_network(ground)
    path = tmp_path / "ours.inp"
    path.write_text(network_text(network, ground, units, network.heads))
    found = read_network_file(path, solve=True)
    with Engine(network) as engine:
        answer = engine.solve(np.ones(len(network.heads), dtype=bool))
    told = dict(zip((n["id"] for n in found.nodes), found.steps[0].head_m, strict=True))
    mine = answer.node_pressure_kpa[0] / KPA_PER_M_WATER + network.elevation_m
    assert [told[f"n{row}"] for row in range(len(mine))] == pytest.approx(mine, abs=0.02)
    assert answer.holds.all()


def test_surveying_the_written_network_finds_the_record_again(ground, tmp_path) -> None:
    network, _ = build_hydraulic_network(ground)
    path = tmp_path / "ours.inp"
    path.write_text(network_text(network, ground, UnitSystem.US))
    pipes = table(path, "pipes").rows
    # an id with a space is none of EPANET's
    names = {"M_1": "M 1", "M_2": "M 2", "L": "L"}
    assert sorted(pipes.index) == sorted(names)
    for theirs_, ours in names.items():
        shape = ground.pipes.geometry[ours]
        assert pipes.geometry[theirs_].hausdorff_distance(shape) < 0.05
        assert pipes.loc[theirs_, "diameter_mm"] == pytest.approx(80, abs=1e-3)
    assert not {"start_elevation_m", "end_elevation_m"} & set(pipes)
    valves = table(path, "valves").rows
    assert sorted(valves.index) == ["R-1", "V-1"]
    assert not valves.loc["V-1", "open"]
    assert valves.loc["R-1", "setting_kpa"] == pytest.approx(350, rel=1e-4)


def test_closed_heads_stand_as_remarks(ground) -> None:
    network, _ = build_hydraulic_network(ground)
    text = network_text(network, ground, UnitSystem.METRIC, {"h2"})
    rows = text.split("[EMITTERS]")[1].split("[")[0].split("\n")
    assert sum(row.startswith(";n") for row in rows) == 4
    (running,) = [row for row in rows if row.startswith("n")]
    assert float(running.split()[1]) == pytest.approx(
        1.5 / np.sqrt(400) * np.sqrt(9.80665), rel=1e-5
    )
    assert CRS in text


def test_ids_that_epanet_cannot_hold_are_shortened_and_stay_apart(ground) -> None:
    long = ground.pipes.rename(index={"M 1": "x" * 40, "M 2": "x" * 40 + "y"})
    made = ground.with_table("pipes", long)
    text = network_text(build_hydraulic_network(made)[0], made, UnitSystem.METRIC)
    rows = text.split("[PIPES]")[1].split("[")[0].splitlines()
    names = [row.split()[0] for row in rows if row.strip()]
    assert len(names) == len(set(names))
    assert max(map(len, names)) <= 31


def test_rows_of_a_network_keep_their_place_in_the_file(tmp_path: Path) -> None:
    assert network_rows(theirs(tmp_path), TABLES["pumps"]).places == ("pump lift",)
