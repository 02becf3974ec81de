"""From the record to patterns: what counts, what is left out, and what is told of it."""

from __future__ import annotations

import math
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from shapely.geometry import Point

from nightwater.findings import Severity
from nightwater.ground.record import Ground, ground_from
from nightwater.spray.grid import turf_grid
from nightwater.spray.head_patterns import head_patterns, tilt_is_modelled
from nightwater.spray.matrix import wetting_matrix

CRS = "EPSG:32612"


def course(nozzle: dict[str, Any] | None = None, **heads: dict[str, Any]) -> Ground:
    """Heads with one nozzle of 1.5 L/s and 18 m at 400 kPa."""
    rows = {
        name: {"nozzle": "N", "geometry": Point(0, 0), **values} for name, values in heads.items()
    }
    frame = gpd.GeoDataFrame(pd.DataFrame.from_dict(rows, orient="index"), geometry="geometry")
    usual = {"pressure_kpa": 400.0, "flow_l_s": 1.5, "radius_m": 18.0}
    nozzles = pd.DataFrame([{**usual, **(nozzle or {})}], index=["N"])
    return ground_from(CRS, {"heads": frame, "nozzles": nozzles})


def codes(findings: list[Any]) -> list[str]:
    return [found.code for found in findings]


def test_a_plain_head() -> None:
    patterns, findings = head_patterns(course(H={"geometry": Point(3, 4)}))
    assert findings == []
    assert patterns.ids.tolist() == ["H"]
    assert len(patterns) == 1
    values = (patterns.x_m, patterns.y_m, patterns.flow_l_s, patterns.radius_m, patterns.arc_deg)
    assert [float(value[0]) for value in values] == pytest.approx([3, 4, 1.5, 18, 360])
    assert patterns.profiles[patterns.profile[0]].name == "triangle"
    assert (patterns.trajectory_deg[0], patterns.height_m[0]) == (25.0, 0.1)
    assert (patterns.pressure_kpa[0], patterns.tilt_deg[0]) == (400.0, 0.0)


def test_pressure_of_the_record_sets_flow_and_throw() -> None:
    ground = course({"performance": "300:1.3:16"}, low={"pressure_kpa": 300.0}, usual={})
    patterns, findings = head_patterns(ground)
    assert patterns.flow_l_s.tolist() == pytest.approx([1.3, 1.5])
    assert patterns.radius_m.tolist() == pytest.approx([16, 18])
    assert findings == []


def test_measured_values_win() -> None:
    patterns, _ = head_patterns(course(H={"measured_flow_l_s": 2.0, "measured_radius_m": 15.0}))
    assert (patterns.flow_l_s[0], patterns.radius_m[0]) == (2.0, 15.0)


def test_a_pipe_model_s_pressure_wins_and_moves_a_measured_flow() -> None:
    """From 400 to 324 kPa by the square root: 0.9."""
    ground = course(
        told={"pressure_kpa": 400.0},
        measured={"pressure_kpa": 400.0, "measured_flow_l_s": 2.0},
        other={"pressure_kpa": 400.0},
    )
    modelled = pd.Series({"told": 324.0, "measured": 324.0, "other": math.nan})
    patterns, _ = head_patterns(ground, modelled)
    assert patterns.flow_l_s.tolist() == pytest.approx([1.35, 1.8, 1.5])
    assert patterns.pressure_kpa.tolist() == [324, 324, 400]


def test_the_nozzle_s_own_exponent_counts() -> None:
    ground = course({"flow_exponent": 0.415}, H={"pressure_kpa": 500.0})
    assert head_patterns(ground)[0].flow_l_s[0] == pytest.approx(1.5 * 1.25**0.415)


