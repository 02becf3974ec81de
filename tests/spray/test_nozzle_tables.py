"""Flow and throw against pressure, and what a nozzle's row may say of its profile."""

from __future__ import annotations

import math
import os
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.findings import UserError
from nightwater.ground.nozzle_performance import flow_and_radius, nozzle_performance
from nightwater.spray.flow import orifice_flow_l_s
from nightwater.spray.nozzle_tables import (
    nozzle_leg,
    nozzle_profile,
    read_nozzles,
)
from nightwater.spray.profile import named_profile
from nightwater.units import to_si

DATA = os.environ.get("NIGHTWATER_DATA")
NEEDS_DATA = pytest.mark.skipif(DATA is None, reason="NIGHTWATER_DATA is not set")


def nozzle(**more: Any) -> dict[str, Any]:
    return {"pressure_kpa": 400.0, "flow_l_s": 1.5, "radius_m": 18.0, **more}


def test_the_reference_point_joins_the_table() -> None:
    points = nozzle_performance("N", nozzle(performance="500:1.7:19 300:1.3:16"))
    assert points.tolist() == [[300, 1.3, 16], [400, 1.5, 18], [500, 1.7, 19]]


def test_a_point_at_the_reference_pressure_wins() -> None:
    points = nozzle_performance("N", nozzle(performance="400:1.6:17"))
    assert points.tolist() == [[400, 1.6, 17]]


@pytest.mark.parametrize("stated", [None, math.nan, ""])
def test_without_a_table_the_reference_is_the_table(stated: Any) -> None:
    assert nozzle_performance("N", nozzle(performance=stated)).tolist() == [[400, 1.5, 18]]


@pytest.mark.parametrize("words", ["300:0:16", "300:1.3:-2", "300:1:16 300:2:17", "300:1.3"])
def test_a_bad_table_is_refused_with_the_nozzle_s_name(words: str) -> None:
    with pytest.raises(UserError, match="The performance of nozzle N7"):
        nozzle_performance("N7", nozzle(performance=words))


@given(pressure=st.floats(50, 1200))
def test_flow_of_one_point_goes_with_the_root_of_pressure(pressure: float) -> None:
    flow, _ = flow_and_radius(np.array([[400.0, 1.5, 18.0]]), np.array(pressure))
    assert float(flow) == pytest.approx(1.5 * math.sqrt(pressure / 400))


def test_every_point_of_the_table_is_met() -> None:
    points = np.array([[300, 1.3, 16], [400, 1.5, 18], [500, 1.7, 19.0]])
    flow, radius = flow_and_radius(points, points[:, 0])
    assert flow == pytest.approx(points[:, 1])
    assert radius == pytest.approx(points[:, 2])


def test_between_points_by_hand() -> None:
    """At 350 kPa K is the middle of 1.3/√300 and 1.5/√400, 0.075028: q 1.40364; R 17."""
    points = np.array([[300, 1.3, 16], [400, 1.5, 18.0]])
    flow, radius = flow_and_radius(points, np.array(350.0))
    assert float(flow) == pytest.approx(1.40364, abs=5e-6)
    assert float(radius) == pytest.approx(17.0)


def test_beyond_the_table() -> None:
    points = np.array([[300, 1.3, 16], [400, 1.5, 18.0]])
    flow, radius = flow_and_radius(points, np.array([75, 1600, 0, -1, math.nan]))
    assert flow[:3] == pytest.approx([0.65, 3.0, 0])
    assert radius[:3] == pytest.approx([8, 18, 0])
    assert np.isnan(flow[3:]).all()
    assert np.isnan(radius[3:]).all()


@given(
    pressures=st.lists(st.floats(100, 900), min_size=2, max_size=5, unique_by=round),
    exponent=st.floats(0.3, 0.6),
)
def test_more_pressure_never_gives_less_water_of_one_law(
    pressures: list[float], exponent: float
) -> None:
    table_p = np.sort(pressures)
    points = np.column_stack([table_p, 0.07 * table_p**exponent, 10 + table_p / 100])
    asked = np.linspace(50, 1000, 60)
    flow, radius = flow_and_radius(points, asked, exponent)
    assert flow == pytest.approx(0.07 * asked**exponent)
    assert (np.diff(radius) >= -1e-12).all()


