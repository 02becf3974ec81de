"""What an audit says, and what it proposes for the record."""

from __future__ import annotations

import hashlib
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

import numpy as np
import pandas as pd

from nightwater.desk.auditing import (
    Audit,
    audit_of,
    check_can_correct,
    gap_m,
    heads_of,
    usual_spacing_m,
)
from nightwater.desk.course import Course
from nightwater.desk.proposing import accept_ground
from nightwater.findings import ConflictError, Finding, UserError, note, warning
from nightwater.ground.edits.operations import EditRules, apply_operations, read_operations
from nightwater.spray.audit_figures import (
    MEASURES,
    OUTLIER_SCORE,
    Comparison,
    Estimate,
    compare,
    estimate,
    outlier_scores,
)
from nightwater.spray.audit_fit import Fit, HeadFit, fit_heads
from nightwater.spray.audit_plan import (
    CALM_M_S,
    LEAST_CANS,
    CanPlaces,
    guideline_step_m,
    plan_doubts,
    wind_doubts,
)
from nightwater.spray.catch_cans import catch_rate_mm_h
from nightwater.spray.head_patterns import HeadPatterns, head_patterns
from nightwater.spray.matrix import picked
from nightwater.spray.point_rate import point_rate_mm_h

_WORST_FIT_SHARE: Final = 0.30
_PRESSURE_OFF: Final = 0.05

Numbers = Any


@dataclass(frozen=True)
class Part:
    """One change that an audit proposes; accepted or not on its own.

    Attributes:
        key: its name in forms, like "heads:H7:radius".
        subject: which row.
        values: column → new value, in inside units.
        before: column → value that counts now, None where missing.
        sd: standard deviation of the first value, None where it has none.
        taken: whether it is ticked until a person thinks otherwise.
    """

    key: str
    subject: str
    values: dict[str, float]
    before: dict[str, float | None]
    sd: float | None
    taken: bool


@dataclass(frozen=True)
class AuditResult:
    """Everything that is said of an audit.

    Attributes:
        audit: the audit.
        cans: its cans with score, suspect, counts, rate_mm_h, computed_mm_h and ratio.
        figures: "mean" in mL, "rate" in mm/h, "du_lq", "du_lh", "cu", each with its interval.
        comparison: cans that count against the record's patterns.
        fit: heads as the cans see them, None where that cannot be told.
        parts: what would be changed in the record.
        findings: doubts.
    """

    audit: Audit
    cans: pd.DataFrame
    figures: dict[str, Estimate]
    comparison: Comparison
    fit: Fit | None
    parts: tuple[Part, ...]
    findings: tuple[Finding, ...]

    @property
    def stamp(self) -> str:
        """Digest of what is proposed: another proposal has another."""
        words = repr([(part.key, part.values) for part in self.parts])
        return hashlib.sha256(words.encode()).hexdigest()[:16]


def _pressures(course: Course, audit: Audit) -> pd.Series[float] | None:
    pressure = audit.facts["pressure_kpa"]
    if pressure is None:
        return None
    heads = heads_of(course, audit.stations)
    return pd.Series(float(pressure), index=heads.index)


def patterns_of(course: Course, audit: Audit) -> tuple[HeadPatterns, tuple[Finding, ...]]:
    """Patterns of the heads that ran, at the pressure that was measured where there is one."""
    patterns, doubts = head_patterns(course.ground, _pressures(course, audit))
    running = set(heads_of(course, audit.stations).index)
    mine = np.array([head in running for head in patterns.ids], dtype=bool)
    subjects = {f"heads:{head}" for head in running}
    return picked(patterns, mine), tuple(d for d in doubts if d.subject in subjects)


def _cans(audit: Audit, patterns: HeadPatterns) -> pd.DataFrame:
    cans = audit.cans
    computed = point_rate_mm_h(patterns, cans["x_m"].to_numpy(), cans["y_m"].to_numpy())
    expected = computed.sum(axis=1)
    score = outlier_scores(cans["caught_ml"], cans["x_m"], cans["y_m"], expected)
    missing = float("nan")
    throat, minutes = (audit.facts[name] or missing for name in ("throat_m2", "run_min"))
    rate = catch_rate_mm_h(cans["caught_ml"] / 1000.0, throat, minutes)
    out = cans["left_out"].notna()
    return cans.assign(
        score=score,
        suspect=(np.abs(score) > OUTLIER_SCORE) & ~out,
        counts=cans["caught_ml"].notna() & ~out,
        rate_mm_h=rate,
        computed_mm_h=expected,
    )


