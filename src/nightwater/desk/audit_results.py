"""What an audit says: figures, comparison with the record, fit, proposal."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from nightwater.desk.audit_doubts import can_doubts, place_doubts, run_doubts
from nightwater.desk.audit_kept import Audit, audit_of
from nightwater.desk.audit_planning import heads_of
from nightwater.desk.audit_proposal import Part, area_parts, head_parts
from nightwater.desk.course import Course
from nightwater.findings import Finding
from nightwater.spray.audit_figures import (
    MEASURES,
    OUTLIER_SCORE,
    Comparison,
    Estimate,
    compare,
    estimate,
    outlier_scores,
)
from nightwater.spray.audit_fit import Fit, fit_heads
from nightwater.spray.audit_plan import CALM_M_S
from nightwater.spray.catch_cans import catch_rate_mm_h
from nightwater.spray.head_patterns import HeadPatterns, head_patterns
from nightwater.spray.matrix import picked
from nightwater.spray.point_rate import point_rate_mm_h

Numbers = Any


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
    parts = area_parts(course, audit, figures["du_lq"], int(cans["counts"].sum()))
    parts += [] if fit is None else head_parts(course, patterns, fit, calm=calm)
    found = (
        *place_doubts(course, audit),
        *can_doubts(audit, cans),
        *run_doubts(audit, fit),
        *doubts,
    )
    return AuditResult(audit, cans, figures, comparison, fit, tuple(parts), found)