@NEEDS_DATA
def test_public_tables_of_straight_bores() -> None:
    """Middle rows of the leaflet's tables from their outer ones, within its two digits, 1 %."""
    assert DATA is not None
    rows = pd.read_csv(Path(DATA) / "sprinkler/nozzle_discharge_public_tables.csv", comment="#")
    for part in ("A", "B"):
        for _, bore in rows[rows["set"] == part].groupby("nozzle_in"):
            pressure = to_si(bore["pressure_psi"], "psi")
            flow = to_si(bore["q_gpm"], "gpm")
            points = np.column_stack([pressure, flow, np.full(len(bore), 10.0)])
            found, _ = flow_and_radius(points[[0, -1]], pressure)
            assert found == pytest.approx(np.asarray(flow), rel=0.011)


@pytest.mark.parametrize(
    ("row", "name"),
    [
        ({}, "triangle"),
        ({"profile": math.nan}, "triangle"),
        ({"profile": "doughnut"}, "doughnut"),
        ({"profile": "ellipse", "leg": "1:5 10:6"}, "ellipse"),
        ({"leg": "1:5 10:6"}, "measured"),
        ({"profile": "measured", "leg": "1:5 10:6"}, "measured"),
    ],
)
def test_which_profile_counts(row: dict[str, Any], name: str) -> None:
    fields = nozzle(**row)
    assert nozzle_profile("N", fields).name == name
    assert (nozzle_leg("N", fields) is not None) == (name == "measured")


def test_a_measured_profile_needs_its_leg() -> None:
    with pytest.raises(UserError, match="N3 names a measured profile and has no leg"):
        nozzle_profile("N3", nozzle(profile="measured", leg=" "))


def table(**nozzles: dict[str, Any]) -> pd.DataFrame:
    return pd.DataFrame.from_dict(nozzles, orient="index")


def test_one_bad_nozzle_does_not_spoil_the_others() -> None:
    read = read_nozzles(
        table(good=nozzle(), bad=nozzle(performance="x"), odd=nozzle(profile="uniform"))
    )
    assert set(read.points) == {"good", "odd"}
    assert read.profile == {"good": 0, "odd": 1}
    assert (read.profiles[1].density == named_profile("uniform").density).all()
    (found,) = read.findings
    assert (found.code, found.subject) == ("nozzle-not-usable", "nozzles:bad")
    assert "'x'" in found.message


def test_alike_profiles_are_kept_once() -> None:
    read = read_nozzles(table(a=nozzle(profile="ellipse"), b=nozzle(profile="ellipse")))
    assert read.profile == {"a": 1, "b": 1}
    assert len(read.profiles) == 2


def cone_leg(share: float) -> str:
    """Cans on a cone that holds a share of the nozzle's flow."""
    peak = 3 * 1.5 * 3600 * share / (math.pi * 18**2)
    return " ".join(f"{r}:{peak * (1 - r / 18):.4f}" for r in (0, 6, 12))


@pytest.mark.parametrize(
    ("share", "told"), [(1.0, False), (1.05, False), (0.8, True), (1.23, True)]
)
def test_a_leg_that_does_not_close_is_told(share: float, told: bool) -> None:
    read = read_nozzles(table(N=nozzle(leg=cone_leg(share))))
    assert "N" in read.points
    codes = [found.code for found in read.findings]
    assert codes == (["leg-does-not-close"] if told else [])
    if told:
        assert f"{share:.2f} times the flow" in read.findings[0].message


@NEEDS_DATA
def test_the_real_leg_as_a_nozzle_is_told_not_to_close() -> None:
    assert DATA is not None
    leg = np.loadtxt(Path(DATA) / "sprinkler" / "mpcotool_0.mea", skiprows=3)
    words = " ".join(f"{x - 10:g}:{z * 1000:g}" for x, _, z in leg)
    flow = float(orifice_flow_l_s(8.7, 138, 0.98))
    row = {"pressure_kpa": 138.0, "flow_l_s": flow, "radius_m": 9.0, "leg": words}
    read = read_nozzles(table(N=row))
    assert [found.code for found in read.findings] == ["leg-does-not-close"]
    assert "1.2" in read.findings[0].message