def _figures(cans: pd.DataFrame) -> dict[str, Estimate]:
    counted = cans[cans["counts"]]
    figures = {name: estimate(counted["caught_ml"], measure) for name, measure in MEASURES.items()}
    return {"rate": estimate(counted["rate_mm_h"], MEASURES["mean"]), **figures}


def _plan_doubts(course: Course, audit: Audit) -> list[Finding]:
    x_m, y_m = (audit.cans[name].to_numpy(dtype=float) for name in ("x_m", "y_m"))
    wanted_m = guideline_step_m(usual_spacing_m(heads_of(course, audit.stations)))
    return plan_doubts(CanPlaces(x_m, y_m, gap_m(audit), wanted_m), f"audits:{audit.id}")


def _can_doubts(audit: Audit, cans: pd.DataFrame) -> list[Finding]:
    subject = f"audits:{audit.id}"
    doubts = [
        warning(
            "audit-can-suspect",
            subject,
            f"Can {row['label']} caught {row['caught_ml']:g} mL, far from the cans around it "
            f"(score {row['score']:+.1f}, limit {OUTLIER_SCORE:g}). It counts.",
            "Look at the spot: was it kicked, on a slope, under a leaf? Leave it out with a "
            "reason, or let it count.",
        )
        for row in cans.to_dict("records")
        if row["suspect"]
    ]
    counts = int(cans["counts"].sum())
    if 0 < counts < LEAST_CANS:
        doubts.append(
            note(
                "audit-cans-missing",
                subject,
                f"{counts} cans count; the guidelines ask for {LEAST_CANS}.",
                "Enter the others, or read the figures as rough.",
            )
        )
    return doubts


def _run_doubts(audit: Audit, fit: Fit | None) -> list[Finding]:
    subject = f"audits:{audit.id}"
    doubts = wind_doubts(audit.facts["wind_m_s"], subject)
    lacking = [n for n in ("throat_m2", "run_min") if audit.facts[n] is None]
    if lacking and audit.entered:
        doubts.append(
            warning(
                "audit-facts-missing",
                subject,
                "Without the minutes and the opening of the cans there is no rate, and heads "
                "cannot be compared.",
                "Enter both under 'How it was run'.",
            )
        )
    if fit is not None and fit.noise_share > _WORST_FIT_SHARE:
        doubts.append(
            warning(
                "audit-fit-poor",
                subject,
                f"Even with the heads fitted the cans scatter by {100 * fit.noise_share:.0f} %.",
                "Check which stations ran, the minutes and the places of the cans; the "
                "profile of the nozzle may be another.",
            )
        )
    return doubts


def _number(value: Any) -> float | None:
    return None if value is None or pd.isna(value) else float(value)


def _head_parts(course: Course, now: HeadPatterns, fit: Fit, *, calm: bool) -> list[Part]:
    """Changes of heads; radius and flow as the record's value times what the cans changed."""
    recorded, _ = head_patterns(course.ground)
    place = {head: at for at, head in enumerate(recorded.ids)}
    parts = []
    for at, head in enumerate(fit.heads):
        base = place[head.head]
        scale = {
            "radius": float(recorded.radius_m[base] / now.radius_m[at]),
            "flow": float(recorded.flow_l_s[base] / now.flow_l_s[at]),
        }
        was = {
            "radius": float(recorded.radius_m[base]),
            "flow": float(recorded.flow_l_s[base]),
            "tilt": float(recorded.tilt_deg[base]),
            "towards": float(recorded.tilt_towards_deg[base]),
        }
        parts += [_head_part(head, name, scale, was, calm=calm) for name in head.changed]
    return parts


def _head_part(
    head: HeadFit, name: str, scale: dict[str, float], was: dict[str, float], *, calm: bool
) -> Part:
    subject = f"heads:{head.head}"
    key = f"{subject}:{name}"
    if name == "radius":
        values = {"measured_radius_m": round(head.radius_m * scale[name], 2)}
        return Part(key, subject, values, {"measured_radius_m": was[name]}, head.radius_sd_m, calm)
    if name == "flow":
        values = {"measured_flow_l_s": round(head.flow_l_s * scale[name], 3)}
        return Part(key, subject, values, {"measured_flow_l_s": was[name]}, head.flow_sd_l_s, calm)
    values = {
        "tilt_deg": round(head.tilt_deg, 1),
        "tilt_towards_deg": round(head.tilt_towards_deg) % 360.0,
    }
    before: dict[str, float | None] = {"tilt_deg": was["tilt"], "tilt_towards_deg": was["towards"]}
    return Part(key, subject, values, before, head.tilt_sd_deg, calm)


