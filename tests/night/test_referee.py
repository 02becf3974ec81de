"""Sound nights pass, and each kind of violation, made on purpose, is caught."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely.affinity import translate
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Point, box

from nightwater.findings import Finding, Severity
from nightwater.ground.record import Ground, empty, ground_from
from nightwater.ground.running_tables import HOLDS
from nightwater.ground.settings import NightRules, Settings, Site
from nightwater.night.build import plan_night
from nightwater.night.plan import Bound, LeftOut, Night, Run, StationSum, Window
from nightwater.night.referee import referee

CRS = "EPSG:32613"
ZONE = ZoneInfo("America/Denver")
NIGHT = date(2025, 7, 10)
WINDOW = Window(datetime(2025, 7, 10, 21, tzinfo=ZONE), datetime(2025, 7, 11, 5, tzinfo=ZONE))
KINDS = ("green", "fairway", "rough")
SPACING_M = 20.0
FLOW_L_S = 1.7


@dataclass(frozen=True)
class Course:
    """Everything a referee is given."""

    night: Night
    ground: Ground
    settings: Settings
    holds: pd.DataFrame

    def judged(self) -> list[Finding]:
        return referee(self.night, self.ground, self.settings, self.holds)

    def with_night(self, **changes: Any) -> Course:
        return replace(self, night=replace(self.night, **changes))

    def with_rules(self, **changes: Any) -> Course:
        rules = replace(self.settings.night, **changes)
        return replace(self, settings=replace(self.settings, night=rules))

    def with_cells(self, table: str, **changes: Any) -> Course:
        return replace(
            self, ground=self.ground.with_table(table, self.ground.table(table).assign(**changes))
        )


def codes(found: list[Finding], *severities: Severity) -> set[str]:
    return {f.code for f in found if f.severity in (severities or tuple(Severity))}


def frame(rows: dict[str, dict[str, Any]]) -> pd.DataFrame:
    return pd.DataFrame.from_dict(rows, orient="index")


def small_ground(heads_of: list[int], *, flow_l_s: float = FLOW_L_S) -> Ground:
    """Stations in a row, 20 m apart, each on its own lateral of a main along y = 0.

    Station i has `heads_of[i]` heads, kind i mod 3, and controller A or B in turn.
    """
    heads, stations, pipes, areas = {}, {}, {}, {}
    for i, count in enumerate(heads_of):
        x = 20.0 + 20.0 * i
        stations[f"S{i}"] = {"label": f"01-{i}", "controller": "AB"[i % 2]}
        areas[f"A{i}"] = {
            "kind": KINDS[i % 3],
            "hole": "H1",
            "geometry": MultiPolygon([box(x - 9, 5, x + 9, 200)]),
        }
        pipes[f"L{i}"] = {
            "diameter_mm": 66.0,
            "geometry": MultiLineString([LineString([(x, 0), (x, 10 + 20 * count)])]),
        }
        for k in range(count):
            heads[f"H{i}-{k}"] = {
                "station": f"S{i}",
                "nozzle": "N",
                "area": f"A{i}",
                "spacing_m": SPACING_M,
                "row_m": SPACING_M,
                "geometry": Point(x + 0.3, 10 + 20 * k),
            }
    end = 40.0 + 20.0 * len(heads_of)
    pipes["M"] = {
        "diameter_mm": 150.0,
        "geometry": MultiLineString([LineString([(0, 0), (end, 0)])]),
    }
    nozzle = {"pressure_kpa": 480.0, "flow_l_s": flow_l_s, "radius_m": 20.0, "rotation_s": 180.0}
    pump = {"capacity_l_s": 20.0, "geometry": Point(0, 0)}
    return ground_from(
        CRS,
        {
            "areas": frame(areas),
            "heads": frame(heads),
            "nozzles": frame({"N": nozzle}),
            "stations": frame(stations),
            "controllers": frame({"A": {"max_heads_on": 4}, "B": {"max_heads_on": 4}}),
            "pipes": frame(pipes),
            "pumps": frame({"P": pump}),
            "holes": frame({"H1": {"number": 1, "geometry": MultiLineString([[(0, 0), (9, 0)]])}}),
        },
    )


def sum_for(station: str, kind: str, heads: int, cycles: tuple[int, ...]) -> StationSum:
    run_min, rate = sum(cycles), FLOW_L_S / SPACING_M**2 * 3600
    return StationSum(
        station=station,
        area=f"A{station[1:]}",
        kind=kind,
        need_mm=run_min / 60 * rate / 1.191,
        rate_mm_h=rate,
        flow_l_s=FLOW_L_S * heads,
        heads=heads,
        du_lq=0.733,
        multiplier=1.191,
        multiplier_name="du_lq",
        trim_factor=1.0,
        extra_min=0.0,
        trim_reason="",
        exact_min=float(run_min),
        floor_min=6,
        run_min=run_min,
        max_cycle_min=max(cycles, default=11),
        soak_min=30,
        cycles_min=cycles,
        wetted_m2=SPACING_M**2 * heads,
    )


def one_after_another(sums: list[StationSum], minutes: int) -> tuple[list[Run], list[LeftOut]]:
    """The plainest planner: one station at a time, the rest left out when time is up."""
    runs, left, free = [], [], 0
    for row in sums:
        before, owed = -row.soak_min, 0
        for number, cycle in enumerate(row.cycles_min, 1):
            start = max(free, before + row.soak_min)
            if owed or start + cycle > minutes:
                owed += cycle
                continue
            runs.append(Run(row.station, start, cycle, number, len(row.cycles_min)))
            free = before = start + cycle
        if owed:
            left.append(LeftOut(row.station, owed, "The night is full."))
    kept: dict[str, int] = {}
    for run in runs:
        kept[run.station] = kept.get(run.station, 0) + 1
    return [replace(run, of_cycles=kept[run.station]) for run in runs], left


def flow_of(runs: list[Run], sums: list[StationSum], minutes: int) -> tuple[float, ...]:
    flow = np.zeros(minutes)
    by_station = {row.station: row.flow_l_s for row in sums}
    for run in runs:
        flow[run.start_min : run.start_min + run.run_min] += by_station[run.station]
    return tuple(flow)


def small_course(heads_of: list[int], cycles: list[tuple[int, ...]]) -> Course:
    ground = small_ground(heads_of)
    sums = [
        sum_for(f"S{i}", KINDS[i % 3], heads, some)
        for i, (heads, some) in enumerate(zip(heads_of, cycles, strict=True))
    ]
    runs, left = one_after_another(sums, WINDOW.minutes)
    finish = max((run.start_min + run.run_min for run in runs), default=0)
    night = Night(
        night=NIGHT,
        window=WINDOW,
        runs=tuple(runs),
        left_out=tuple(left),
        flow_l_s=flow_of(runs, sums, WINDOW.minutes),
        bound=Bound(min(finish, 20), "pump"),
        finish_min=finish,
        sums=tuple(sums),
        findings=(),
        pump_l_s=17.0,
    )
    site = Site("Vellenby", 39.2, -105.0, 1372.0, "America/Denver", CRS)
    rules = NightRules(start="21:00", end="05:00")
    return Course(night, ground, Settings(site, night=rules), empty(HOLDS, CRS))


@pytest.fixture
def course() -> Course:
    return small_course([1, 2, 1, 2], [(11, 11), (10,), (22,), (9, 9)])


def edit_run(course: Course, row: int, **changes: Any) -> Course:
    runs = list(course.night.runs)
    runs[row] = replace(runs[row], **changes)
    return course.with_night(runs=tuple(runs))


def edit_sum(course: Course, row: int, **changes: Any) -> Course:
    sums = list(course.night.sums)
    sums[row] = replace(sums[row], **changes)
    return course.with_night(sums=tuple(sums))


def around(course: Course, station: str) -> str:
    heads = course.ground.heads
    place = heads.geometry[heads["station"] == station].iloc[0]
    return f"point:{place.x},{place.y},5"


def hold(course: Course, subject: str, start: str, end: str) -> Course:
    row = {"subject": subject, "cause": "event", "reason": "wedding", "author": "Ines"}
    rows = frame({"D1": row | {"start": start, "end": end}})
    return replace(course, holds=rows)


def all_at_once(course: Course) -> Course:
    """15.3 L/s at 21:00, where 12 L/s of pumps may give 10.2."""
    small = course.with_cells("pumps", capacity_l_s=12.0)
    return small.with_night(runs=tuple(replace(run, start_min=0) for run in course.night.runs))


def thinner(pipe: str, diameter_mm: float) -> Callable[[Course], Course]:
    def edit(course: Course) -> Course:
        bore = course.ground.pipes["diameter_mm"].copy()
        bore[pipe] = diameter_mm
        return course.with_cells("pipes", diameter_mm=bore)

    return edit


def without_flow(course: Course) -> Course:
    bare = course.with_cells("heads", nozzle=None)
    return edit_sum(bare, 0, flow_l_s=math.nan)


def flow_shifted(course: Course) -> Course:
    flow = list(course.night.flow_l_s)
    flow[3] += 0.1
    return course.with_night(flow_l_s=tuple(flow))


def left(course: Course, *rows: LeftOut) -> Course:
    return course.with_night(left_out=rows)


EARLIER = Window(datetime(2025, 7, 10, 20, 30, tzinfo=ZONE), WINDOW.end)
LATER = Window(WINDOW.start, datetime(2025, 7, 11, 5, 30, tzinfo=ZONE))

# runs of the fixture: 0 S0 at 0 for 11, 1 S0 at 41 for 11, 2 S1 at 52 for 10, 3 S2 at 62 for 22,
# 4 S3 at 84 for 9, 5 S3 at 123 for 9
BROKEN: dict[str, tuple[Callable[[Course], Course], str]] = {
    "station nobody knows": (lambda c: edit_run(c, 0, station="S9"), "run-station-unknown"),
    "run of no minutes": (lambda c: edit_run(c, 2, run_min=0), "run-minutes-bad"),
    "run of negative minutes": (lambda c: edit_run(c, 2, run_min=-4), "run-minutes-bad"),
    "run of half a minute": (lambda c: edit_run(c, 2, run_min=9.5), "run-minutes-bad"),
    "start at half a minute": (lambda c: edit_run(c, 2, start_min=52.5), "run-minutes-bad"),
    "run before the night": (lambda c: edit_run(c, 0, start_min=-5), "run-before-start"),
    "run past the end": (lambda c: edit_run(c, 5, start_min=472), "run-past-end"),
    "cycle on cycle": (lambda c: edit_run(c, 1, start_min=6), "run-twice-at-once"),
    "same run twice": (lambda c: c.with_night(runs=c.night.runs * 2), "run-twice-at-once"),
    "soak a minute short": (lambda c: edit_run(c, 1, start_min=40), "run-soak-short"),
    "cycle numbers swapped": (lambda c: edit_run(c, 0, cycle=2), "run-cycles-disordered"),
    "wrong number of cycles": (lambda c: edit_run(c, 0, of_cycles=3), "run-cycles-disordered"),
    "cycle longer than the soil takes": (lambda c: edit_run(c, 1, run_min=12), "run-cycle-long"),
    "shorter than two turns": (lambda c: edit_run(c, 2, run_min=5), "run-below-turns"),
    "cycle shorter than a turn": (lambda c: edit_run(c, 1, run_min=2), "cycle-below-turn"),
    "longer than the record allows": (
        lambda c: c.with_cells("stations", max_run_min=[20, None, None, None]),
        "run-above-most",
    ),
    "green outside its window": (
        lambda c: c.with_rules(kind_windows={"green": ("03:00", "")}),
        "run-kind-window",
    ),
    "rough too late for its window": (
        lambda c: c.with_rules(kind_windows={"rough": ("", "22:20")}),
        "run-kind-window",
    ),
    "hold on the course": (
        lambda c: hold(c, "course", "2025-07-11T03:00:00Z", "2025-07-11T03:01:00Z"),
        "run-in-hold",
    ),
    "hold on a station": (
        lambda c: hold(c, "stations:S1", "2025-07-11T03:00:00Z", "2025-07-11T03:53:00Z"),
        "run-in-hold",
    ),
    "hold on an area": (
        lambda c: hold(c, "areas:A1", "2025-07-11T04:01:00Z", "2025-07-12T03:53:00Z"),
        "run-in-hold",
    ),
    "hold on a hole": (
        lambda c: hold(c, "holes:H1", "2025-07-11T03:00:00Z", "2025-07-11T03:53:00Z"),
        "run-in-hold",
    ),
    "hold on a controller": (
        lambda c: hold(c, "controllers:B", "2025-07-11T03:00:00Z", "2025-07-11T03:53:00Z"),
        "run-in-hold",
    ),
    "hold around a point": (
        lambda c: hold(c, around(c, "S1"), "2025-07-11T03:00:00Z", "2025-07-11T03:53:00Z"),
        "run-in-hold",
    ),
    "hold on a kind": (
        lambda c: hold(c, "kind:fairway", "2025-07-11T03:00:00Z", "2025-07-11T03:53:00Z"),
        "run-in-hold",
    ),
    "hold on a head": (
        lambda c: hold(c, "heads:H1-1", "2025-07-11T03:00:00Z", "2025-07-11T03:53:00Z"),
        "run-in-hold",
    ),
    "hold on nobody knows what": (
        lambda c: hold(c, "clubhouse", "2025-07-11T03:00:00Z", "2025-07-11T03:53:00Z"),
        "hold-not-understood",
    ),
    "minutes lost": (lambda c: c.with_night(runs=c.night.runs[:2]), "minutes-too-few"),
    "a minute short": (lambda c: edit_run(c, 2, run_min=9), "minutes-too-few"),
    "a minute too many": (lambda c: edit_run(c, 2, run_min=11), "minutes-too-many"),
    "given and owed": (lambda c: left(c, LeftOut("S0", 5, "Full.")), "minutes-too-many"),
    "run without a sum": (lambda c: c.with_night(sums=c.night.sums[1:]), "minutes-unasked"),
    "no sums": (lambda c: c.with_night(sums=()), "sums-missing"),
    "unknown station left out": (lambda c: left(c, LeftOut("S9", 5, "Full.")), "left-out-unknown"),
    "nothing owed": (lambda c: left(c, LeftOut("S0", 0, "Full.")), "left-out-minutes-bad"),
    "no reason": (lambda c: left(c, LeftOut("S0", 4, " ")), "left-out-unexplained"),
    "need and minutes apart": (lambda c: edit_sum(c, 0, need_mm=9.0), "sum-arithmetic-wrong"),
    "cycles and minutes apart": (lambda c: edit_sum(c, 0, cycles_min=(11,)), "sum-cycles-wrong"),
    "sum for nobody": (lambda c: edit_sum(c, 0, station="S9"), "sum-station-unknown"),
    "other flow": (lambda c: edit_sum(c, 1, flow_l_s=3.3), "sum-flow-differs"),
    "other rate": (
        lambda c: edit_sum(c, 1, rate_mm_h=17.0, need_mm=c.night.sums[1].need_mm * 17 / 15.3),
        "sum-rate-differs",
    ),
    "other area": (lambda c: edit_sum(c, 1, area="A0"), "sum-area-differs"),
    "no flow known": (without_flow, "station-flow-unknown"),
    "pump exceeded": (all_at_once, "pump-overdrawn"),
    "pump a little small": (lambda c: c.with_cells("pumps", capacity_l_s=3.99), "pump-overdrawn"),
    "no pump": (lambda c: c.with_cells("pumps", capacity_l_s=None), "pump-missing"),
    "pump counted on too much": (lambda c: c.with_night(pump_l_s=19.0), "pump-flow-differs"),
    "steep start": (lambda c: c.with_cells("pumps", ramp_l_s_min=1.0), "pump-steps-steep"),
    "thin lateral": (thinner("L1", 52.0), "pipe-overdrawn"),
    "thin main": (thinner("M", 52.0), "pipe-overdrawn"),
    "pipe cut off": (
        lambda c: c.with_cells(
            "pipes",
            geometry=[
                g if i else translate(g, 0, 3) for i, g in enumerate(c.ground.pipes.geometry)
            ],
        ),
        "pipe-route-missing",
    ),
    "no pipes": (
        lambda c: replace(c, ground=c.ground.with_table("pipes", c.ground.pipes.iloc[:0])),
        "pipe-none",
    ),
    "controller overloaded": (
        lambda c: c.with_cells("controllers", max_heads_on=1),
        "controller-overloaded",
    ),
    "controller without a number": (
        lambda c: c.with_cells("controllers", max_heads_on=None).with_rules(max_heads_on=1),
        "controller-overloaded",
    ),
    "flow series off by a little": (flow_shifted, "flow-series-wrong"),
    "flow series with a gap": (
        lambda c: c.with_night(flow_l_s=(math.nan, *c.night.flow_l_s[1:])),
        "flow-series-wrong",
    ),
    "flow series short": (
        lambda c: c.with_night(flow_l_s=c.night.flow_l_s[:-1]),
        "flow-series-length",
    ),
    "no flow series": (lambda c: c.with_night(flow_l_s=()), "flow-series-missing"),
    "finish untrue": (lambda c: c.with_night(finish_min=100), "finish-wrong"),
    "bound over finish": (lambda c: c.with_night(bound=Bound(200, "pump")), "bound-over-finish"),
    "night starts early": (lambda c: c.with_night(window=EARLIER), "night-window-too-wide"),
    "night ends late": (lambda c: c.with_night(window=LATER), "night-window-too-wide"),
    "night of another date": (
        lambda c: c.with_night(night=date(2025, 7, 12)),
        "night-window-too-wide",
    ),
    "no night at all": (
        lambda c: replace(
            c.with_rules(start=None),
            settings=replace(
                c.with_rules(start=None).settings,
                site=replace(c.settings.site, latitude_deg=75.0, timezone="Europe/Oslo"),
            ),
        ),
        "night-window-unknown",
    ),
}
NOT_ERRORS = {
    "run-below-turns",
    "cycle-below-turn",
    "hold-not-understood",
    "sums-missing",
    "sum-rate-differs",
    "pipe-route-missing",
    "pipe-none",
    "flow-series-missing",
}


def test_sound_night_has_no_findings(course: Course) -> None:
    assert course.judged() == []


@pytest.mark.parametrize("name", BROKEN)
def test_each_violation_is_caught(course: Course, name: str) -> None:
    edit, code = BROKEN[name]
    found = edit(course).judged()
    assert code in codes(found)
    severe = {f.severity for f in found if f.code == code}
    assert (severe == {Severity.ERROR}) == (code not in NOT_ERRORS)


@pytest.mark.parametrize("name", BROKEN)
def test_each_finding_says_what_where_and_what_to_do(course: Course, name: str) -> None:
    for finding in BROKEN[name][0](course).judged():
        assert finding.message.endswith(".")
        assert finding.fix.endswith(".")
        assert ":" in finding.subject
        assert "nan" not in finding.message


def test_long_overrun_is_one_finding(course: Course) -> None:
    small = course.with_cells("pumps", capacity_l_s=1.0).with_night(pump_l_s=0.85)
    overdrawn = [f for f in small.judged() if f.code == "pump-overdrawn"]
    assert len(overdrawn) == 1
    # 11 + 11 minutes of S0, then 10, 22, 9 and 9: 72 minutes between 21:00 and 23:12
    assert "for 72 min between 21:00 and 23:12" in overdrawn[0].message
    assert "worst at 21:52" in overdrawn[0].message
    assert "54 gpm" in overdrawn[0].message  # 3.4 L/s
    assert "300.0% over" in overdrawn[0].message


def test_thousand_faults_of_a_kind_are_counted_not_listed() -> None:
    course = small_course([1] * 60, [(8,)] * 60)
    gone = course.with_night(runs=(), flow_l_s=(0.0,) * 480, finish_min=0, bound=Bound(0, ""))
    few = [f for f in gone.judged() if f.code == "minutes-too-few"]
    assert len(few) == 26
    assert few[-1].message.startswith("35 more of the same kind")
    assert few[-1].severity is Severity.ERROR


def test_errors_come_first(course: Course) -> None:
    steep = course.with_cells("pumps", ramp_l_s_min=1.0).with_night(flow_l_s=())
    broken = edit_run(steep, 2, run_min=5)
    ranks = [list(Severity).index(f.severity) for f in broken.judged()]
    assert ranks == sorted(ranks)
    assert len(set(ranks)) == 3


def test_left_out_minutes_close_the_account() -> None:
    course = small_course([1] * 30, [(20,)] * 30)
    assert sum(row.owed_min for row in course.night.left_out) == 30 * 20 - 480
    assert course.judged() == []


def test_hold_before_and_after_a_run_does_not_matter(course: Course) -> None:
    # S1 runs 21:52–22:02 local, 03:52–04:02 UTC
    for start, end in (("03:00", "03:52"), ("04:02", "05:00")):
        held = hold(course, "stations:S1", f"2025-07-11T{start}:00Z", f"2025-07-11T{end}:00Z")
        assert held.judged() == []


def test_kind_window_that_is_kept_is_fine(course: Course) -> None:
    kept = course.with_rules(kind_windows={"green": ("21:00", "23:12"), "rough": ("", "")})
    assert kept.judged() == []


def test_night_narrower_than_allowed_is_fine(course: Course) -> None:
    assert course.with_rules(start="20:00", end="06:00").judged() == []


def test_window_of_the_sun_is_kept(course: Course) -> None:
    # sunset of 10 July at 39.2° N 105° W is about 20:29 local, sunrise about 05:41
    sunlit = course.with_rules(start=None, end=None)
    assert sunlit.judged() == []
    wide = Window(
        datetime(2025, 7, 10, 20, 50, tzinfo=ZONE), datetime(2025, 7, 11, 5, 0, tzinfo=ZONE)
    )
    assert "night-window-too-wide" in codes(sunlit.with_night(window=wide).judged())


def test_document_without_sums_is_judged_on_the_rest(course: Course) -> None:
    bare = course.with_night(sums=(), flow_l_s=(), pump_l_s=math.nan, bound=Bound(0, ""))
    assert codes(bare.judged()) == {"sums-missing", "flow-series-missing"}
    assert "pump-overdrawn" in codes(all_at_once(bare).judged())


def with_soil(course: Course, slope_pct: float) -> Course:
    """Intake 5 mm/h and 2 mm of storage under 15.3 mm/h: 11.65 min and 24 min of soak."""
    return course.with_cells("areas", intake_mm_h=5.0, surface_storage_mm=2.0, slope_pct=slope_pct)


def test_cycles_and_soaks_are_recomputed_where_there_are_no_sums(course: Course) -> None:
    bare = with_soil(course, 2.0).with_night(sums=(), flow_l_s=(), pump_l_s=math.nan)
    # S2 runs 22 min at a stretch, 11 are allowed; the soaks of 30 min are long enough
    assert codes(bare.judged(), Severity.ERROR) == {"run-cycle-long"}
    # S3 needs 24 min between its cycles: from 93 to 117
    assert "run-soak-short" in codes(edit_run(bare, 5, start_min=116).judged())
    assert "run-soak-short" not in codes(edit_run(bare, 5, start_min=117).judged())


def test_slope_halves_what_the_surface_holds(course: Course) -> None:
    steep = with_soil(course, 6.0).with_night(sums=(), flow_l_s=(), pump_l_s=math.nan)
    told = [f.message for f in steep.judged() if f.code == "run-cycle-long"]
    assert len(told) == 4
    assert "takes 5 min before" in told[0]  # 60 · 1 / (15.3 − 5) = 5.83


def test_soil_that_takes_all_needs_no_cycles(course: Course) -> None:
    sandy = course.with_cells("areas", intake_mm_h=30.0, surface_storage_mm=2.0)
    assert sandy.judged() == []


def test_part_circle_head_turns_faster(course: Course) -> None:
    # 6 min for two full circles, 1.5 min for two sweeps of a quarter
    quarter = edit_run(course.with_cells("heads", arc_deg=90.0), 2, run_min=5)
    assert "run-below-turns" not in codes(quarter.judged())


def test_head_pressure_and_measured_flow_count(course: Course) -> None:
    # half the pressure gives 0.707 of the flow through an orifice
    low = course.with_cells("heads", pressure_kpa=240.0)
    told = [f for f in low.judged() if f.code == "sum-flow-differs"]
    assert "19 gpm" in told[0].message  # 1.7 · √0.5 = 1.202 L/s
    measured = low.with_cells("heads", measured_flow_l_s=FLOW_L_S)
    assert measured.judged() == []


def test_listed_flow_serves_stations_without_heads(course: Course) -> None:
    listed = replace(
        course, ground=course.ground.with_table("heads", course.ground.heads.iloc[:0])
    ).with_cells("stations", flow_listed_l_s=[1.7, 3.4, 1.7, 3.4], heads_listed=[1, 2, 1, 2])
    assert codes(listed.judged(), Severity.ERROR) == set()
    overloaded = listed.with_cells("controllers", max_heads_on=1)
    assert "controller-overloaded" in codes(overloaded.judged())


def test_looped_pipe_keeps_its_margin(course: Course) -> None:
    # 1.7 + 3.4 L/s … only 3.4 L/s at once: 54 mm at 1.524 m/s carries 3.49 L/s, looped 2.79 L/s
    fits = thinner("L1", 54.0)(course)
    assert fits.judged() == []
    ring = MultiLineString([LineString([(40, 50), (60, 30)])])
    pipes = pd.concat([fits.ground.pipes, frame({"X": {"diameter_mm": 20.0, "geometry": ring}})])
    looped = replace(fits, ground=fits.ground.with_table("pipes", pipes))
    found = [f for f in looped.judged() if f.code == "pipe-overdrawn"]
    assert [f.subject for f in found] == ["pipes:L1"]
    assert "loop margin" in found[0].message


def test_pipe_own_velocity_wins(course: Course) -> None:
    slow = course.with_cells("pipes", max_velocity_m_s=[None, 0.9, None, None, None])
    assert codes(slow.judged()) == {"pipe-overdrawn"}  # 66 mm at 0.9 m/s carries 3.08 L/s


def test_two_stations_share_a_pipe(course: Course) -> None:
    # both on the main of 75 mm: 5.1 L/s together, 6.73 L/s allowed at 1.524 m/s, 4.42 at 1.0
    together = edit_run(course, 2, start_min=0)
    thin = thinner("M", 75.0)
    assert "pipe-overdrawn" not in codes(thin(together).judged())
    slow = thin(together).with_rules(max_velocity_m_s=1.0)
    assert "pipe-overdrawn" in codes(slow.judged())
    assert "pipe-overdrawn" not in codes(thin(course).with_rules(max_velocity_m_s=1.0).judged())


def test_inputs_are_left_as_they_were(course: Course) -> None:
    before = course.ground.heads.copy(), course.holds.copy()
    course.judged()
    pd.testing.assert_frame_equal(course.ground.heads, before[0])
    pd.testing.assert_frame_equal(course.holds, before[1])


cycle_lists = st.lists(st.integers(6, 20), min_size=1, max_size=3).map(tuple)
courses = st.lists(st.tuples(st.integers(1, 2), cycle_lists), min_size=1, max_size=9).map(
    lambda rows: small_course([heads for heads, _ in rows], [cycles for _, cycles in rows])
)


@settings(max_examples=40, deadline=None)
@given(courses)
def test_any_plain_night_is_sound(course: Course) -> None:
    assert course.judged() == []


@settings(max_examples=60, deadline=None)
@given(courses, st.data())
def test_any_run_moved_about_is_caught(course: Course, data: st.DataObject) -> None:
    """A run of a full plain night cannot change and leave everything true."""
    row = data.draw(st.integers(0, len(course.night.runs) - 1))
    run = course.night.runs[row]
    changes = data.draw(
        st.sampled_from(
            [
                {"run_min": run.run_min + 1},
                {"run_min": run.run_min - 1},
                {"start_min": run.start_min + 1},
                {"start_min": run.start_min - 7},
                {"start_min": 480},
                {"cycle": run.cycle + 1},
                {"of_cycles": run.of_cycles + 1},
                {"station": "elsewhere"},
            ]
        )
    )
    assert codes(edit_run(course, row, **changes).judged(), Severity.ERROR)


@settings(max_examples=30, deadline=None)
@given(courses, st.data())
def test_any_run_removed_or_doubled_is_caught(course: Course, data: st.DataObject) -> None:
    runs = list(course.night.runs)
    row = data.draw(st.integers(0, len(runs) - 1))
    doubled = data.draw(st.booleans())
    changed = [*runs, runs[row]] if doubled else runs[:row] + runs[row + 1 :]
    assert codes(course.with_night(runs=tuple(changed)).judged(), Severity.ERROR)


def test_two_thousand_stations_are_judged_whole() -> None:
    course = small_course([1] * 2000, [(11, 11)] * 2000)
    runs = tuple(
        Run(f"S{i}", (i * 7) % 400 + 41 * k, 11, k + 1, 2) for i in range(2000) for k in range(2)
    )
    busy = course.with_night(
        runs=runs, left_out=(), flow_l_s=flow_of(list(runs), list(course.night.sums), 480)
    )
    over = [finding for finding in busy.judged() if finding.code == "pump-overdrawn"]
    assert len(over) == 1  # one finding, however many stations share the minute


def planned(course: Course) -> Course:
    """The same requests, ordered by our own planner."""
    night = plan_night(course.ground, course.night.sums, course.settings, NIGHT, course.holds)
    return replace(course, night=night)


def test_planner_and_referee_agree_on_a_plain_course(course: Course) -> None:
    assert planned(course).judged() == []


def ringed(course: Course, east_m: float) -> Course:
    """The same course with its main closed to a ring, so that water has two ways."""
    ring = MultiLineString([LineString([(0, 0), (0, -30), (east_m, -30), (east_m, 0)])])
    pipes = pd.concat([course.ground.pipes, frame({"R": {"diameter_mm": 150.0, "geometry": ring}})])
    return replace(course, ground=course.ground.with_table("pipes", pipes))


pump_shares = st.floats(0.7, 1.0)
windows = st.sampled_from([{}, {"green": ("03:30", "")}, {"rough": ("", "02:15")}])
held = st.sampled_from([None, "areas:A0", "holes:H1", "kind:rough", "controllers:A", "course"])


@st.composite
def tight_courses(draw: st.DrawFn) -> Course:
    """Small courses whose pump, pipes, controllers, windows and holds all bind at times."""
    rows = draw(st.lists(st.tuples(st.integers(1, 2), cycle_lists), min_size=2, max_size=14))
    course = small_course([heads for heads, _ in rows], [cycles for _, cycles in rows])
    course = course.with_cells("pumps", capacity_l_s=draw(st.sampled_from([4.1, 6.0, 10.0, 30.0])))
    course = course.with_cells("controllers", max_heads_on=draw(st.integers(1, 5)))
    bore = course.ground.pipes["diameter_mm"].copy()
    bore["M"] = draw(st.sampled_from([60.0, 75.0, 90.0, 110.0]))
    course = course.with_cells("pipes", diameter_mm=bore)
    course = course.with_rules(
        kind_windows=draw(windows),
        pump_use=draw(pump_shares),
        loop_margin=draw(st.floats(0.5, 1.0)),
        start=draw(st.sampled_from(["21:00", "23:30", None])),
        end=draw(st.sampled_from(["05:00", "00:30", None])),
    )
    if draw(st.booleans()):
        course = ringed(course, 20.0 * len(rows) + draw(st.sampled_from([40.0, 33.0])))
    subject = draw(held)
    if subject:
        return hold(course, subject, "2025-07-11T04:10:00Z", "2025-07-11T06:50:30Z")
    return course


@settings(max_examples=120, deadline=None)
@given(tight_courses())
def test_planner_never_makes_what_the_referee_refuses(course: Course) -> None:
    assert [f for f in planned(course).judged() if f.severity is Severity.ERROR] == []


@settings(max_examples=60, deadline=None)
@given(tight_courses(), st.data())
def test_referee_catches_a_planned_night_spoilt(course: Course, data: st.DataObject) -> None:
    whole = planned(course)
    assume(whole.night.runs)
    row = data.draw(st.integers(0, len(whole.night.runs) - 1))
    change = data.draw(st.sampled_from([{"run_min": 31}, {"start_min": -1}, {"station": "S99"}]))
    assert codes(edit_run(whole, row, **change).judged(), Severity.ERROR)
