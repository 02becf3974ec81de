"""What the Tonight page makes of a plan: flows, ticks, sums, groups."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

import pytest

from nightwater.findings import error, note, warning
from nightwater.night.plan import Bound, LeftOut, Night, Run, StationSum, Window
from nightwater.units import UnitSystem
from nightwater.web.charts import hour_ticks
from nightwater.web.findings_shown import grouped
from nightwater.web.tonight import flow, sums
from nightwater.web.tonight.view import left_groups, map_values, placed_minutes

ZONE = "America/Denver"
SUM = StationSum(
    station="S1", area="A1", kind="fairway", need_mm=6.0, rate_mm_h=12.0, flow_l_s=2.0, heads=1,
    du_lq=0.7, multiplier=1.2195, multiplier_name="du_lq", trim_factor=1.0, extra_min=0.0,
    trim_reason="", exact_min=36.585, floor_min=6, run_min=37, max_cycle_min=20, soak_min=30,
    cycles_min=(19, 18), wetted_m2=600.0,
)  # fmt: skip


def night(start: datetime, end: datetime, *runs: Run, **more: object) -> Night:
    facts = {
        "night": date(2026, 7, 14),
        "window": Window(start, end),
        "runs": runs,
        "left_out": (),
        "flow_l_s": (),
        "bound": Bound(10, "pump"),
        "finish_min": 37,
        "sums": (SUM, replace(SUM, station="S2", kind="green", flow_l_s=1.0)),
        "findings": (),
        "pump_l_s": 30.0,
    }
    return Night(**(facts | more))  # type: ignore[arg-type]


def dark(hours: int = 8) -> tuple[datetime, datetime]:
    start = datetime(2026, 7, 14, 21, 15, tzinfo=ZoneInfo(ZONE))
    return start, start.replace(day=15, hour=(21 + hours) % 24)


def test_flow_is_stacked_by_kind_minute_by_minute() -> None:
    plan = night(*dark(), Run("S1", 0, 19, 1, 2), Run("S1", 49, 18, 2, 2), Run("S2", 10, 37, 1, 1))
    flows = flow.kind_flows_l_s(plan)
    assert list(flows) == ["green", "fairway"]
    assert flows["fairway"][[0, 18, 19, 48, 49, 66, 67]].tolist() == [2, 2, 0, 0, 2, 2, 0]
    assert float(flows["green"].sum()) == 37.0


def test_the_half_hours_hold_all_the_water() -> None:
    plan = night(*dark(), Run("S1", 5, 37, 1, 1), Run("S2", 25, 37, 1, 1))
    rows = flow.half_hours(plan, flow.kind_flows_l_s(plan), ZONE)
    assert [row["clock"] for row in rows[:3]] == ["21:15", "21:45", "22:15"]
    litres = sum(row["mean_l_s"] for row in rows) * 30 * 60
    assert litres == pytest.approx(37 * 60 * 3.0)
    assert rows[0]["highest_l_s"] == 3.0
    assert rows[0]["kinds"]["green"] == pytest.approx(5 / 30)


def test_a_station_of_unknown_flow_adds_nothing() -> None:
    lost = replace(SUM, flow_l_s=math.nan)
    plan = night(*dark(), Run("S1", 0, 5, 1, 1), sums=(lost,))
    assert flow.kind_flows_l_s(plan) == {}
    assert "layer" in flow.flow_chart(plan, UnitSystem.US, ZONE)


def test_ticks_stand_at_full_hours_also_when_the_clocks_go_back() -> None:
    start = datetime(2026, 10, 31, 23, 30, tzinfo=ZoneInfo(ZONE))
    end = datetime(2026, 11, 1, 4, 0, tzinfo=ZoneInfo(ZONE))
    ticks = hour_ticks(night(start, end), ZONE)
    assert list(ticks.items())[:4] == [(30, "00:00"), (90, "01:00"), (150, "01:00"), (210, "02:00")]


def test_the_chart_carries_its_limit_and_its_unit() -> None:
    plan = night(*dark(), Run("S1", 0, 19, 1, 1))
    spec = flow.flow_chart(plan, UnitSystem.METRIC, ZONE)
    texts = [row.get("words") for rows in spec["datasets"].values() for row in rows]
    assert "pumps may give 30 L/s" in texts
    without = flow.flow_chart(replace(plan, pump_l_s=math.nan), UnitSystem.METRIC, ZONE)
    assert "pumps may give" not in str(without)


def test_the_written_sum_follows_the_rule() -> None:
    assert sums.written_sum(SUM, UnitSystem.METRIC) == (
        "60 × 6 mm ÷ 12 mm/h × 1.22 × 1 = 36.59 min, rounded to 37 min"
    )
    trimmed = replace(SUM, trim_factor=0.9, extra_min=-3, exact_min=29.93, run_min=30)
    assert "× 0.9 − 3 min = 29.93 min, rounded to 30 min" in sums.written_sum(
        trimmed, UnitSystem.METRIC
    )


def test_floor_and_ceiling_are_named() -> None:
    floor = replace(SUM, exact_min=2.2, run_min=6)
    assert sums.written_sum(floor, UnitSystem.US).endswith("set to 6 min by the rotation floor")
    capped = replace(SUM, exact_min=80.0, run_min=60)
    assert sums.written_sum(capped, UnitSystem.US).endswith(
        "set to 60 min by the longest run allowed"
    )
    none = replace(SUM, run_min=0, why_none="Held by Ines: spraying.")
    assert sums.written_sum(none, UnitSystem.US) == "Held by Ines: spraying."


def test_cycles_in_words() -> None:
    assert "2 cycles of 19 + 18 min, at least 30 min apart" in sums.cycle_words(SUM)
    assert sums.cycle_words(replace(SUM, cycles_min=(9,))).startswith("one cycle")


def test_a_rate_that_cannot_be_redone_is_not_called_so() -> None:
    assert sums.rate_is_flow_over_ground(SUM)  # 2 L/s on 600 m² is 12 mm/h
    assert not sums.rate_is_flow_over_ground(replace(SUM, rate_mm_h=20.0))
    assert not sums.rate_is_flow_over_ground(replace(SUM, wetted_m2=math.nan))


def test_what_is_left_out_is_grouped_most_owed_first() -> None:
    left = (LeftOut("S1", 10, "full"), LeftOut("S2", 50, "full"), LeftOut("S9", 5, "held"))
    groups = left_groups(night(*dark(), left_out=left))
    assert [(g.kind, g.reason, g.stations, g.owed_min) for g in groups] == [
        ("green", "full", 1, 50), ("fairway", "full", 1, 10), ("", "held", 1, 5),
    ]  # fmt: skip


def test_the_map_tells_minutes_given_not_minutes_wished() -> None:
    from nightwater.web.places import Places

    plan = night(*dark(), Run("S1", 0, 19, 1, 2), Run("S1", 49, 18, 2, 2))
    assert placed_minutes(plan) == {"S1": 37, "S2": 0}
    places = Places({"A1": "7 fairway"}, {"A1": 7}, {"S1": "7-1"}, {}, {}, {}, (7,))
    values = map_values(plan, places, UnitSystem.METRIC)
    assert values["texts"]["stations:S1"] == "Station 7-1: 37 min, need 6.0 mm"
    assert values["texts"]["areas:A1"] == "7 fairway: need 6.0 mm"
    assert values["shown"]["minutes"]["stations"]["S2"].startswith("band-0-")


def test_findings_of_one_code_are_read_once_and_the_gravest_first() -> None:
    doubts = [
        note("a", "x:1", "m", "f"), warning("b", "x:2", "m", "f"), error("c", "x:3", "m", "f"),
        warning("b", "x:4", "m", "f"),
    ]  # fmt: skip
    groups = grouped(doubts)
    assert [(first.subject, [r.subject for r in rest]) for first, rest in groups] == [
        ("x:3", []), ("x:2", ["x:4"]), ("x:1", []),
    ]  # fmt: skip
