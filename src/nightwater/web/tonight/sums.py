"""Every factor of a station's minutes, with how it is known, so that a person can redo it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final

import pandas as pd

from nightwater.findings import NotFoundError
from nightwater.ground.record import Ground
from nightwater.night.plan import Night, StationSum
from nightwater.units import SECONDS_PER_HOUR, UnitSystem
from nightwater.web.figures import Evidence, fine, minutes, plain
from nightwater.web.places import Places

MULTIPLIERS: Final = {
    "du_lq": "1 ÷ (0.4 + 0.6 × DUlq)",
    "inverse_du": "1 ÷ DUlq",
    "efficiency": "1 ÷ efficiency",
    "none": "1: nothing is added for unevenness",
    "fitted": "fitted to the map: what this station must run so that every spot gets its share",
}
_SAME: Final = 0.005


@dataclass(frozen=True)
class Factor:
    """One number of the sum: what it is called, as shown, how known, and from what."""

    name: str
    shown: str
    evidence: Evidence
    source: str


def _known(value: float, evidence: Evidence) -> Evidence:
    return Evidence.MISSING if math.isnan(value) else evidence


def _flow_factor(item: StationSum, ground: Ground, heads: list[str], units: UnitSystem) -> Factor:
    measured = ground.heads["measured_flow_l_s"].reindex(heads)
    observed = len(measured) > 0 and bool(measured.notna().all())
    evidence = Evidence.OBSERVED if observed else Evidence.COMPUTED
    source = "measured at every head" if observed else "nozzles at their pressure"
    shown = fine(item.flow_l_s, "l_s", units)
    return Factor("Flow", shown, _known(item.flow_l_s, evidence), f"{item.heads} heads, {source}")


def _uniformity_factor(item: StationSum, ground: Ground) -> Factor:
    own = ground.areas["du_lq"].get(item.area, math.nan)
    recorded = own is not None and math.isfinite(own)
    evidence = Evidence.OBSERVED if recorded else Evidence.ASSUMED
    source = "entered for the area" if recorded else "default of its kind; run a catch-can test"
    return Factor("Uniformity DUlq", plain(item.du_lq), _known(item.du_lq, evidence), source)


def _footprint_factors(item: StationSum, units: UnitSystem) -> list[Factor]:
    """What the ground it wets needs and gets, where minutes follow the map."""
    if math.isnan(item.footprint_need_mm):
        return []
    source = "mean over the ground that its heads wet, by where their water falls"
    return [
        Factor(name, fine(value, "mm", units), _known(value, Evidence.COMPUTED), source)
        for name, value in (
            ("Need of the ground it wets", item.footprint_need_mm),
            ("Depth there tonight, all heads", item.footprint_depth_mm),
        )
    ]


def _trim_words(item: StationSum) -> str:
    return item.trim_reason or "no hand change"


def factors(item: StationSum, ground: Ground, heads: list[str], units: UnitSystem) -> list[Factor]:
    """The factors of one station, from the need down to the cycles."""
    computed = Evidence.COMPUTED
    return [
        Factor(
            "Need, net",
            fine(item.need_mm, "mm", units),
            _known(item.need_mm, computed),
            "the area's root-zone account, below",
        ),
        _flow_factor(item, ground, heads, units),
        Factor(
            "Ground it answers for",
            fine(item.wetted_m2, "m2", units),
            _known(item.wetted_m2, computed),
            "spacing and rows of its heads, or the area's declared wetted ground",
        ),
        Factor(
            "Precipitation rate",
            fine(item.rate_mm_h, "mm_h", units),
            _known(item.rate_mm_h, computed),
            "flow over the ground it answers for",
        ),
        *_footprint_factors(item, units),
        _uniformity_factor(item, ground),
        Factor(
            "Run-time multiplier",
            plain(item.multiplier),
            _known(item.multiplier, computed),
            MULTIPLIERS.get(item.multiplier_name, item.multiplier_name),
        ),
        Factor("Trim", f"× {plain(item.trim_factor)}", computed, _trim_words(item)),
        Factor("Minutes added by hand", minutes(item.extra_min), computed, _trim_words(item)),
    ]


def written_sum(item: StationSum, units: UnitSystem) -> str:
    """The sum in one line, in the reader's units."""
    if item.run_min == 0 and item.why_none:
        return item.why_none
    parts = (
        f"60 × {fine(item.need_mm, 'mm', units)} ÷ {fine(item.rate_mm_h, 'mm_h', units)} "
        f"× {plain(item.multiplier)} × {plain(item.trim_factor)}"
    )
    if item.extra_min:
        parts += f" {'+' if item.extra_min > 0 else '−'} {minutes(abs(item.extra_min))}"
    line = f"{parts} = {plain(item.exact_min)} min"
    if item.run_min != round(item.exact_min):
        why = "rotation floor" if item.run_min == item.floor_min else "longest run allowed"
        return f"{line}, set to {item.run_min} min by the {why}"
    return f"{line}, rounded to {item.run_min} min"


