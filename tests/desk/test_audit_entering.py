"""What was measured is kept, corrected beside what stood there, and bounded."""

from __future__ import annotations

import math
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from nightwater.desk.audit_accepting import accept_audit
from nightwater.desk.audit_cans import catch_ml, opening_m2
from nightwater.desk.audit_entering import FACTS, leave_out, record_catches, record_facts
from nightwater.desk.audit_kept import audit_of, audits_of, gap_m
from nightwater.desk.audit_planning import (
    AuditWish,
    heads_of,
    places_for,
    plan_audit,
    reaching_stations,
    stations_named,
    usual_spacing_m,
)
from nightwater.desk.course import Course
from nightwater.findings import ConflictError, NotFoundError, UserError

NOW = datetime(2026, 7, 14, 12, tzinfo=UTC)
BY: dict[str, Any] = {"who": "Pilar", "now": NOW}
LATER: dict[str, Any] = {"who": "Tomas", "now": NOW + timedelta(hours=2)}
SOUND: dict[str, Any] = {
    "run_min": 15.0,
    "throat_m2": 0.0095,
    "wind_m_s": 1.5,
    "wind_from_deg": 225.0,
    "pressure_kpa": 480.0,
    "time": "2026-07-14T11:40:00+00:00",
    "text": "dew on the cans",
}


def planned(course: Course, **more: Any) -> str:
    return plan_audit(course, AuditWish("A-G", cans=30, **more), **BY)


class TestPlan:
    def test_each_audit_has_its_own_id_and_numbers(self, course: Course) -> None:
        assert [planned(course), planned(course)] == ["AU1", "AU2"]
        assert [one.id for one in audits_of(course)] == ["AU2", "AU1"]  # the newest first
        for one in audits_of(course):
            assert one.cans.index.str.startswith(f"{one.id}-").all()
            assert one.cans["label"].tolist() == [str(n + 1) for n in range(len(one.cans))]

    def test_its_name_is_the_area_s_and_the_course_s_day(self, course: Course) -> None:
        """03:00 UTC is still the day before at the course."""
        night = {"who": "Pilar", "now": datetime(2026, 7, 14, 3, tzinfo=UTC)}
        identity = plan_audit(course, AuditWish("A-G"), **night)
        assert audit_of(course, identity).label.endswith(", 2026-07-13")
        assert audit_of(course, planned(course, label=" Fifth, calm ")).label == "Fifth, calm"

    def test_places_are_those_that_are_kept(self, course: Course) -> None:
        places, stations = places_for(course, AuditWish("A-G", cans=30))
        audit = audit_of(course, planned(course))
        assert audit.cans["x_m"].tolist() == pytest.approx(places.x_m.tolist())
        assert audit.cans["y_m"].tolist() == pytest.approx(places.y_m.tolist())
        assert audit.stations == stations
        assert gap_m(audit) == pytest.approx(places.step_m, rel=0.05)

    def test_cans_stand_on_the_area(self, course: Course) -> None:
        audit = audit_of(course, planned(course))
        shape = course.ground.areas.geometry["A-G"]
        for x, y in zip(audit.cans["x_m"], audit.cans["y_m"], strict=True):
            assert shape.buffer(-0.4).contains(type(shape.centroid)(x, y))

    def test_nothing_was_measured_yet(self, course: Course) -> None:
        audit = audit_of(course, planned(course))
        assert audit.entered == 0
        assert audit.facts["state"] == "planned"
        assert {name: audit.facts[name] for name in FACTS} == dict.fromkeys(FACTS)

    @pytest.mark.parametrize("cans", [-1, 0, 23, 201])
    def test_too_few_and_too_many_cans(self, course: Course, cans: int) -> None:
        with pytest.raises(UserError, match="24 to 200 cans"):
            plan_audit(course, AuditWish("A-G", cans=cans), **BY)
        assert audits_of(course) == []

    def test_stations_far_from_the_area_are_refused(self, course: Course) -> None:
        with pytest.raises(UserError, match="do not reach the area"):
            plan_audit(course, AuditWish("A-G", ("S-F000",)), **BY)

    def test_stations_by_id_and_label_once(self, course: Course) -> None:
        assert stations_named(course, "") == ()
        assert stations_named(course, " S-F000 ,, F001,S-F000") == ("S-F000", "S-F001")
        with pytest.raises(UserError, match="No station is called 'X9'"):
            stations_named(course, "S-F000, X9")

    def test_every_station_that_reaches_and_no_other(self, course: Course) -> None:
        """By hand: a station reaches where one of its heads stands within its throw."""
        shape, ground = course.ground.areas.geometry["A-G"], course.ground
        reached = set()
        for _, head in ground.heads.dropna(subset=["station"]).iterrows():
            throw = ground.nozzles.at[head["nozzle"], "radius_m"]
            if head["geometry"].distance(shape) < throw:
                reached.add(head["station"])
        assert set(reaching_stations(course, "A-G")) == reached

    def test_spacing_is_declared_or_the_nearest_head(self, course: Course) -> None:
        heads = heads_of(course, ("S-G0", "S-G1", "S-G2", "S-G3")).copy()
        heads["spacing_m"] = [15.0, 16.0, 30.0, math.nan]
        assert usual_spacing_m(heads) == 16.0
        heads["spacing_m"] = math.nan
        at = [(p.x, p.y) for p in heads.geometry]
        nearest = [min(math.dist(a, b) for b in at if b is not a) for a in at]
        assert usual_spacing_m(heads) == pytest.approx(np.median(nearest))
        assert math.isnan(usual_spacing_m(heads.iloc[:1]))


