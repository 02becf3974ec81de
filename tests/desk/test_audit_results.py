"""What an audit says, doubts and proposes, from cans whose truth is known."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest

from nightwater.desk.audit_accepting import accept_audit, operations_of
from nightwater.desk.audit_entering import leave_out, record_catches, record_facts
from nightwater.desk.audit_kept import audit_of
from nightwater.desk.audit_planning import AuditWish, plan_audit
from nightwater.desk.audit_proposal import Part
from nightwater.desk.audit_results import AuditResult, audit_result, patterns_of
from nightwater.desk.course import Course
from nightwater.desk.proposing import accept_ground
from nightwater.findings import ConflictError, UserError
from nightwater.ground.record import Ground
from nightwater.spray.point_rate import point_rate_mm_h

NOW = datetime(2026, 7, 14, 12, tzinfo=UTC)
BY: dict[str, Any] = {"who": "Pilar", "now": NOW}
THROAT_M2 = 0.0095
MINUTES = 20.0
DU = "areas:A-G:du_lq"


def planned(course: Course, cans: int = 60, **facts: Any) -> str:
    identity = plan_audit(course, AuditWish("A-G", cans=cans, throat_m2=THROAT_M2), **BY)
    record_facts(course, identity, {"run_min": MINUTES, **facts}, **BY)
    return identity


def rates(course: Course, identity: str, **factors: Any) -> Any:
    """What heads give at the cans [mm/h], some columns of their patterns times factors."""
    audit = audit_of(course, identity)
    patterns, _ = patterns_of(course, audit)
    changed = {name: getattr(patterns, name) * factor for name, factor in factors.items()}
    truth = replace(patterns, **changed)
    return point_rate_mm_h(truth, audit.cans["x_m"], audit.cans["y_m"]).sum(axis=1)


def catch(course: Course, identity: str, rate_mm_h: Any) -> None:
    """Every can read, at a rate each, to a tenth of a millilitre."""
    ml = np.asarray(rate_mm_h) * MINUTES / 60 * THROAT_M2 * 1000
    labels = audit_of(course, identity).cans["label"]
    record_catches(course, identity, dict(zip(labels, ml.round(1), strict=True)), **BY)


def codes(found: AuditResult) -> set[str]:
    return {finding.code for finding in found.findings}


def short(course: Course, identity: str, head: str, factor: float) -> Any:
    patterns, _ = patterns_of(course, audit_of(course, identity))
    assert head in patterns.ids
    return np.where(patterns.ids == head, factor, 1.0)


class TestFigures:
    def test_by_hand(self, course: Course) -> None:
        """30 mL in 20 min on 95 cm² are 30/9.5 mm in a third of an hour: 9.4737 mm/h."""
        identity = planned(course, 30)
        cans = len(audit_of(course, identity).cans)
        ml = np.linspace(20.0, 40.0, cans).round(1)
        labels = audit_of(course, identity).cans["label"]
        record_catches(course, identity, dict(zip(labels, ml, strict=True)), **BY)
        figures = audit_result(course, identity).figures
        assert figures["mean"].value == pytest.approx(ml.mean())
        assert figures["rate"].value == pytest.approx(ml.mean() / 9.5 * 3)
        assert figures["rate"].value == pytest.approx(9.4737, abs=0.01)
        mean = ml.mean()
        cu = 1 - np.abs(ml - mean).sum() / (mean * cans)
        assert figures["cu"].value == pytest.approx(cu)
        if cans % 4 == 0:
            assert figures["du_lq"].value == pytest.approx(np.sort(ml)[: cans // 4].mean() / mean)
        for figure in figures.values():
            assert figure.low < figure.value < figure.high

    def test_the_same_cans_always_say_the_same(self, course: Course) -> None:
        identity = planned(course, 30)
        catch(course, identity, rates(course, identity))
        assert audit_result(course, identity).figures == audit_result(course, identity).figures

    def test_a_can_left_out_is_in_no_figure(self, course: Course) -> None:
        first, second = planned(course, 30), planned(course, 30)
        catch(course, first, rates(course, first))
        catch(course, second, rates(course, second))
        record_catches(course, second, {"5": 400.0}, **BY)
        leave_out(course, second, "5", "under the hose", **BY)
        leave_out(course, first, "5", "another reason", **BY)
        one, two = audit_result(course, first), audit_result(course, second)
        assert one.figures == two.figures
        assert one.comparison.bias == two.comparison.bias
        assert one.stamp == two.stamp
        assert not two.cans.set_index("label").at["5", "counts"]

    def test_nothing_read_says_nothing(self, course: Course) -> None:
        found = audit_result(course, planned(course))
        assert all(math.isnan(figure.value) for figure in found.figures.values())
        assert found.fit is None
        assert found.parts == ()
        assert not found.cans["counts"].any()

    @pytest.mark.parametrize("missing", ["throat_m2", "run_min"])
    def test_without_opening_or_minutes_there_is_evenness_and_no_rate(
        self, course: Course, missing: str
    ) -> None:
        identity = planned(course, 30)
        catch(course, identity, rates(course, identity))
        record_facts(course, identity, {missing: None}, **BY)
        found = audit_result(course, identity)
        assert math.isnan(found.figures["rate"].value)
        assert 0 < found.figures["du_lq"].value < 1
        assert found.fit is None
        assert "audit-facts-missing" in codes(found)
        assert [part.key for part in found.parts] in ([], [DU])  # evenness needs neither


class TestComparison:
    @pytest.mark.parametrize("share", [0.7, 1.0, 1.25])
    def test_cans_that_hold_a_share_of_the_computed(self, course: Course, share: float) -> None:
        identity = planned(course)
        catch(course, identity, share * rates(course, identity))
        found = audit_result(course, identity)
        assert found.comparison.bias == pytest.approx(share, abs=0.005)
        assert found.comparison.correlation == pytest.approx(1.0, abs=1e-3)
        assert found.comparison.spread == pytest.approx(0.0, abs=0.01)
        assert found.cans["ratio"].median() == pytest.approx(share, abs=0.01)

    def test_a_common_loss_is_not_laid_on_the_heads(self, course: Course) -> None:
        identity = planned(course)
        catch(course, identity, 0.9 * rates(course, identity))
        found = audit_result(course, identity)
        assert found.fit is not None
        assert found.fit.catch_share == pytest.approx(0.9, abs=0.03)
        assert [part.key for part in found.parts if part.subject.startswith("heads:")] == []

    def test_a_fault_far_off_is_seen_on_the_map_of_ratios(self, course: Course) -> None:
        identity = planned(course)
        weak = short(course, identity, "H-G2", 0.5)
        catch(course, identity, rates(course, identity, flow_l_s=weak))
        cans = audit_result(course, identity).cans
        head = course.ground.heads.geometry["H-G2"]
        away = np.hypot(cans["x_m"] - head.x, cans["y_m"] - head.y)
        near, far = cans["ratio"][away < away.median()], cans["ratio"][away >= away.median()]
        assert near.mean() < far.mean()


class TestDoubts:
    @pytest.mark.parametrize(("wind", "windy"), [(None, False), (2.2, False), (2.3, True)])
    def test_wind_over_five_miles_an_hour(
        self, course: Course, wind: float | None, windy: bool
    ) -> None:
        """5 mph are 2.2352 m/s."""
        identity = planned(course, wind_m_s=wind)
        catch(course, identity, rates(course, identity))
        assert ("audit-windy" in codes(audit_result(course, identity))) == windy

    @pytest.mark.parametrize(("count", "few"), [(0, False), (23, True), (24, False)])
    def test_fewer_cans_than_the_guidelines_ask(
        self, course: Course, count: int, few: bool
    ) -> None:
        identity = planned(course, 30)
        labels = audit_of(course, identity).cans["label"].tolist()
        record_catches(course, identity, dict.fromkeys(labels[:count], 30.0), **BY)
        assert ("audit-cans-missing" in codes(audit_result(course, identity))) == few

    def test_cans_that_no_heads_explain(self, course: Course) -> None:
        identity = planned(course)
        rng = np.random.default_rng(3)
        catch(course, identity, rates(course, identity) * rng.uniform(0.05, 1.95, 60)[: len(
            audit_of(course, identity).cans
        )])  # fmt: skip
        assert "audit-fit-poor" in codes(audit_result(course, identity))

    @pytest.mark.parametrize("factor", [0.0, 3.0])
    def test_one_odd_can_is_told_by_number_and_counts(self, course: Course, factor: float) -> None:
        identity = planned(course)
        rate = rates(course, identity)
        noise = np.exp(np.random.default_rng(1).normal(0, 0.03, len(rate)))
        rate = rate * noise
        rate[11] *= factor
        catch(course, identity, rate)
        found = audit_result(course, identity)
        suspects = [f for f in found.findings if f.code == "audit-can-suspect"]
        assert [f.message.split()[1] for f in suspects] == ["12"]
        assert found.cans["counts"].all()

    def test_a_head_without_nozzle_that_ran_is_told(self, course: Course) -> None:
        identity = planned(course)

        def without(ground: Ground) -> Ground:
            heads = ground.heads.copy()
            heads.loc["H-G1", "nozzle"] = None
            return ground.with_table("heads", heads)

        accept_ground(course, without, "Ines", "lost", NOW)
        found = audit_result(course.reopened(), identity)
        told = [f.subject for f in found.findings if f.code == "pattern-not-known"]
        assert told == ["heads:H-G1"]


class TestProposal:
    def test_a_right_record_is_left_alone(self, course: Course) -> None:
        identity = planned(course, 80)
        noise = np.exp(np.random.default_rng(5).normal(0, 0.04, 80))
        rate = rates(course, identity)
        catch(course, identity, rate * noise[: len(rate)])
        found = audit_result(course, identity)
        assert [part.key for part in found.parts if part.subject != "areas:A-G"] == []

    def test_evenness_is_proposed_from_twelve_cans_on(self, course: Course) -> None:
        identity = planned(course, 30)
        labels = audit_of(course, identity).cans["label"].tolist()
        ml = np.linspace(20, 40, 12)
        record_catches(course, identity, dict(zip(labels, ml[:11], strict=False)), **BY)
        assert audit_result(course, identity).parts == ()
        record_catches(course, identity, {labels[11]: 40.0}, **BY)
        (part,) = audit_result(course, identity).parts
        assert (part.key, part.subject, part.taken) == (DU, "areas:A-G", True)
        assert part.before == {"du_lq": 0.7}
        assert part.values["du_lq"] == pytest.approx(ml[:3].mean() / ml.mean(), abs=5e-4)
        assert part.sd is not None
        assert part.sd > 0

    def test_what_the_record_has_is_not_proposed(self, course: Course) -> None:
        identity = planned(course, 30)
        catch(course, identity, rates(course, identity))
        found = audit_result(course, identity)
        accept_audit(course, identity, [DU], **BY)
        again = course.reopened()
        second = planned(again, 30)
        catch(again, second, rates(again, second))
        assert DU in {part.key for part in found.parts}
        assert DU not in {part.key for part in audit_result(again, second).parts}

    @pytest.mark.parametrize(("wind", "ticked"), [(1.0, True), (4.0, False)])
    def test_in_wind_heads_are_proposed_and_not_ticked(
        self, course: Course, wind: float, ticked: bool
    ) -> None:
        identity = planned(course, 80, wind_m_s=wind)
        catch(
            course,
            identity,
            rates(course, identity, radius_m=short(course, identity, "H-G0", 0.75)),
        )
        parts = {part.key: part for part in audit_result(course, identity).parts}
        assert parts["heads:H-G0:radius"].taken is ticked
        assert parts[DU].taken

    def test_a_throw_is_proposed_at_the_record_s_pressure(self, course: Course) -> None:
        """Cans read at 350 kPa: the head is a quarter short there, and so in the record."""
        identity = planned(course, 80, pressure_kpa=350.0)
        catch(
            course,
            identity,
            rates(course, identity, radius_m=short(course, identity, "H-G0", 0.75)),
        )
        parts = {part.key: part for part in audit_result(course, identity).parts}
        part = parts["heads:H-G0:radius"]
        before = part.before["measured_radius_m"]
        assert before == pytest.approx(65 * 0.3048, abs=0.01)  # the nozzle's own, at 70 psi
        assert part.values["measured_radius_m"] == pytest.approx(0.75 * before, rel=0.08)

    def test_a_stamp_is_of_what_is_proposed(self, course: Course) -> None:
        identity = planned(course, 30)
        catch(course, identity, rates(course, identity))
        stamp = audit_result(course, identity).stamp
        record_facts(course, identity, {"text": "dew"}, **BY)
        assert audit_result(course, identity).stamp == stamp
        record_catches(course, identity, {"1": 1.0, "2": 1.0, "3": 1.0}, **BY)
        assert audit_result(course, identity).stamp != stamp
        with pytest.raises(ConflictError, match="changed since you looked"):
            accept_audit(course, identity, [DU], stamp=stamp, **BY)
        assert audit_of(course, identity).facts["state"] == "measured"


class TestAccepting:
    def test_parts_of_a_row_are_one_operation(self) -> None:
        def part(key: str, **values: float) -> Part:
            before: dict[str, float | None] = dict.fromkeys(values)
            return Part(key, key.rpartition(":")[0], values, before, None, True)

        made = operations_of(
            [
                part("heads:H:1:radius", measured_radius_m=15.0),
                part("areas:A:du_lq", du_lq=0.8),
                part("heads:H:1:tilt", tilt_deg=3.0, tilt_towards_deg=90.0),
            ]
        )
        assert made == [
            {
                "op": "set",
                "table": "heads",
                "ids": ["H:1"],
                "values": {"measured_radius_m": 15.0, "tilt_deg": 3.0, "tilt_towards_deg": 90.0},
            },
            {"op": "set", "table": "areas", "ids": ["A"], "values": {"du_lq": 0.8}},
        ]

    def test_all_at_once_is_one_revision_with_its_reason(self, course: Course) -> None:
        identity = planned(course, 80)
        catch(
            course,
            identity,
            rates(course, identity, radius_m=short(course, identity, "H-G0", 0.75)),
        )
        found = audit_result(course, identity)
        before = len(course.file.revisions())
        revision = accept_audit(
            course, identity, [p.key for p in found.parts], stamp=found.stamp, **BY
        )
        revisions = course.file.revisions()
        assert len(revisions) == before + 1
        told = revisions.loc[revision]
        assert told["who"] == "Pilar"
        assert told["why"] == f"audit {found.audit.label}"
        ground = course.reopened().ground
        for part in found.parts:
            table, _, row = part.subject.partition(":")
            for column, value in part.values.items():
                assert ground.table(table).at[row, column] == pytest.approx(value)

    def test_what_was_not_chosen_is_as_before(self, course: Course) -> None:
        identity = planned(course, 80)
        catch(
            course,
            identity,
            rates(course, identity, radius_m=short(course, identity, "H-G0", 0.75)),
        )
        heads = course.ground.heads
        accept_audit(course, identity, [DU], **BY)
        after = course.reopened().ground
        assert after.heads["measured_radius_m"].isna().all()
        assert len(after.heads) == len(heads)
        assert after.areas.at["A-G", "du_lq"] != 0.7

    @pytest.mark.parametrize(
        ("keys", "told"),
        [([], "Nothing was chosen"), (["heads:H-X:radius"], "does not propose 'heads:H-X:radius'"),
         ([DU, "areas:A-F:du_lq"], "does not propose 'areas:A-F:du_lq'")],
    )  # fmt: skip
    def test_refusals_change_nothing(self, course: Course, keys: list[str], told: str) -> None:
        identity = planned(course, 30)
        catch(course, identity, rates(course, identity))
        with pytest.raises(UserError, match=told):
            accept_audit(course, identity, keys, **BY)
        again = course.reopened()
        assert again.ground.areas.at["A-G", "du_lq"] == 0.7
        assert audit_of(again, identity).facts["state"] == "measured"
