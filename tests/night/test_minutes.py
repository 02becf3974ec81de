"""Minutes: every factor of a station's sum, by hand, and what makes them unknowable."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date
from typing import Any

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, box

from nightwater.findings import Finding, Severity, UserError
from nightwater.ground.record import Ground, empty, ground_from
from nightwater.ground.running_tables import TRIMS
from nightwater.ground.settings import MinuteRules
from nightwater.night.minutes import LONGEST_RUN_MIN, active_trims, station_sums
from nightwater.night.plan import StationSum

CRS = "EPSG:32612"
NIGHT = date(2025, 7, 10)
FLOW_L_S = 1.7
CELL_M2 = 20.0 * 17.0
RATE_MM_H = FLOW_L_S / CELL_M2 * 3600  # 18 mm/h
Row = dict[str, Any]


def frame(rows: dict[str, Row]) -> pd.DataFrame:
    table = pd.DataFrame.from_dict(rows, orient="index")
    return gpd.GeoDataFrame(table, geometry="geometry") if "geometry" in table else table


def area(place: int, kind: str = "fairway", **more: Any) -> Row:
    """Turf that needs no parting of runs and loses nothing, 100 m wide."""
    sound = {
        "kind": kind,
        "hole": f"H{place}",
        "soil": "sand",
        "grass": "cool_season",
        "du_lq": 1.0,
        "intake_mm_h": 400.0,
        "geometry": box(100 * place, 0, 100 * place + 100, 100),
    }
    return sound | more


def head(station: str | None, place: int = 0, **more: Any) -> Row:
    sound = {
        "station": station,
        "nozzle": "N",
        "arc_deg": 360.0,
        "spacing_m": 20.0,
        "row_m": 17.0,
        "geometry": Point(100 * place + 50, 50),
    }
    return sound | more


def ground(
    heads: Sequence[Row], areas: dict[str, Row] | None = None, **more: dict[str, Row]
) -> Ground:
    """Heads H0, H1 … on areas A0 and A1, with the stations they name."""
    areas = areas or {"A0": area(0), "A1": area(1, "green")}
    names = dict.fromkeys(row["station"] for row in heads if row["station"])
    nozzle = {"pressure_kpa": 480.0, "flow_l_s": FLOW_L_S, "radius_m": 20.0, "rotation_s": 180.0}
    tables = {
        "areas": areas,
        "heads": {f"H{i}": row for i, row in enumerate(heads)},
        "stations": {name: {"label": name} for name in names},
        "nozzles": {"N": nozzle},
    }
    return ground_from(CRS, {name: frame(rows) for name, rows in (tables | more).items()})


def need(**depths: float) -> pd.Series[float]:
    return pd.Series(depths or {"A0": 6.0, "A1": 3.0}, dtype=float)


def trims(*rows: Row) -> pd.DataFrame:
    sound = {
        "factor": None, "extra_min": None, "reason": "firm", "author": "Pilar",
        "first_night": "2025-07-01", "last_night": "2025-07-31",
    }  # fmt: skip
    return pd.DataFrame([sound | row for row in rows]) if rows else empty(TRIMS, CRS)


def sums(
    course: Ground,
    wanted: pd.Series[float] | None = None,
    *cuts: Row,
    night: date = NIGHT,
    **rules: Any,
) -> tuple[tuple[StationSum, ...], list[Finding]]:
    wanted = need() if wanted is None else wanted
    return station_sums(course, wanted, MinuteRules(**rules), trims(*cuts), night)


def only(course: Ground, wanted: pd.Series[float] | None = None, *cuts: Row, **more: Any) -> Any:
    found, _ = sums(course, wanted, *cuts, **more)
    assert len(found) == 1
    return found[0]


class TestOneStation:
    def test_minutes_are_need_over_rate(self) -> None:
        row = only(ground([head("S")]))
        assert row.rate_mm_h == pytest.approx(18.0)
        assert row.exact_min == pytest.approx(60 * 6 / 18)
        assert row.run_min == 20
        assert (row.station, row.area, row.kind, row.heads) == ("S", "A0", "fairway", 1)
        assert row.why_none == ""

    @pytest.mark.parametrize(
        ("name", "expected"),
        [("du_lq", 1 / (0.4 + 0.6 * 0.5)), ("inverse_du", 2.0), ("efficiency", 1.25), ("none", 1)],
    )
    def test_the_named_multiplier_is_used_and_told(self, name: str, expected: float) -> None:
        areas = {"A0": area(0, du_lq=0.5, efficiency=0.8)}
        row = only(ground([head("S")], areas), run_time_multiplier=name)
        assert row.multiplier == pytest.approx(expected)
        assert row.exact_min == pytest.approx(20 * expected)
        assert (row.multiplier_name, row.du_lq) == (name, 0.5)

    def test_an_unknown_multiplier_is_refused(self) -> None:
        with pytest.raises(UserError, match="du_lq"):
            sums(ground([head("S")]), run_time_multiplier="guess")

    @pytest.mark.parametrize(
        ("wanted", "minutes"), [(5.84, 19), (5.85, 20), (6.14, 20), (6.15, 21)]
    )
    def test_half_minutes_go_up(self, wanted: float, minutes: int) -> None:
        assert only(ground([head("S")]), need(A0=wanted)).run_min == minutes

    def test_forty_halves_do_not_all_round_to_even(self) -> None:
        wanted = need(**{"A0": 6.75})  # 22.5 min
        assert only(ground([head("S")]), wanted).run_min == 23

    def test_pressure_at_the_head_changes_flow_and_minutes(self) -> None:
        row = only(ground([head("S", pressure_kpa=480.0 * 1.21)]))
        assert row.flow_l_s == pytest.approx(FLOW_L_S * 1.1)
        assert row.exact_min == pytest.approx(20 / 1.1)

    def test_a_measured_flow_wins(self) -> None:
        row = only(ground([head("S", measured_flow_l_s=3.4, nozzle=None)]))
        assert row.rate_mm_h == pytest.approx(36.0)


def test_the_sum_of_the_handbook_page() -> None:
    """docs/how/minutes.md, a sum by hand."""
    fairway = area(0, du_lq=0.72, soil="clay_loam", intake_mm_h=None, slope_pct=2.0)
    pair = {"measured_flow_l_s": 1.735, "spacing_m": 19.8, "row_m": 17.2}
    course = ground([head("7-14", **pair), head("7-14", **pair)], {"A0": fairway})
    row = only(course, need(A0=5.8), {"subject": "areas:A0", "factor": 1.1})
    assert row.rate_mm_h == pytest.approx(18.34, abs=0.005)
    assert row.multiplier == pytest.approx(1.202, abs=0.0005)
    assert row.exact_min == pytest.approx(25.09, abs=0.005)
    assert (row.floor_min, row.run_min, row.max_cycle_min, row.soak_min) == (6, 25, 11, 31)
    assert row.cycles_min == (9, 8, 8)


class TestManyHeads:
    def test_need_is_weighted_by_flow(self) -> None:
        heads = [head("S", 0, measured_flow_l_s=1.0), head("S", 1, measured_flow_l_s=3.0)]
        row = only(ground(heads))
        assert row.need_mm == pytest.approx((1.0 * 6 + 3.0 * 3) / 4)
        assert row.flow_l_s == pytest.approx(4.0)
        assert row.wetted_m2 == pytest.approx(2 * CELL_M2)
        assert (row.area, row.kind) == ("A1", "green")

    def test_uniformity_and_multiplier_are_weighted_by_flow(self) -> None:
        areas = {"A0": area(0, du_lq=0.5), "A1": area(1, du_lq=0.9)}
        heads = [head("S", 0, measured_flow_l_s=3.0), head("S", 1, measured_flow_l_s=1.0)]
        row = only(ground(heads, areas))
        assert row.du_lq == pytest.approx((3 * 0.5 + 0.9) / 4)
        assert row.multiplier == pytest.approx((3 / 0.7 + 1 / 0.94) / 4)

    def test_water_laid_down_is_the_water_needed(self) -> None:
        heads = [head("S", 0, arc_deg=180.0), head("S", 0), head("S", 1, measured_flow_l_s=0.9)]
        row = only(ground(heads))
        laid_m3 = row.flow_l_s * row.exact_min * 60 / 1000
        assert laid_m3 == pytest.approx(row.need_mm * row.wetted_m2 / 1000)

    def test_of_equal_areas_the_first_by_id_gives_its_name(self) -> None:
        row = only(ground([head("S", 1), head("S", 0)]))
        assert row.area == "A0"

    def test_the_tightest_soil_and_the_steepest_slope_bind(self) -> None:
        areas = {
            "A0": area(0, intake_mm_h=3.0, surface_storage_mm=4.0, slope_pct=0.0),
            "A1": area(1, intake_mm_h=9.0, surface_storage_mm=2.0, slope_pct=8.0),
        }
        row = only(ground([head("S", 0), head("S", 1)], areas), need(A0=6.0, A1=6.0))
        storage = 2.0 / 2  # half on a slope over 6 %
        assert row.max_cycle_min == int(60 * storage / (18 - 3))
        assert row.soak_min == math.ceil(60 * storage / 3)

    def test_stations_come_in_the_order_of_the_record(self) -> None:
        course = ground([head("B"), head("A"), head("B", 1), head("C", 1)])
        found, _ = sums(course)
        assert [row.station for row in found] == ["B", "A", "C"]
        assert [row.heads for row in found] == [2, 1, 1]

    def test_heads_without_a_station_and_stations_without_heads_have_no_sum(self) -> None:
        course = ground([head(None), head("S"), head("elsewhere")], stations={"S": {}, "T": {}})
        found, doubts = sums(course)
        assert [row.station for row in found] == ["S"]
        assert doubts == []

    def test_an_empty_record_gives_no_sums(self) -> None:
        assert sums(ground_from(CRS, {})) == ((), [])


class TestPartCircles:
    def test_half_a_circle_on_half_the_ground_takes_half_the_time(self) -> None:
        row = only(ground([head("S", arc_deg=180.0)]))
        assert row.rate_mm_h == pytest.approx(2 * RATE_MM_H)
        assert row.run_min == 10

    def test_an_arc_that_is_not_known_is_a_full_circle(self) -> None:
        assert only(ground([head("S", arc_deg=None)])).rate_mm_h == pytest.approx(RATE_MM_H)

    def test_a_sector_turns_in_its_share_of_the_time(self) -> None:
        assert only(ground([head("S", arc_deg=90.0)])).floor_min == 2  # 2 · 45 s
        assert only(ground([head("S", arc_deg=90.0), head("S")])).floor_min == 6


class TestRotationFloor:
    @pytest.mark.parametrize(
        ("rotation", "turns", "floor"), [(180.0, 2, 6), (200.0, 2, 7), (None, 3, 12), (0.0, 2, 0)]
    )
    def test_floor_is_whole_minutes_of_turns(
        self, rotation: float | None, turns: float, floor: int
    ) -> None:
        course = ground([head("S")])
        course = course.with_table("nozzles", course.nozzles.assign(rotation_s=rotation))
        assert only(course, least_turns=turns, default_rotation_s=240.0).floor_min == floor

    def test_a_short_run_is_raised_and_told_once(self) -> None:
        found, doubts = sums(ground([head("S"), head("T"), head("U", 1)]), need(A0=1.2, A1=6))
        assert [row.run_min for row in found] == [6, 6, 20]
        assert found[0].exact_min == pytest.approx(4.0)
        assert [doubt.code for doubt in doubts] == ["rotation-floor"]
        assert doubts[0].severity is Severity.NOTE
        assert doubts[0].message.startswith("2 stations")

    def test_no_note_where_the_need_itself_makes_the_floor(self) -> None:
        found, doubts = sums(ground([head("S")]), need(A0=1.8))
        assert found[0].run_min == found[0].floor_min == 6
        assert doubts == []


class TestLimits:
    def test_the_longest_run_of_a_station_binds(self) -> None:
        course = ground([head("S")], stations={"S": {"max_run_min": 12}})
        row = only(course)
        assert row.run_min == 12
        assert row.exact_min == pytest.approx(20.0)

    def test_the_longest_run_wins_over_the_floor(self) -> None:
        course = ground([head("S")], stations={"S": {"max_run_min": 4}})
        assert only(course).run_min == 4

    def test_without_a_limit_a_run_ends_somewhere(self) -> None:
        assert only(ground([head("S")]), need(A0=400.0)).run_min == LONGEST_RUN_MIN

    def test_a_need_under_the_least_waits(self) -> None:
        row = only(ground([head("S")]), need(A0=0.49))
        assert (row.run_min, row.cycles_min, row.soak_min) == (0, (), 0)
        assert "0.49 mm is under 0.5 mm" in row.why_none
        assert only(ground([head("S")]), need(A0=0.5)).run_min == 6

    def test_a_need_under_the_least_is_no_reason_for_a_note_on_turns(self) -> None:
        assert sums(ground([head("S")]), need(A0=0.1))[1] == []

    def test_no_need_is_no_run_even_where_the_least_need_is_none(self) -> None:
        """After a storm the turns that a head must make are no reason to water."""
        row = only(ground([head("S")]), need(A0=0.0), least_need_mm=0.0)
        assert (row.run_min, row.cycles_min, row.why_none) == (0, (), "it needs no water")
        assert only(ground([head("S")]), need(A0=0.1), least_need_mm=0.0).run_min == 6


class TestTrims:
    def test_factors_multiply_and_minutes_add(self) -> None:
        row = only(
            ground([head("S")]),
            None,
            {"subject": "course", "factor": 1.2},
            {"subject": "areas:A0", "factor": 0.5, "extra_min": 3.0},
            {"subject": "stations:S", "extra_min": 2.0},
        )
        assert row.trim_factor == pytest.approx(0.6)
        assert row.extra_min == 5.0
        assert row.exact_min == pytest.approx(12.0)
        assert row.run_min == 17

    @pytest.mark.parametrize(
        "subject", ["course", "kind:fairway", "holes:H0", "areas:A0", "stations:S"]
    )
    def test_every_subject_reaches_its_station(self, subject: str) -> None:
        course = ground([head("S"), head("T", 1)])
        course = course.with_table("holes", frame({"H0": {}, "H1": {}}))
        found, _ = sums(course, None, {"subject": subject, "factor": 2.0})
        assert found[0].trim_factor == 2.0
        assert found[1].trim_factor == (2.0 if subject == "course" else 1.0)

    def test_other_subjects_do_not(self) -> None:
        others = ["kind:green", "holes:H9", "areas:A1", "stations:T", "S", "holes:None"]
        rows = [{"subject": subject, "factor": 3.0} for subject in others]
        row = only(ground([head("S")]), None, *rows)
        assert (row.trim_factor, row.extra_min, row.trim_reason) == (1.0, 0.0, "")

    def test_reasons_authors_and_last_nights_are_kept(self) -> None:
        row = only(
            ground([head("S")]),
            None,
            {"subject": "course", "factor": 0.9, "reason": "members' day"},
            {"subject": "stations:S", "extra_min": 4, "reason": "dry knoll", "author": "Ines"},
        )
        for word in ("course × 0.9", "members' day (Pilar)", "+ 4 min", "dry knoll (Ines)"):
            assert word in row.trim_reason
        assert row.trim_reason.count("until 2025-07-31") == 2
        kept = [(one.subject, one.factor, one.extra_min, one.author) for one in row.trims]
        assert kept == [("course", 0.9, 0.0, "Pilar"), ("stations:S", 1.0, 4.0, "Ines")]
        assert {one.last_night.isoformat() for one in row.trims} == {"2025-07-31"}
        assert [one.share for one in row.trims] == [1.0, 1.0]

    @pytest.mark.parametrize(
        ("day", "holds"), [(3, False), (4, True), (5, True), (6, True), (7, False)]
    )
    def test_a_trim_holds_from_its_first_to_its_last_night(self, day: int, holds: bool) -> None:
        cut = {"subject": "course", "factor": 0.5}
        cut |= {"first_night": "2025-07-04", "last_night": "2025-07-06"}
        night = date(2025, 7, day)
        assert len(active_trims(trims(cut), night)) == holds
        assert only(ground([head("S")]), None, cut, night=night).run_min == (10 if holds else 20)

    def test_a_factor_of_nothing_leaves_no_minutes(self) -> None:
        row = only(ground([head("S")]), None, {"subject": "course", "factor": 0.0})
        assert row.run_min == 0
        assert row.why_none.startswith("trimmed to nothing")
        assert "firm" in row.why_none

    def test_minutes_may_be_added_to_nothing(self) -> None:
        row = only(ground([head("S")]), None, {"subject": "course", "factor": 0, "extra_min": 8})
        assert (row.run_min, row.why_none) == (8, "")
        assert only(
            ground([head("S")]), need(A0=0.0), {"subject": "course", "extra_min": 8}
        ).run_min

    def test_minutes_taken_off_do_not_undercut_the_floor(self) -> None:
        row = only(ground([head("S")]), None, {"subject": "course", "extra_min": -16})
        assert row.run_min == row.floor_min == 6

    @pytest.mark.parametrize("extra", [-20, -60])
    def test_more_minutes_taken_off_than_there_are_leave_none(self, extra: int) -> None:
        row = only(ground([head("S")]), None, {"subject": "course", "extra_min": extra})
        assert row.run_min == 0
        assert row.why_none.startswith("trimmed to nothing")

    def test_an_added_minute_to_a_run_that_rounds_to_none_gives_the_floor(self) -> None:
        course = ground([head("S", measured_flow_l_s=10.0, spacing_m=2.0)])
        row = only(course, need(A0=0.5), {"subject": "course", "factor": 1.1})
        assert row.exact_min < 0.5
        assert row.run_min == row.floor_min


FAULTS = [
    ("minutes-no-flow", {"nozzle": None}, {}),
    ("minutes-no-flow", {"nozzle": "unknown"}, {}),
    ("minutes-no-flow", {"measured_flow_l_s": 0.0}, {}),
    ("minutes-no-spacing", {"spacing_m": None}, {}),
    ("minutes-no-spacing", {"row_m": 0.0}, {}),
    ("minutes-no-spacing", {"arc_deg": 400.0}, {}),
    ("minutes-no-area", {"geometry": Point(5000, 5000)}, {}),
    ("minutes-no-need", {"area": "pond"}, {}),
    ("minutes-no-uniformity", {}, {"du_lq": 75.0}),
    ("minutes-no-intake", {}, {"intake_mm_h": 0.0}),
]


class TestFaults:
    @pytest.mark.parametrize(("code", "of_head", "of_area"), FAULTS)
    def test_what_is_not_known_is_an_error_and_leaves_the_station_out(
        self, code: str, of_head: Row, of_area: Row
    ) -> None:
        areas = {"A0": area(0, **of_area), "A1": area(1), "pond": area(3, "water")}
        course = ground([head("S"), head("S", **of_head), head("T", 1)], areas)
        found, doubts = sums(course)
        assert [row.station for row in found] == ["T"]
        assert [(d.code, d.subject, d.severity) for d in doubts] == [
            (code, "stations:S", Severity.ERROR)
        ]
        assert "record" in doubts[0].fix

    def test_the_message_names_station_head_and_area(self) -> None:
        areas = {"A0": area(0), "pond": area(3, "water")}
        _, doubts = sums(ground([head("S"), head("S", area="pond")], areas), need(A0=5.0))
        assert "Station S: head H1 waters pond" in doubts[0].message

    def test_one_finding_a_station_in_the_order_of_the_record(self) -> None:
        course = ground(
            [head("B", spacing_m=None, nozzle=None), head("A", nozzle=None), head("A", row_m=None)]
        )
        _, doubts = sums(course)
        assert [(d.subject, d.code) for d in doubts] == [
            ("stations:B", "minutes-no-flow"),
            ("stations:A", "minutes-no-flow"),
        ]

    def test_a_need_of_one_area_that_is_missing_spares_the_others(self) -> None:
        found, doubts = sums(ground([head("S"), head("T", 1)]), need(A1=4.0))
        assert [row.station for row in found] == ["T"]
        assert [d.code for d in doubts] == ["minutes-no-need"]


class TestCycles:
    def test_worked_by_hand(self) -> None:
        areas = {"A0": area(0, intake_mm_h=5.0, surface_storage_mm=2.54)}
        row = only(ground([head("S")], areas))
        assert row.max_cycle_min == 11  # 60 · 2.54 / 13 = 11.7
        assert row.soak_min == 31  # 60 · 2.54 / 5 = 30.5
        assert row.cycles_min == (10, 10)

    def test_one_cycle_where_the_soil_keeps_up(self) -> None:
        row = only(ground([head("S")]))
        assert (row.cycles_min, row.soak_min) == ((20,), 0)

    @given(
        case=st.fixed_dictionaries(
            {
                "need": st.floats(0, 40),
                "intake": st.floats(0.5, 60),
                "storage": st.floats(0, 10),
                "slope": st.floats(0, 20),
                "du": st.floats(0.2, 1),
                "factor": st.one_of(st.none(), st.floats(0, 3)),
                "extra": st.one_of(st.none(), st.integers(-60, 60)),
                "arc": st.sampled_from([90.0, 180.0, 270.0, 360.0]),
            }
        )
    )
    @settings(max_examples=120, deadline=None)
    def test_the_sum_can_be_redone_from_what_it_tells(self, case: dict[str, Any]) -> None:
        """run_min = round(60 · need / rate · multiplier · trim) + extra, within its limits."""
        soil = {
            "intake_mm_h": case["intake"],
            "surface_storage_mm": case["storage"],
            "slope_pct": case["slope"],
        }
        areas = {"A0": area(0, du_lq=case["du"], **soil)}
        heads = [head("S", arc_deg=case["arc"])]
        course = ground(heads, areas, stations={"S": {"max_run_min": 90}})
        cut = {"subject": "course", "factor": case["factor"], "extra_min": case["extra"]}
        row = only(course, need(A0=case["need"]), cut)
        exact = 60 * row.need_mm / row.rate_mm_h * row.multiplier * row.trim_factor
        assert row.exact_min == pytest.approx(exact)
        assert row.rate_mm_h == pytest.approx(row.flow_l_s / row.wetted_m2 * 3600)
        assert row.multiplier == pytest.approx(1 / (0.4 + 0.6 * row.du_lq))
        if row.why_none:
            assert row.run_min == 0
        else:
            asked = math.floor(row.exact_min + 0.5) + int(row.extra_min)
            assert row.run_min == min(max(asked, row.floor_min), 90)
        assert sum(row.cycles_min) == row.run_min
        assert all(0 < cycle <= row.max_cycle_min for cycle in row.cycles_min)
        assert max(row.cycles_min, default=0) - min(row.cycles_min, default=0) <= 1
        assert (row.soak_min == 0) or len(row.cycles_min) > 1


def many_stations(count: int) -> Ground:
    """A record of the size of a large course: stations on 150 areas, one head or two each."""
    random = np.random.default_rng(7)
    areas = {f"A{i}": area(i, "green" if i % 3 else "fairway", du_lq=0.7) for i in range(150)}
    places = random.integers(0, 150, 2 * count)
    heads = [head(f"S{i // 2}", int(place)) for i, place in enumerate(places)]
    return ground(heads, areas)


def test_the_whole_course_equals_its_stations_one_by_one() -> None:
    course = many_stations(40)
    wanted = pd.Series(np.linspace(1, 8, 150), index=course.areas.index)
    together, _ = sums(course, wanted)
    for row in together:
        alone = course.with_table("heads", course.heads[course.heads["station"] == row.station])
        assert only(alone, wanted) == row
