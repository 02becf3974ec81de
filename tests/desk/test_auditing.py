"""Audits kept in the course file: planned, measured, corrected, used; nothing recorded is lost."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from nightwater.desk.audit_accepting import accept_audit
from nightwater.desk.audit_cans import catch_ml, opening_m2
from nightwater.desk.audit_card import card_document, card_pdf, planned_minutes
from nightwater.desk.audit_drawing import audit_svg, ratio_class
from nightwater.desk.audit_entering import leave_out, record_catches, record_facts
from nightwater.desk.audit_import import can_columns, catches_from
from nightwater.desk.audit_kept import audit_of, audits_of
from nightwater.desk.audit_planning import AuditWish, plan_audit, reaching_stations, stations_named
from nightwater.desk.audit_results import audit_result, patterns_of
from nightwater.desk.course import Course
from nightwater.findings import ConflictError, NotFoundError, UserError
from nightwater.spray.head_patterns import head_patterns
from nightwater.spray.point_rate import point_rate_mm_h

NOW = datetime(2026, 7, 14, 12, tzinfo=UTC)
BY: dict[str, Any] = {"who": "Pilar", "now": NOW}
THROAT_M2 = opening_m2(11, "cm")


def planned(course: Course, cans: int = 60) -> str:
    return plan_audit(course, AuditWish("A-G", cans=cans, throat_m2=THROAT_M2), **BY)


def measured(course: Course, cans: int = 60, **truth: Any) -> str:
    """An audit whose cans hold what heads with some changed patterns give, 4 % noise."""
    identity = planned(course, cans)
    audit = audit_of(course, identity)
    patterns, _ = patterns_of(course, audit)
    changed = {n: getattr(patterns, n) * factor for n, factor in truth.items()}
    x_m, y_m = (audit.cans[name].to_numpy() for name in ("x_m", "y_m"))
    rate = point_rate_mm_h(replace(patterns, **changed), x_m, y_m).sum(axis=1)
    noise = np.exp(np.random.default_rng(7).normal(0, 0.04, len(rate)))
    record_facts(course, identity, {"run_min": 20.0}, **BY)
    ml = rate * noise * 20 / 60 * THROAT_M2 * 1000
    labels = audit.cans["label"]
    record_catches(course, identity, dict(zip(labels, ml.round(1), strict=True)), **BY)
    return identity


@pytest.mark.parametrize(
    ("size", "unit", "square_cm"),
    [(95, "cm2", 95.0), (16.5, "in2", 106.45), (11, "cm", 95.03), (110, "mm", 95.03),
     (4, "in", 81.07)],
)  # fmt: skip
def test_an_opening_by_area_or_diameter(size: float, unit: str, square_cm: float) -> None:
    assert opening_m2(size, unit) * 1e4 == pytest.approx(square_cm, abs=0.005)


@pytest.mark.parametrize(("size", "unit"), [(95, ""), (95, "acre"), (95, "m2"), (2000, "cm")])
def test_an_opening_that_is_none_is_refused(size: float, unit: str) -> None:
    with pytest.raises(UserError):
        opening_m2(size, unit)


def test_catches_in_volume_and_in_depth() -> None:
    assert catch_ml(25, "mL", None) == pytest.approx(25)
    assert catch_ml(1, "floz", None) == pytest.approx(29.5735, abs=1e-4)
    assert catch_ml(10, "mm", 0.01) == pytest.approx(100)
    assert catch_ml(1, "in", 0.01) == pytest.approx(254)
    with pytest.raises(UserError, match="opening"):
        catch_ml(10, "mm", None)
    with pytest.raises(UserError, match="in what"):
        catch_ml(10, "", 0.01)


def test_the_stations_that_reach_the_green_are_planned(course: Course) -> None:
    stations = reaching_stations(course, "A-G")
    assert {"S-G0", "S-G1", "S-G2", "S-G3"} <= set(stations)
    assert "S-F000" not in stations
    audit = audit_of(course, planned(course))
    assert audit.stations == stations
    assert audit.facts["state"] == "planned"
    assert audit.cans["label"].tolist() == [str(n) for n in range(1, len(audit.cans) + 1)]
    assert [one.id for one in audits_of(course)] == [audit.id]


def test_named_stations_take_a_part_of_a_large_area(course: Course) -> None:
    named = stations_named(course, "S-F000, F001")
    assert named == ("S-F000", "S-F001")
    audit = audit_of(course, plan_audit(course, AuditWish("A-F", named, 90), **BY))
    head = course.ground.heads.geometry["H-F000"]
    away = np.hypot(audit.cans["x_m"] - head.x, audit.cans["y_m"] - head.y)
    assert away.max() < 20 + 20
    codes = {finding.code for finding in audit_result(course, audit.id).findings}
    assert "audit-wide-grid" not in codes
    large = plan_audit(course, AuditWish("A-F", (), 30), **BY)
    codes = {finding.code for finding in audit_result(course, large).findings}
    assert "audit-wide-grid" in codes  # 30 cans on a whole fairway
    with pytest.raises(UserError, match="called 'F0'"):
        stations_named(course, "F0")


@pytest.mark.parametrize("wish", [AuditWish("A-X"), AuditWish("A-G", ("S-X",))])
def test_what_the_record_lacks_is_refused(course: Course, wish: AuditWish) -> None:
    with pytest.raises(UserError, match="There is no"):
        plan_audit(course, wish, **BY)
    with pytest.raises(NotFoundError):
        audit_of(course, "AU9")


def test_corrections_keep_what_was_there(course: Course) -> None:
    identity = planned(course)
    assert record_catches(course, identity, {"1": 40.0, "2": 38.0}, **BY) == 2
    assert record_catches(course, identity, {"1": 41.0, "2": 38.0}, who="Tomas", now=NOW) == 1
    record_facts(course, identity, {"run_min": 15.0}, **BY)
    record_facts(course, identity, {"run_min": 20.0}, who="Tomas", now=NOW)
    audit = audit_of(course, identity)
    assert audit.cans["caught_ml"].iloc[0] == 41.0
    assert audit.cans["earlier"].iloc[0].endswith("Tomas: caught_ml was 40.0, now 41.0")
    assert audit.cans["earlier"].isna().sum() == len(audit.cans) - 1
    assert audit.facts["earlier"].endswith("Tomas: run_min was 15.0, now 20.0")
    assert audit.facts["state"] == "measured"
    assert audit.cans.notna()["x_m"].all()  # their places stay


@pytest.mark.parametrize("catches", [{"99": 4.0}, {"1": -1.0}, {"1": 6000.0}])
def test_catches_that_cannot_be_are_refused_whole(
    course: Course, catches: dict[str, float]
) -> None:
    identity = planned(course)
    with pytest.raises(UserError):
        record_catches(course, identity, {"2": 5.0, **catches}, **BY)
    assert audit_of(course, identity).entered == 0


@pytest.mark.parametrize("fact", [{"run_min": 0.0}, {"wind_m_s": 90.0}, {"colour": 1.0}])
def test_facts_that_cannot_be_are_refused(course: Course, fact: dict[str, float]) -> None:
    with pytest.raises(UserError):
        record_facts(course, planned(course), fact, **BY)


def test_a_suspect_can_counts_until_a_person_says_why_not(course: Course) -> None:
    identity = measured(course)
    record_catches(course, identity, {"10": 0.0}, **BY)
    found = audit_result(course, identity)
    assert found.cans.loc[found.cans["suspect"], "label"].tolist() == ["10"]
    assert bool(found.cans["counts"].all())
    assert [f.code for f in found.findings].count("audit-can-suspect") == 1
    leave_out(course, identity, "10", "kicked over", **BY)
    cleaned = audit_result(course, identity)
    assert cleaned.figures["du_lq"].value > found.figures["du_lq"].value
    assert cleaned.cans["left_out"].dropna().tolist() == ["kicked over (Pilar)"]
    leave_out(course, identity, "10", "", **BY)
    again = audit_result(course, identity)
    assert again.figures["du_lq"] == found.figures["du_lq"]
    assert "left_out was kicked over (Pilar)" in again.cans["earlier"].dropna().iloc[-1]


def test_a_short_throw_is_proposed_accepted_in_part_and_used(course: Course) -> None:
    short = np.where(np.arange(99) == 0, 0.75, 1.0)
    identity = planned(course)
    count = len(patterns_of(course, audit_of(course, identity))[0])
    heads = list(patterns_of(course, audit_of(course, identity))[0].ids)
    factors = np.where(np.array(heads) == "H-G0", 0.75, short[1])[:count]
    identity = measured(course, 80, radius_m=factors)
    found = audit_result(course, identity)
    radius = next(p for p in found.parts if p.key == "heads:H-G0:radius")
    truth = 0.75 * float(radius.before["measured_radius_m"] or 0)
    assert radius.values["measured_radius_m"] == pytest.approx(truth, rel=0.10)
    revision = accept_audit(course, identity, [radius.key], stamp=found.stamp, **BY)
    after = course.reopened()
    heads_after, _ = head_patterns(after.ground)
    place = list(heads_after.ids).index("H-G0")
    assert heads_after.radius_m[place] == radius.values["measured_radius_m"]
    assert after.ground.areas.at["A-G", "du_lq"] == 0.7  # was not chosen
    audit = audit_of(after, identity)
    assert (audit.facts["state"], audit.facts["used_in"]) == ("used", revision)
    for deed in (record_catches, record_facts):
        with pytest.raises(ConflictError, match="stays as it is"):
            deed(after, identity, {}, **BY)
    course.file.undo(revision, "Ines", "was wrong", NOW)
    assert course.file.ground().heads["measured_radius_m"].isna().all()


def test_nothing_and_what_is_not_proposed_are_refused(course: Course) -> None:
    identity = measured(course)
    with pytest.raises(UserError, match="Nothing was chosen"):
        accept_audit(course, identity, [], **BY)
    with pytest.raises(UserError, match="does not propose"):
        accept_audit(course, identity, ["heads:H-G0:colour"], **BY)
    with pytest.raises(ConflictError, match="changed since"):
        accept_audit(course, identity, ["areas:A-G:du_lq"], stamp="x", **BY)


def test_wind_and_missing_facts_are_told(course: Course) -> None:
    identity = planned(course)
    record_catches(course, identity, {str(n): 30.0 + n for n in range(1, 13)}, **BY)
    record_facts(course, identity, {"wind_m_s": 4.0}, **BY)
    codes = {finding.code for finding in audit_result(course, identity).findings}
    assert {"audit-windy", "audit-facts-missing", "audit-cans-missing"} <= codes


def test_another_pressure_changes_the_computed_and_is_taken_back(course: Course) -> None:
    identity = measured(course)
    usual = audit_result(course, identity)
    record_facts(course, identity, {"pressure_kpa": 350.0}, **BY)  # the nozzle's is 483 kPa
    low = audit_result(course, identity)
    assert low.comparison.bias > usual.comparison.bias * 1.1


def test_the_card_holds_every_can_and_the_cautions(course: Course) -> None:
    identity = planned(course, 36)
    card = card_document(course, identity)
    audit = audit_of(course, identity)
    assert card["cans"] == audit.cans["label"].tolist()
    assert card["run_min"] == planned_minutes(course, audit)
    assert card["wind"] == "5 mph"
    assert card["map"].count("<circle") == len(audit.cans)
    assert card_pdf(course, identity).startswith(b"%PDF")
    assert 'class="can chosen"' in audit_svg(course, audit, {"1": "chosen"})


@pytest.mark.parametrize(
    ("ratio", "name"),
    [(0.5, "far-under"), (0.8, "under"), (1.0, "even"), (1.2, "over"), (1.5, "far-over"),
     (float("nan"), "unknown")],
)  # fmt: skip
def test_classes_of_the_map(ratio: float, name: str) -> None:
    assert ratio_class(ratio) == name


def test_a_file_of_depths_with_decimal_commas(course: Course, tmp_path: Path) -> None:
    audit = audit_of(course, planned(course))
    path = tmp_path / "cans.csv"
    path.write_text("Can no;Depth;Remark\n1;4,5;\n2;5,0;wet\n3;;\n")
    columns = can_columns(path)
    assert (columns.can, columns.caught, columns.unit) == ("Can no", "Depth", "")
    found = catches_from(audit, path, "Can no", "Depth", "mm")
    assert found == pytest.approx({"1": 4.5 * THROAT_M2 * 1000, "2": 5.0 * THROAT_M2 * 1000})


@pytest.mark.parametrize(
    ("text", "told"),
    [("Can,mL\n1,4\n1,5\n", "twice"), ("Can,mL\n1,x\n", "is no catch"), ("Can,oz\n1,4\n", "'mL'")],
)
def test_files_that_are_wrong_are_refused(
    course: Course, tmp_path: Path, text: str, told: str
) -> None:
    path = tmp_path / "cans.csv"
    path.write_text(text)
    with pytest.raises(UserError, match=told):
        catches_from(audit_of(course, planned(course)), path, "Can", "mL", "mL")