class TestFacts:
    def test_all_are_kept_and_nothing_is_a_correction(self, course: Course) -> None:
        identity = planned(course)
        record_facts(course, identity, SOUND, **BY)
        facts = audit_of(course, identity).facts
        assert {n: facts[n] for n in SOUND if n != "time"} == {
            n: value for n, value in SOUND.items() if n != "time"
        }
        assert datetime.fromisoformat(str(facts["time"])) == datetime(
            2026, 7, 14, 11, 40, tzinfo=UTC
        )
        assert facts["earlier"] is None

    def test_only_what_is_said_changes(self, course: Course) -> None:
        identity = planned(course)
        record_facts(course, identity, SOUND, **BY)
        record_facts(course, identity, {"run_min": 20.0}, **LATER)
        facts = audit_of(course, identity).facts
        assert (facts["run_min"], facts["wind_m_s"]) == (20.0, 1.5)
        assert facts["earlier"] == "2026-07-14T14:00:00+00:00 Tomas: run_min was 15.0, now 20.0"

    def test_emptied_and_twice_corrected(self, course: Course) -> None:
        identity = planned(course)
        for wind in (1.0, None, 2.0, 3.0):
            record_facts(course, identity, {"wind_m_s": wind}, **BY)
        audit = audit_of(course, identity)
        assert audit.facts["wind_m_s"] == 3.0
        told = [line.partition("Pilar: ")[2] for line in audit.facts["earlier"].splitlines()]
        assert told == ["wind_m_s was 1.0, now None", "wind_m_s was 2.0, now 3.0"]

    def test_the_same_again_is_no_correction(self, course: Course) -> None:
        identity = planned(course)
        for _ in range(2):
            record_facts(course, identity, {"run_min": 15.0, "text": "dew"}, **BY)
        assert audit_of(course, identity).facts["earlier"] is None

    @pytest.mark.parametrize(
        ("fact", "told"),
        [
            ({"run_min": -1.0}, "run_min of -1 cannot be"),
            ({"run_min": 5000.0}, "run_min of 5000 cannot be"),
            ({"wind_m_s": 31.0}, "it goes from 0 to 30"),
            ({"wind_from_deg": 361.0}, "it goes from 0 to 360"),
            ({"pressure_kpa": 4.0}, "pressure_kpa of 4 cannot be"),
            ({"throat_m2": 3.0}, "throat_m2 of 3 cannot be"),
            ({"humidity": 3.0}, "no fact 'humidity'. Known: run_min"),
            ({"state": "used"}, "no fact 'state'"),
        ],
    )
    def test_one_that_cannot_be_keeps_all_out(
        self, course: Course, fact: dict[str, Any], told: str
    ) -> None:
        identity = planned(course)
        with pytest.raises(UserError, match=told):
            record_facts(course, identity, {"text": "dew", **fact}, **BY)
        assert audit_of(course, identity).facts["text"] is None


