"""What is doubtful about an audit: where cans stood, what they caught, how it was run."""

from __future__ import annotations

from typing import Final

import pandas as pd

from nightwater.desk.audit_kept import Audit, gap_m
from nightwater.desk.audit_planning import heads_of, usual_spacing_m
from nightwater.desk.course import Course
from nightwater.findings import Finding, note, warning
from nightwater.spray.audit_figures import OUTLIER_SCORE
from nightwater.spray.audit_fit import Fit
from nightwater.spray.audit_plan import (
    LEAST_CANS,
    CanPlaces,
    guideline_step_m,
    plan_doubts,
    wind_doubts,
)

_WORST_FIT_SHARE: Final = 0.30


def place_doubts(course: Course, audit: Audit) -> list[Finding]:
    """What the guidelines would have otherwise about where the cans stand."""
    x_m, y_m = (audit.cans[name].to_numpy(dtype=float) for name in ("x_m", "y_m"))
    wanted_m = guideline_step_m(usual_spacing_m(heads_of(course, audit.stations)))
    return plan_doubts(CanPlaces(x_m, y_m, gap_m(audit), wanted_m), f"audits:{audit.id}")


def can_doubts(audit: Audit, cans: pd.DataFrame) -> list[Finding]:
    """Cans that stand out, and too few that count.

    Args:
        audit: the audit.
        cans: its cans with score, suspect and counts.
    """
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


def run_doubts(audit: Audit, fit: Fit | None) -> list[Finding]:
    """Wind, facts that were not entered, and cans that no heads explain."""
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
