"""The one-page card of an audit: where the cans stand, what to run, and a table to fill in."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any

import numpy as np
import typst

from nightwater.desk.audit_drawing import audit_svg
from nightwater.desk.audit_kept import Audit, audit_of, gap_m
from nightwater.desk.audit_planning import heads_of
from nightwater.desk.audit_results import patterns_of
from nightwater.desk.course import Course
from nightwater.desk.sheet import station_labels
from nightwater.spray.audit_plan import CALM_M_S, run_minutes
from nightwater.spray.point_rate import point_rate_mm_h
from nightwater.units import UnitSystem, from_si, shown


def planned_minutes(course: Course, audit: Audit) -> int:
    """How long every station should run over the cans."""
    patterns, _ = patterns_of(course, audit)
    x_m, y_m = (audit.cans[name].to_numpy(dtype=float) for name in ("x_m", "y_m"))
    rate = float(point_rate_mm_h(patterns, x_m, y_m).sum(axis=1).mean()) if len(patterns) else 0.0
    nozzles = heads_of(course, audit.stations)["nozzle"].to_numpy()
    turns = course.ground.nozzles["rotation_s"].reindex(nozzles).to_numpy(dtype=float)
    slowest = float(np.nanmax(turns)) if np.isfinite(turns).any() else float("nan")
    return run_minutes(rate, float(audit.facts["throat_m2"] or 0.0), slowest)


def wind_limit(units: UnitSystem) -> str:
    """What wind an audit allows, in words."""
    mph = f"{float(from_si(CALM_M_S, 'mph')):.0f} mph"
    return mph if units is UnitSystem.US else f"{CALM_M_S:.1f} m/s"


def card_document(course: Course, identity: str) -> dict[str, Any]:
    """What the card says, as plain values.

    Raises:
        NotFoundError: no such audit.
    """
    audit = audit_of(course, identity)
    site, labels = course.settings.site, station_labels(course.ground)
    throat = audit.facts["throat_m2"]
    gap = shown(gap_m(audit), "m", site.units)
    return {
        "club": site.name,
        "invented": site.invented,
        "title": audit.label,
        "stations": ", ".join(labels.get(name, name) for name in audit.stations),
        "station_count": len(audit.stations),
        "run_min": planned_minutes(course, audit),
        "opening": "" if throat is None else f"{throat * 1e4:.1f} cm²",
        "gap": gap,
        "wind": wind_limit(site.units),
        "cans": [str(label) for label in audit.cans["label"]],
        "map": audit_svg(course, audit, {}),
    }


def card_pdf(course: Course, identity: str) -> bytes:
    """The card as a printable page.

    Raises:
        NotFoundError: no such audit.
    """
    template = files("nightwater.desk").joinpath("audit_card.typ").read_bytes()
    document = json.dumps(card_document(course, identity))
    pdf: bytes = typst.compile(template, sys_inputs={"card": document})
    return pdf