class TestCatches:
    def test_the_first_catch_makes_it_measured(self, course: Course) -> None:
        identity = planned(course)
        assert record_catches(course, identity, {}, **BY) == 0
        assert audit_of(course, identity).facts["state"] == "planned"
        assert record_catches(course, identity, {"3": 0.0}, **BY) == 1
        audit = audit_of(course, identity)
        assert (audit.facts["state"], audit.entered) == ("measured", 1)

    def test_corrections_line_up_oldest_first(self, course: Course) -> None:
        identity = planned(course)
        for value, by in ((20.0, BY), (22.0, LATER), (21.0, BY)):
            record_catches(course, identity, {"3": value}, **by)
        can = audit_of(course, identity).cans.set_index("label").loc["3"]
        assert can["caught_ml"] == 21.0
        assert can["earlier"].splitlines() == [
            "2026-07-14T14:00:00+00:00 Tomas: caught_ml was 20.0, now 22.0",
            "2026-07-14T12:00:00+00:00 Pilar: caught_ml was 22.0, now 21.0",
        ]

    def test_other_cans_and_other_audits_stay(self, course: Course) -> None:
        first, second = planned(course), planned(course)
        record_catches(course, first, {"1": 5.0}, **BY)
        record_catches(course, first, {"2": 6.0}, **BY)
        assert audit_of(course, first).cans["caught_ml"].dropna().tolist() == [5.0, 6.0]
        assert audit_of(course, second).entered == 0

    @pytest.mark.parametrize(
        ("caught", "told"),
        [({"3": 5000.5}, "Can 3: 5000.5 mL"), ({"3": -0.1}, "Can 3: -0.1 mL"),
         ({"3": math.nan}, "Can 3: nan mL"), ({"x": 1.0, "y": 2.0}, "has no can x, y")],
    )  # fmt: skip
    def test_bounds(self, course: Course, caught: dict[str, float], told: str) -> None:
        identity = planned(course)
        with pytest.raises(UserError, match=told):
            record_catches(course, identity, {"1": 5.0, **caught}, **BY)
        assert audit_of(course, identity).entered == 0


class TestLeavingOut:
    def test_reason_and_name_are_kept_with_the_catch(self, course: Course) -> None:
        identity = planned(course)
        record_catches(course, identity, {"3": 2.0}, **BY)
        leave_out(course, identity, "3", "  kicked over ", **LATER)
        can = audit_of(course, identity).cans.set_index("label").loc["3"]
        assert can["left_out"] == "kicked over (Tomas)"
        assert can["caught_ml"] == 2.0
        leave_out(course, identity, "3", "", **BY)
        can = audit_of(course, identity).cans.set_index("label").loc["3"]
        assert can["left_out"] is None or can["left_out"] != can["left_out"]
        assert can["earlier"].endswith("Pilar: left_out was kicked over (Tomas), now None")

    def test_a_can_that_is_not_there(self, course: Course) -> None:
        with pytest.raises(UserError, match="has no can 99"):
            leave_out(course, planned(course), "99", "kicked", **BY)


DEEDS: list[Callable[[Course, str], Any]] = [
    lambda course, audit: record_facts(course, audit, {"run_min": 9.0}, **BY),
    lambda course, audit: record_catches(course, audit, {"1": 9.0}, **BY),
    lambda course, audit: leave_out(course, audit, "1", "kicked", **BY),
    lambda course, audit: accept_audit(course, audit, ["areas:A-G:du_lq"], **BY),
]


@pytest.mark.parametrize("deed", DEEDS, ids=["facts", "catches", "leave out", "accept"])
def test_no_deed_touches_a_used_audit_or_one_that_is_not_there(
    course: Course, deed: Callable[[Course, str], Any]
) -> None:
    with pytest.raises(NotFoundError, match="no audit 'AU7'"):
        deed(course, "AU7")
    identity = planned(course)
    labels = audit_of(course, identity).cans["label"]
    caught = dict(zip(labels, np.linspace(20, 40, len(labels)).round(1), strict=True))
    record_catches(course, identity, caught, **BY)
    accept_audit(course, identity, ["areas:A-G:du_lq"], **BY)
    before = audit_of(course.reopened(), identity)
    with pytest.raises(ConflictError, match="so it stays as it is"):
        deed(course.reopened(), identity)
    after = audit_of(course.reopened(), identity)
    assert after.facts == before.facts
    assert after.cans.equals(before.cans)


class TestMeasures:
    @pytest.mark.parametrize(("size", "unit"), [(110, "mm"), (11, "cm"), (4.25, "in")])
    def test_a_diameter_is_the_circle_s(self, size: float, unit: str) -> None:
        metres = {"mm": 0.001, "cm": 0.01, "in": 0.0254}[unit]
        assert opening_m2(size, unit) == pytest.approx(math.pi * (size / 2 * metres) ** 2)

    def test_bounds_of_an_opening(self) -> None:
        assert opening_m2(1, "cm2") == pytest.approx(1e-4)
        assert opening_m2(10_000, "cm2") == pytest.approx(1.0)
        for size in (0.9, 10_001, 0, -95, math.nan):
            with pytest.raises(UserError):
                opening_m2(size, "cm2")

    def test_a_depth_is_a_volume_over_the_opening(self) -> None:
        for mm in (0.0, 1.0, 12.7):
            assert catch_ml(mm, "mm", 0.0095) == pytest.approx(mm * 9.5)
        assert catch_ml(1, "in", 0.0095) == pytest.approx(catch_ml(25.4, "mm", 0.0095))
        with pytest.raises(UserError, match="opening"):
            catch_ml(1, "in", math.nan)