def _area_part(course: Course, audit: Audit, du: Estimate, counts: int) -> list[Part]:
    area = str(audit.facts["area"] or "")
    if area not in course.kept.areas.index or np.isnan(du.value) or counts < LEAST_CANS // 2:
        return []
    value = round(min(max(du.value, 0.1), 1.0), 3)
    before = _number(course.kept.areas["du_lq"].get(area))
    if before is not None and abs(before - value) < 5e-4:
        return []
    sd = None if np.isnan(du.low) else (du.high - du.low) / 3.29  # 90 % is ±1.645 sd
    subject = f"areas:{area}"
    return [Part(f"{subject}:du_lq", subject, {"du_lq": value}, {"du_lq": before}, sd, True)]


def _fit(patterns: HeadPatterns, cans: pd.DataFrame) -> Fit | None:
    good = cans[cans["counts"] & cans["rate_mm_h"].notna() & cans["x_m"].notna()]
    columns = (good[name].to_numpy(dtype=float) for name in ("x_m", "y_m", "rate_mm_h"))
    return fit_heads(patterns, *columns) if good["rate_mm_h"].sum() > 0 else None


def audit_result(course: Course, identity: str) -> AuditResult:
    """Figures, comparison, fit and proposal of an audit as it stands.

    Raises:
        NotFoundError: no such audit.
    """
    audit = audit_of(course, identity)
    patterns, doubts = patterns_of(course, audit)
    cans = _cans(audit, patterns)
    shown = cans["rate_mm_h"].where(cans["counts"])
    comparison = compare(shown, cans["computed_mm_h"])
    cans = cans.assign(ratio=comparison.ratio)
    figures = _figures(cans)
    fit = _fit(patterns, cans)
    calm = not float(audit.facts["wind_m_s"] or 0.0) > CALM_M_S
    parts = _area_part(course, audit, figures["du_lq"], int(cans["counts"].sum()))
    parts += [] if fit is None else _head_parts(course, patterns, fit, calm=calm)
    found = (
        *_plan_doubts(course, audit),
        *_can_doubts(audit, cans),
        *_run_doubts(audit, fit),
        *doubts,
    )
    return AuditResult(audit, cans, figures, comparison, fit, tuple(parts), found)


def operations_of(parts: Collection[Part]) -> list[dict[str, Any]]:
    """Parts as plain edit operations, one for each row."""
    rows: dict[str, dict[str, float]] = {}
    for part in parts:
        rows.setdefault(part.subject, {}).update(part.values)
    return [
        {"op": "set", "table": subject.partition(":")[0], "ids": [subject.partition(":")[2]],
         "values": values}
        for subject, values in rows.items()
    ]  # fmt: skip


def accept_audit(
    course: Course,
    identity: str,
    keys: Collection[str],
    *,
    stamp: str | None = None,
    who: str,
    now: datetime,
) -> str:
    """Make chosen parts of an audit's proposal part of the record; the audit is then used.

    Args:
        course: the course.
        identity: which audit.
        keys: of the parts.
        stamp: `AuditResult.stamp` of what the person looked at; None does not ask.
        who, now: for the history.

    Returns:
        The id of the revision.

    Raises:
        ConflictError: the audit is used, or its proposal changed since it was looked at.
        UserError: nothing was chosen, or a part that is not proposed.
    """
    result = audit_result(course, identity)
    check_can_correct(result.audit)
    if stamp is not None and stamp != result.stamp:
        raise ConflictError("The proposal changed since you looked at it. Look again, then accept.")
    known = {part.key for part in result.parts}
    unknown = [key for key in keys if key not in known]
    if unknown:
        raise UserError(f"The audit does not propose '{unknown[0]}'. Look at its page again.")
    chosen = [part for part in result.parts if part.key in set(keys)]
    if not chosen:
        raise UserError("Nothing was chosen, so nothing was changed.")
    why = f"audit {result.audit.label}"
    operations = read_operations(operations_of(chosen))
    revision = accept_ground(
        course,
        lambda ground: apply_operations(ground, operations, EditRules()).ground,
        who,
        why,
        now,
    )
    if revision is None:
        raise UserError("Nothing would change: the record is like that already.")
    used = {**result.audit.facts, "state": "used", "used_in": revision}
    course.file.append("audits", pd.DataFrame([used], index=pd.Index([identity], name="id")))
    return revision
