"""What an audit proposes for the record, part by part."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from nightwater.desk.audit_kept import Audit
from nightwater.desk.course import Course
from nightwater.spray.audit_figures import Estimate
from nightwater.spray.audit_fit import Fit, HeadFit
from nightwater.spray.audit_plan import LEAST_CANS
from nightwater.spray.head_patterns import HeadPatterns, head_patterns


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


def _number(value: Any) -> float | None:
    return None if value is None or pd.isna(value) else float(value)


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


def head_parts(course: Course, now: HeadPatterns, fit: Fit, *, calm: bool) -> list[Part]:
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


def area_parts(course: Course, audit: Audit, du: Estimate, counts: int) -> list[Part]:
    """The measured uniformity for the area; none from few cans, or where the record has it."""
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
