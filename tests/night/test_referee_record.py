"""What the referee reads out of the record, station by station."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPolygon, Point, box

from nightwater.ground.nozzle_performance import head_flow_l_s
from nightwater.ground.record import Ground, empty, ground_from
from nightwater.ground.running_tables import HOLDS
from nightwater.ground.settings import MinuteRules, Settings, Site
from nightwater.night.plan import Bound, Night, Run, Window
from nightwater.night.referee_record import Case, StationFacts, station_facts
from nightwater.units import UnitSystem

CRS = "EPSG:32613"
RULES = MinuteRules(default_rotation_s=200.0)
Rows = dict[str, dict[str, Any]]


def frame(rows: Rows) -> pd.DataFrame:
    return pd.DataFrame.from_dict(rows, orient="index")


def record(heads: Rows, stations: Rows | None = None, areas: Rows | None = None) -> Ground:
    """Heads on two areas, a green G and a fairway F; nozzle N gives 1.6 L/s at 400 kPa."""
    grounds: Rows = {"G": {"kind": "green"}, "F": {"kind": "fairway"}}
    shapes = {"G": box(0, 0, 50, 50), "F": box(60, 0, 200, 50)}
    grounds = {
        key: {**row, **(areas or {}).get(key, {}), "geometry": MultiPolygon([shapes[key]])}
        for key, row in grounds.items()
    }
    nozzle = {"pressure_kpa": 400.0, "flow_l_s": 1.6, "radius_m": 20.0, "rotation_s": 180.0}
    plain = {"nozzle": "N", "station": "S", "area": "G", "spacing_m": 20.0, "row_m": 20.0}
    return ground_from(
        CRS,
        {
            "areas": frame(
                {k: {**v, "geometry": MultiPolygon([shapes[k]])} for k, v in grounds.items()}
            ),
            "heads": frame(
                {k: {**plain, **v, "geometry": Point(10, 10)} for k, v in heads.items()}
            ),
            "nozzles": frame(
                {"N": nozzle, "O": nozzle | {"flow_exponent": 0.4, "rotation_s": None}}
            ),
            "stations": frame(stations or {"S": {"label": "01-F-1"}}),
        },
    )


def facts(heads: Rows, **changes: Any) -> StationFacts:
    return station_facts(record(heads, **changes), RULES)["S"]


def test_flow_is_that_of_the_nozzle() -> None:
    assert facts({"H": {}}).flow_l_s == pytest.approx(1.6)
    assert facts({"H": {}, "K": {}}).flow_l_s == pytest.approx(3.2)


def test_flow_goes_with_the_root_of_pressure() -> None:
    assert facts({"H": {"pressure_kpa": 100.0}}).flow_l_s == pytest.approx(0.8)


def test_flow_exponent_of_the_nozzle_wins() -> None:
    assert facts({"H": {"nozzle": "O", "pressure_kpa": 200.0}}).flow_l_s == pytest.approx(
        1.6 * 0.5**0.4
    )


def test_measured_flow_wins() -> None:
    assert facts({"H": {"measured_flow_l_s": 1.1, "pressure_kpa": 100.0}}).flow_l_s == 1.1


def test_listed_flow_serves_where_a_head_is_unknown() -> None:
    listed = {"S": {"flow_listed_l_s": 4.4}}
    assert facts({"H": {}, "K": {"nozzle": None}}, stations=listed).flow_l_s == 4.4
    assert math.isnan(facts({"H": {"nozzle": None}}).flow_l_s)


def test_heads_are_counted_else_listed_else_one() -> None:
    listed = {"S": {"heads_listed": 3}, "T": {"heads_listed": 3}, "U": {}}
    found = station_facts(record({"H": {}, "K": {}}, listed), RULES)
    assert [found[key].heads for key in "STU"] == [2, 3, 1]


def test_kind_is_that_of_most_flow() -> None:
    mixed = {"H": {"area": "G"}, "K": {"area": "F", "measured_flow_l_s": 1.7}}
    assert facts(mixed).kinds == {"fairway"}
    assert facts(mixed).areas == {"G", "F"}


def test_kinds_of_equal_flow_are_both_allowed() -> None:
    assert facts({"H": {"area": "G"}, "K": {"area": "F"}}).kinds == {"green", "fairway"}


def test_rate_spreads_all_flow_over_all_ground() -> None:
    # 3.2 L/s over 400 + 200 m²: 19.2 mm/h
    half = {"H": {}, "K": {"arc_deg": 180.0}}
    assert facts(half).rate_mm_h == pytest.approx(3.2 / 600 * 3600)
    assert math.isnan(facts({"H": {"spacing_m": None}}).rate_mm_h)


def test_turn_is_the_slowest_sweep() -> None:
    assert facts({"H": {}}).turn_s == 180.0
    assert facts({"H": {"arc_deg": 90.0}}).turn_s == 45.0
    assert facts({"H": {"nozzle": "O"}}).turn_s == 200.0  # the course's own default
    assert facts({"H": {"arc_deg": 90.0}, "K": {"arc_deg": 180.0}}).turn_s == 90.0


def test_longest_run_of_the_record() -> None:
    assert facts({"H": {}}).max_run_min is None
    assert facts({"H": {}}, stations={"S": {"max_run_min": 25}}).max_run_min == 25


SOIL = {"intake_mm_h": 5.08, "surface_storage_mm": 2.54}


def at_rate(rate_mm_h: float, **soil: Any) -> StationFacts:
    flow = rate_mm_h * 400 / 3600
    return facts({"H": {"measured_flow_l_s": flow}}, areas={"G": {**SOIL, **soil}})


def test_cycle_and_soak_of_the_trade_example() -> None:
    # rate .72 in/h, intake .20, storage .10 in: 11.5 min and 30 min (common practice, no source)
    longest, soak = at_rate(0.724 * 25.4).cycle_and_soak_min(22)
    assert longest == pytest.approx(11.5, abs=0.05)
    assert soak == pytest.approx(30.0)


def test_short_run_needs_no_cycles() -> None:
    assert at_rate(18.4).cycle_and_soak_min(11) == (math.inf, 0.0)


def test_soil_that_takes_all_needs_no_cycles() -> None:
    assert at_rate(5.0).cycle_and_soak_min(200) == (math.inf, 0.0)


@pytest.mark.parametrize(
    ("slope_pct", "share"), [(0, 1.0), (3, 1.0), (4.5, 0.75), (6, 0.5), (14, 0.5)]
)
def test_slope_takes_storage(slope_pct: float, share: float) -> None:
    assert at_rate(18.4, slope_pct=slope_pct).storage_mm == pytest.approx(2.54 * share)


def test_undeclared_soil_binds_nothing() -> None:
    bare = facts({"H": {}})
    assert math.isnan(bare.intake_mm_h)
    assert bare.cycle_and_soak_min(100) == (math.inf, 0.0)


def test_worst_soil_of_several_areas_binds_and_an_unknown_one_none() -> None:
    heads: Rows = {"H": {"area": "G"}, "K": {"area": "F"}}
    both = facts(heads, areas={"G": SOIL, "F": {"intake_mm_h": 3.0, "surface_storage_mm": 4.0}})
    assert (both.intake_mm_h, both.storage_mm) == (3.0, 2.54)
    assert math.isnan(facts(heads, areas={"G": SOIL}).intake_mm_h)


def test_station_without_heads() -> None:
    found = station_facts(record({"H": {}}, {"S": {}, "T": {"flow_listed_l_s": 2.0}}), RULES)["T"]
    assert found.flow_l_s == 2.0
    assert found.head_flows == ()
    assert found.kinds == found.areas == frozenset()


@settings(deadline=None)
@given(
    st.lists(
        st.fixed_dictionaries(
            {
                "nozzle": st.sampled_from(["N", "O", None]),
                "pressure_kpa": st.sampled_from([None, 150.0, 400.0, 610.0]),
                "measured_flow_l_s": st.sampled_from([None, None, 0.9]),
            }
        ),
        min_size=1,
        max_size=6,
    )
)
def test_head_flows_agree_with_the_planners(rows: list[dict[str, Any]]) -> None:
    ground = record({f"H{i}": row for i, row in enumerate(rows)})
    ours = dict(station_facts(ground, RULES)["S"].head_flows)
    theirs = head_flow_l_s(ground.heads, ground.nozzles)
    for head, flow in theirs.items():
        assert ours[str(head)] == pytest.approx(flow, nan_ok=True)


def case(window: Window, runs: tuple[Run, ...] = (), units: UnitSystem = UnitSystem.US) -> Case:
    night = Night(
        night=date(2025, 11, 1),
        window=window,
        runs=runs,
        left_out=(),
        flow_l_s=(),
        bound=Bound(0, ""),
        finish_min=0,
        sums=(),
        findings=(),
        pump_l_s=10.0,
    )
    site = Site("Vellenby", 39.2, -105.0, 1372.0, "America/Denver", CRS, units=units)
    return Case(night, record({"H": {}}), Settings(site), empty(HOLDS, CRS))


ZONE = ZoneInfo("America/Denver")
AUTUMN = Window(datetime(2025, 11, 1, 21, tzinfo=ZONE), datetime(2025, 11, 2, 5, tzinfo=ZONE))


def test_clock_is_the_courses_even_where_the_window_has_another_zone() -> None:
    moved = Window(AUTUMN.start.astimezone(UTC), AUTUMN.end.astimezone(UTC))
    for window in (AUTUMN, moved):
        told = case(window)
        # the clocks go back from 02:00 to 01:00 in this night
        assert [told.clock(minute) for minute in (0, 240, 300, 360)] == [
            "21:00",
            "01:00",
            "01:00",
            "02:00",
        ]


def test_minute_of_an_instant_and_back() -> None:
    told = case(AUTUMN)
    assert told.minute_of(datetime(2025, 11, 2, 5, tzinfo=ZONE)) == 540.0
    assert told.minute_of(datetime(2025, 11, 2, 3, 0, 30, tzinfo=UTC)) == 0.5


def test_flow_is_told_in_the_courses_units() -> None:
    assert case(AUTUMN).flow_text(1.7) == "27 gpm"
    assert case(AUTUMN, units=UnitSystem.METRIC).flow_text(1.7) == "1.7 L/s"


def test_label_is_told_and_the_id_where_there_is_none() -> None:
    told = case(AUTUMN)
    assert told.name("S") == "01-F-1"
    assert told.name("elsewhere") == "elsewhere"


def test_runs_that_cannot_be_judged_are_set_aside() -> None:
    sound = Run("S", 5, 10, 1, 1)
    bad: list[Any] = [(5.5, 10), (5, 0), (5, -1), (5, 2.5), (True, 10), (5, True)]
    runs = [replace(sound, start_min=start, run_min=length) for start, length in bad]
    told = case(AUTUMN, (*runs, replace(sound, station="X"), sound))
    assert told.sound_runs == (sound,)


def test_runs_are_kept_in_order_of_their_start() -> None:
    runs = tuple(Run("S", start, 5, cycle, 3) for start, cycle in ((50, 2), (0, 1), (90, 3)))
    assert [run.cycle for run in case(AUTUMN, runs).runs_of["S"]] == [1, 2, 3]


def test_flow_of_a_station_that_nobody_knows_is_nothing() -> None:
    told = replace(case(AUTUMN), ground=record({"H": {"nozzle": None}}))
    assert told.flow_l_s("S") == 0.0