def rate_is_flow_over_ground(item: StationSum) -> bool:
    """Whether the rate can be redone from flow and ground, as the table says."""
    if not item.wetted_m2 > 0:
        return False
    redone = item.flow_l_s / item.wetted_m2 * SECONDS_PER_HOUR
    return abs(redone - item.rate_mm_h) <= _SAME * item.rate_mm_h


def cycle_words(item: StationSum) -> str:
    """The cycles and soaks in words."""
    if len(item.cycles_min) <= 1:
        return "one cycle: the ground takes it in at once"
    each = " + ".join(str(cycle) for cycle in item.cycles_min)
    return (
        f"{len(item.cycles_min)} cycles of {each} min, at least {item.soak_min} min apart: "
        f"after {item.max_cycle_min} min at this rate water would run off"
    )


_NEED_ROWS: Final = (
    ("Reference ET of the day", "eto_mm", "mm", ""),
    ("Crop coefficient", "kc", "", "kc"),
    ("Area factor (shade, exposure)", "area_factor", "", "area_factor"),
    ("Turf water use", "etc_mm", "mm", ""),
    ("Rain", "rain_mm", "mm", ""),
    ("Runoff", "runoff_mm", "mm", "curve_number"),
    ("Irrigation of the night before", "irrigation_mm", "mm", ""),
    ("Carried from earlier nights", "carried_mm", "mm", ""),
    ("Depletion of the root zone", "depletion_mm", "mm", ""),
    ("Left unfilled on purpose", "target_mm", "mm", "target_depletion_pct"),
    ("Readily available water", "raw_mm", "mm", "allowed_depletion_pct"),
    ("Total available water", "taw_mm", "mm", "available_water_mm_m"),
)


def need_factors(row: pd.Series[Any], units: UnitSystem) -> list[Factor]:
    """The area's account as factors; what rests on a default is marked assumed."""
    assumed = {str(name) for name in row.get("assumed", ())}
    listed = []
    for name, column, suffix, rests_on in _NEED_ROWS:
        value = float(row.get(column, math.nan))
        evidence = Evidence.ASSUMED if rests_on in assumed else Evidence.COMPUTED
        if column == "irrigation_mm" and row.get("irrigation_evidence") == "proved":
            evidence = Evidence.OBSERVED
        shown = fine(value, suffix, units) if suffix else plain(value)
        source = "a default stands in for the record" if rests_on in assumed else ""
        listed.append(Factor(name, shown, _known(value, evidence), source))
    return listed


def same_need(item: StationSum, row: pd.Series[Any]) -> bool:
    """Whether the account of now still gives the need that the plan was made with."""
    return abs(float(row["need_mm"]) - item.need_mm) <= _SAME * max(item.need_mm, 1.0)


def sum_of(night: Night, subject: str) -> tuple[StationSum, bool]:
    """The sum behind a subject of the map, and whether the subject is an area.

    An area's own need stands in the sum of any of its stations.

    Raises:
        NotFoundError: the plan has no such station or area.
    """
    table, _, name = subject.partition(":")
    field = {"stations": "station", "areas": "area"}.get(table, "")
    found = next((item for item in night.sums if field and getattr(item, field) == name), None)
    if found is None:
        raise NotFoundError(f"The plan of {night.night} has no '{subject}'.")
    return found, table == "areas"


def sum_values(
    item: StationSum, ground: Ground, places: Places, units: UnitSystem
) -> dict[str, Any]:
    """What the sum's template shows."""
    heads = places.station_heads.get(item.station, [])
    return {
        "label": places.station_label.get(item.station, item.station),
        "area_label": places.area_label.get(item.area, item.area),
        "hole": places.hole_of(item.area),
        "heads": heads,
        "factors": factors(item, ground, heads, units),
        "line": written_sum(item, units) if item.run_min else "",
        "cycles": cycle_words(item),
        "rate_redone": rate_is_flow_over_ground(item),
    }