def test_sector_and_lean() -> None:
    ground = course(
        part={"arc_deg": 90.0, "bearing_deg": 200.0},
        whole={"arc_deg": 360.0, "bearing_deg": 77.0},
        leaning={"tilt_deg": 4.0, "tilt_towards_deg": 30.0},
    )
    patterns, findings = head_patterns(ground)
    assert findings == []
    assert patterns.arc_deg.tolist() == [90, 360, 360]
    assert patterns.bearing_deg.tolist() == [200, 0, 0]
    assert patterns.tilt_deg.tolist() == [0, 0, 4]
    assert patterns.tilt_towards_deg[2] == 30


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"geometry": None}, "has no place"),
        ({"nozzle": "X"}, "has no nozzle with flow and throw"),
        ({"nozzle": None}, "has no nozzle with flow and throw"),
        ({"arc_deg": 90.0}, "has an arc and no bearing"),
        ({"pressure_kpa": 0.0}, "has no water pressure"),
    ],
)
def test_what_is_left_out_is_told(values: dict[str, Any], words: str) -> None:
    patterns, findings = head_patterns(course(good={}, bad=values))
    assert patterns.ids.tolist() == ["good"]
    (found,) = [one for one in findings if one.code == "pattern-not-known"]
    assert (found.subject, found.severity) == ("heads:bad", Severity.WARNING)
    assert words in found.message


def test_a_model_without_pressure_leaves_the_head_out() -> None:
    patterns, findings = head_patterns(course(H={}), pd.Series({"H": 0.0}))
    assert len(patterns) == 0
    assert "has no water pressure" in findings[0].message


def test_a_nozzle_that_cannot_be_used_takes_its_heads_out() -> None:
    patterns, findings = head_patterns(course({"performance": "300:1.3"}, H={}))
    assert len(patterns) == 0
    assert codes(findings) == ["nozzle-not-usable", "pattern-not-known"]
    assert findings[0].severity is Severity.ERROR


@pytest.mark.parametrize(
    ("trajectory", "tilt", "modelled"),
    [(25, 0, True), (25, 20, True), (25, 20.5, False), (0, 0, True), (0, 1, False),
     (60, 20, True), (60, 21, False), (12, 8, False)],
)  # fmt: skip
def test_how_far_a_lean_is_modelled(trajectory: float, tilt: float, modelled: bool) -> None:
    """The jet leaves at 5° to 80° on every side."""
    assert bool(tilt_is_modelled(trajectory, tilt)) is modelled


def test_a_lean_beyond_the_formula_is_told_and_set_upright() -> None:
    ground = course({"trajectory_deg": 10.0}, H={"tilt_deg": 12.0}, small={"tilt_deg": 3.0})
    patterns, findings = head_patterns(ground)
    assert patterns.tilt_deg.tolist() == [0, 3]
    assert codes(findings) == ["tilt-beyond-model"]
    assert findings[0].subject == "heads:H"


def test_pressures_far_beyond_the_table_are_told_once_a_nozzle() -> None:
    """A fifth beyond its ends, 320 to 480 kPa here, is let pass."""
    near = course(a={"pressure_kpa": 330.0}, b={"pressure_kpa": 470.0})
    assert head_patterns(near)[1] == []
    far = course(a={"pressure_kpa": 250.0}, b={"pressure_kpa": 600.0}, c={})
    (found,) = head_patterns(far)[1]
    assert (found.code, found.subject) == ("pressure-beyond-table", "nozzles:N")
    assert "2 heads with nozzle N run at 250 to 600 kPa" in found.message
    wide = course({"performance": "250:1.2:15 600:1.8:20"}, a={"pressure_kpa": 250.0})
    assert head_patterns(wide)[1] == []


def test_an_empty_record() -> None:
    patterns, findings = head_patterns(ground_from(CRS, {}))
    assert (len(patterns), findings) == (0, [])


def test_the_invented_club_as_surveyed(vellenby: Ground) -> None:
    """Every head laid on turf: water on it and beside it is all that flows, within 0.001 %."""
    patterns, findings = head_patterns(vellenby)
    told = {one.subject.split(":")[1] for one in findings if one.code == "pattern-not-known"}
    assert len(patterns) + len(told) == len(vellenby.heads)
    assert len(patterns) > 1000
    matrix = wetting_matrix(turf_grid(vellenby, 2.0), patterns)
    on_turf = float(matrix.rate_mm_min.sum()) * 4 / 60
    beside = float((matrix.off_turf * patterns.flow_l_s).sum())
    assert on_turf + beside == pytest.approx(float(patterns.flow_l_s.sum()), rel=1e-5)
    assert 0.05 < beside / patterns.flow_l_s.sum() < 0.3
    assert np.isfinite(matrix.rate_mm_min.data).all()
