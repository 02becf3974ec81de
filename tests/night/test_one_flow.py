"""One flow of a head in the whole record: patterns, minutes, checks and the referee agree."""

from __future__ import annotations

import math
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point

from nightwater.ground.linked import Linked
from nightwater.ground.nozzle_performance import head_flow_l_s
from nightwater.ground.record import Ground, ground_from
from nightwater.ground.settings import MinuteRules
from nightwater.night.referee_record import station_facts
from nightwater.night.station_table import head_flow_l_s as planner_flow_l_s
from nightwater.spray.head_patterns import head_patterns

TABLE = "300:1.30:16 500:1.90:19 600:1.95:20"
NOZZLES: dict[str, dict[str, Any]] = {
    "bare": {},
    "table": {"performance": TABLE},
    "restated": {"performance": "400:1.61:18; 550:1.70:19", "flow_exponent": 0.42},
    "power": {"flow_exponent": 0.35},
    "unsorted": {"performance": "600:1.95:20 300:1.30:16"},
}
BROKEN = ("300:1.3", "300:x:16", "300:0:16", "300:1:16 300:2:17", "300:inf:16", "300:nan:16")


def record(rows: list[dict[str, Any]], nozzles: dict[str, dict[str, Any]] = NOZZLES) -> Ground:
    usual = {"pressure_kpa": 400.0, "flow_l_s": 1.5, "radius_m": 18.0}
    heads = gpd.GeoDataFrame(
        pd.DataFrame(rows, index=[f"H{n}" for n in range(len(rows))]).assign(station="S"),
        geometry=[Point(n, 0) for n in range(len(rows))],
    )
    table = pd.DataFrame.from_dict({n: usual | row for n, row in nozzles.items()}, orient="index")
    stations = pd.DataFrame({"label": ["S"]}, index=["S"])
    return ground_from("EPSG:32612", {"heads": heads, "nozzles": table, "stations": stations})


def by_referee(ground: Ground) -> dict[str, float]:
    return dict(station_facts(ground, MinuteRules())["S"].head_flows)


def by_patterns(ground: Ground) -> dict[str, float]:
    patterns, _ = head_patterns(ground)
    return dict(zip(patterns.ids, patterns.flow_l_s, strict=True))


def all_four(ground: Ground) -> list[dict[str, float]]:
    flow = head_flow_l_s(ground.heads, ground.nozzles)
    checks = Linked(ground).heads["flow_l_s"]
    return [flow.to_dict(), checks.to_dict(), by_referee(ground), by_patterns(ground)]


@settings(deadline=None, max_examples=60)
@given(
    st.lists(
        st.fixed_dictionaries(
            {
                "nozzle": st.sampled_from(sorted(NOZZLES)),
                "pressure_kpa": st.one_of(
                    st.sampled_from([math.nan, 300.0, 400.0, 500.0]), st.floats(50, 1200)
                ),
                "measured_flow_l_s": st.sampled_from([math.nan, math.nan, math.nan, 0.9]),
            }
        ),
        min_size=1,
        max_size=6,
    )
)
def test_all_agree_on_any_head(rows: list[dict[str, Any]]) -> None:
    ours, *others = all_four(record(rows))
    for theirs in others:
        assert theirs == pytest.approx(ours)


def test_between_the_points_by_hand() -> None:
    """450 kPa: K is the middle of 1.5/√400 and 1.9/√500, 0.0799853; q = K √450 = 1.696744."""
    ground = record([{"nozzle": "table", "pressure_kpa": 450.0, "measured_flow_l_s": math.nan}])
    expected = (1.5 / 400**0.5 + 1.9 / 500**0.5) / 2 * 450**0.5
    assert expected == pytest.approx(1.696744, abs=5e-7)
    for flows in all_four(ground):
        assert flows["H0"] == pytest.approx(expected, rel=1e-12)
    bare = record([{"nozzle": "bare", "pressure_kpa": 450.0, "measured_flow_l_s": math.nan}])
    assert by_referee(bare)["H0"] == pytest.approx(1.5 * (450 / 400) ** 0.5)  # 6 % less


@pytest.mark.parametrize(
    ("pressure", "flow"),
    [(150.0, 1.30 * 0.5**0.5), (300.0, 1.30), (400.0, 1.5), (600.0, 1.95),
     (1200.0, 1.95 * 2**0.5), (math.nan, 1.5)],
)  # fmt: skip
def test_at_the_points_and_beyond_them(pressure: float, flow: float) -> None:
    rows = [{"nozzle": "table", "pressure_kpa": pressure, "measured_flow_l_s": math.nan}]
    for flows in all_four(record(rows)):
        assert flows["H0"] == pytest.approx(flow)


def test_a_point_stated_at_the_reference_pressure_wins() -> None:
    rows = [{"nozzle": "restated", "pressure_kpa": math.nan, "measured_flow_l_s": math.nan}]
    assert [flows["H0"] for flows in all_four(record(rows))] == pytest.approx([1.61] * 4)


def test_a_measured_flow_wins_over_every_table() -> None:
    rows = [{"nozzle": name, "pressure_kpa": 333.0, "measured_flow_l_s": 0.77} for name in NOZZLES]
    for flows in all_four(record(rows)):
        assert list(flows.values()) == [0.77] * len(NOZZLES)


@pytest.mark.parametrize("broken", BROKEN)
def test_a_table_that_cannot_be_read_leaves_the_reference_point(broken: str) -> None:
    rows = [{"nozzle": "N", "pressure_kpa": 500.0, "measured_flow_l_s": math.nan}]
    ground = record(rows, {"N": {"performance": broken}})
    *flows, patterns = all_four(ground)
    assert [found["H0"] for found in flows] == pytest.approx([1.5 * 1.25**0.5] * 3)
    assert patterns == {}  # the map leaves the head out and says so
    codes = {finding.code for finding in head_patterns(ground)[1]}
    assert "nozzle-not-usable" in codes


@pytest.mark.parametrize("nozzle", [None, "other"])
def test_without_a_nozzle_the_flow_is_unknown_to_all(nozzle: str | None) -> None:
    rows = [{"nozzle": nozzle, "pressure_kpa": 400.0, "measured_flow_l_s": math.nan},
            {"nozzle": nozzle, "pressure_kpa": 400.0, "measured_flow_l_s": 1.1}]  # fmt: skip
    *flows, _ = all_four(record(rows))
    for found in flows:
        assert math.isnan(found["H0"])
        assert found["H1"] == 1.1


def test_a_senseless_pressure_is_no_flow() -> None:
    rows = [{"nozzle": "table", "pressure_kpa": -1.0, "measured_flow_l_s": math.nan}]
    *flows, _ = all_four(record(rows))
    assert all(math.isnan(found["H0"]) for found in flows)


def test_the_planner_and_the_table_are_the_same_function() -> None:
    assert planner_flow_l_s is head_flow_l_s


def test_no_heads_and_no_change_of_the_record() -> None:
    ground = record([{"nozzle": "table", "pressure_kpa": 450.0, "measured_flow_l_s": math.nan}])
    before = ground.heads.copy()
    assert head_flow_l_s(ground.heads.iloc[:0], ground.nozzles).empty
    assert np.isfinite(head_flow_l_s(ground.heads, ground.nozzles)).all()
    pd.testing.assert_frame_equal(pd.DataFrame(ground.heads), pd.DataFrame(before))
