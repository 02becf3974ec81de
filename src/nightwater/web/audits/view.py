"""What the audit pages show."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from markupsafe import Markup

from nightwater.desk.audit_drawing import RATIO_CLASSES, RATIO_WORDS, audit_svg, ratio_class
from nightwater.desk.audit_kept import Audit
from nightwater.desk.audit_proposal import Part
from nightwater.desk.audit_results import AuditResult
from nightwater.spray.audit_figures import Estimate
from nightwater.spray.uniformity import run_time_multiplier
from nightwater.units import UnitSystem
from nightwater.web.doorway import Visit
from nightwater.web.figures import fine, plain

_NAMES: Final = {
    "du_lq": "DUlq of the area",
    "radius": "throw",
    "flow": "flow",
    "tilt": "lean",
}


def _share(value: float) -> str:
    return "–" if np.isnan(value) else f"{value:.3f}"


def _interval(figure: Estimate, shown: Any) -> str:
    if np.isnan(figure.low):
        return "too few cans to say how sure"
    return f"{shown(figure.low)} to {shown(figure.high)} in nine of ten"


def figure_rows(result: AuditResult, units: UnitSystem) -> list[tuple[str, str, str]]:
    """Name, value and interval of each figure."""
    shows: dict[str, tuple[str, Any]] = {
        "rate": ("Rate, net", lambda v: fine(v, "mm_h", units)),
        "mean": ("Mean can", lambda v: f"{plain(v)} mL"),
        "du_lq": ("DUlq", _share),
        "du_lh": ("DUlh", _share),
        "cu": ("CU", _share),
    }
    return [
        (name, show(result.figures[key].value), _interval(result.figures[key], show))
        for key, (name, show) in shows.items()
    ]


def _valued(column: str, value: float | None, units: UnitSystem) -> str:
    if value is None:
        return "–"
    if column == "du_lq":
        return f"{value:.3f}"
    if column == "measured_radius_m":
        return fine(value, "m", units)
    return fine(value, "l_s", units) if column == "measured_flow_l_s" else f"{value:.1f}°"


def part_words(part: Part, units: UnitSystem) -> dict[str, str]:
    """One proposed change in words: what, from, to, how unsure."""
    what = part.key.rpartition(":")[2]
    columns = list(part.values)
    tilt = what == "tilt"
    new = _valued(columns[0], part.values[columns[0]], units)
    if tilt:
        new += f" towards {part.values['tilt_towards_deg']:.0f}°"
    return {
        "key": part.key,
        "subject": part.subject,
        "what": _NAMES[what],
        "before": _valued(columns[0], part.before[columns[0]], units),
        "after": new,
        "sd": "" if part.sd is None else f"± {_valued(columns[0], part.sd, units)}",
        "effect": _effect(part) if what == "du_lq" else "",
        "taken": "yes" if part.taken else "",
    }


def _effect(part: Part) -> str:
    """What a new DUlq does to minutes under the usual rule."""
    before = part.before["du_lq"]
    if before is None:
        return ""
    old, new = (
        float(run_time_multiplier("du_lq", du, 1.0)) for du in (before, part.values["du_lq"])
    )
    return f"minutes × {new / old:.3f} under the usual rule"


def can_rows(result: AuditResult, units: UnitSystem) -> list[dict[str, Any]]:
    """Every can as the table shows it."""
    rows = []
    for row in result.cans.to_dict("records"):
        ratio = float(row["ratio"])
        out = isinstance(row["left_out"], str)
        rows.append(
            {
                "label": row["label"],
                "caught": "–" if np.isnan(row["caught_ml"]) else f"{plain(row['caught_ml'])} mL",
                "rate": fine(float(row["rate_mm_h"]), "mm_h", units),
                "computed": fine(float(row["computed_mm_h"]), "mm_h", units),
                "ratio": "–" if np.isnan(ratio) else f"{100 * ratio:.0f} %",
                "suspect": bool(row["suspect"]),
                "left_out": row["left_out"] if out else "",
                "earlier": row["earlier"] if isinstance(row["earlier"], str) else "",
            }
        )
    return rows


def _classes(result: AuditResult) -> dict[str, str]:
    marks = {}
    for row in result.cans.to_dict("records"):
        out = isinstance(row["left_out"], str)
        mark = "left-out" if out else f"ratio-{ratio_class(float(row['ratio']))}"
        marks[str(row["label"])] = f"{mark} suspect" if row["suspect"] else mark
    return marks


def drawing(visit: Visit, result: AuditResult) -> Markup:
    """The map of cans, coloured by can over computed."""
    return Markup(audit_svg(visit.course, result.audit, _classes(result)))


def plain_drawing(visit: Visit, audit: Audit, chosen: str) -> Markup:
    """The map of cans with one marked."""
    return Markup(audit_svg(visit.course, audit, {chosen: "chosen"}))


LEGEND: Final = tuple(zip((f"ratio-{name}" for name in RATIO_CLASSES), RATIO_WORDS, strict=True))


def comparison_words(result: AuditResult) -> list[tuple[str, str]]:
    """The comparison and the fit's common figures, in words."""
    found = result.comparison
    rows = [
        ("Cans over computed, mean", "–" if np.isnan(found.bias) else f"{100 * found.bias:.0f} %"),
        ("Correlation", "–" if np.isnan(found.correlation) else f"{found.correlation:.2f}"),
        ("Scatter about it", "–" if np.isnan(found.spread) else f"{100 * found.spread:.0f} %"),
    ]
    if result.fit is not None:
        fit = result.fit
        share = f"{100 * fit.catch_share:.0f} ± {100 * fit.catch_share_sd:.0f} %"
        rows += [
            ("Caught of what falls, all heads alike", share),
            ("Scatter with heads fitted", f"{100 * fit.noise_share:.0f} %"),
        ]
    return [(name, value.replace(" ", "\u00a0")) for name, value in rows]


def head_rows(result: AuditResult, units: UnitSystem) -> list[dict[str, str]]:
    """What the cans say of each head, also of those they hardly see."""
    if result.fit is None:
        return []
    return [
        {
            "head": head.head,
            "radius": f"{fine(head.radius_m, 'm', units)} ± {fine(head.radius_sd_m, 'm', units)}",
            "flow": f"{fine(head.flow_l_s, 'l_s', units)} ± {fine(head.flow_sd_l_s, 'l_s', units)}",
            "tilt": f"{head.tilt_deg:.1f}° ± {head.tilt_sd_deg:.1f}°",
            "seen": " · ".join(f"{100 * share:.0f} %" for share in head.seen),
            "changed": ", ".join(_NAMES[name] for name in head.changed) or "as recorded",
        }
        for head in result.fit.heads
    ]
