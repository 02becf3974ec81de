"""Plan one night: need → minutes → night → referee → a draft edition."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Final

import numpy as np
import pandas as pd

from nightwater.desk.course import Course, Progress, silent
from nightwater.desk.fitting import Fitted, fitted_minutes
from nightwater.desk.needing import need
from nightwater.desk.nights import StoredNight, night_by_id, stored_night
from nightwater.findings import Finding, error, note
from nightwater.ground.links import station_heads
from nightwater.night.build import plan_night
from nightwater.night.document import night_to_document
from nightwater.night.explaining import why_not_by_map, with_reasons
from nightwater.night.map_trims import acting_patches
from nightwater.night.minutes import station_sums
from nightwater.night.plain_rules import adequacy
from nightwater.night.plan import Night, Pin, Run, StationSum
from nightwater.night.referee import referee
from nightwater.night.search import Effort
from nightwater.soil.need import NeedResult

_BY_SETTING: Final = "the settings say so (minutes.method)"


def _nothing_to_run(sums: Sequence[StationSum]) -> list[Finding]:
    if sums:
        return []
    return [
        error(
            "no-station-can-run",
            "stations:*",
            "No station has minutes: the record has no station whose heads, nozzles and areas "
            "are all known, so this night is empty.",
            "Look at 'nightwater check'; survey stations, heads, nozzles and areas.",
        )
    ]


def _fit_note(fitted: Fitted) -> Finding:
    fit, need = fitted.fit, fitted.need_mm
    served = adequacy(fit.depth_mm, need, fit.counted)
    wanting = np.isfinite(need) & (need > 0)
    gaps_m2 = float((wanting & ~fit.counted).sum()) * fitted.wetting.grid.cell_m2
    return note(
        "minutes-fitted",
        "stations:*",
        f"The minutes of {len(fit.stations)} stations follow the map: {served:.0%} of the turf in "
        f"reach gets its whole need, and no other minutes cost over {fit.gap:.1%} less. "
        f"{gaps_m2:,.0f} m² lie outside what the heads reach; no minutes mend that.",
        "See Coverage for the dry spots and what would mend them.",
    )


def _air_notes(fitted: Fitted) -> list[Finding]:
    """What the night's wind makes of the water; nothing in still air."""
    if not np.isfinite(fitted.still_litres):
        return []
    more = fitted.litres - fitted.still_litres
    share = more / fitted.still_litres if fitted.still_litres > 0 else 0.0
    return [
        note(
            "minutes-for-wind",
            "stations:*",
            f"For the night's wind the fitted minutes take {fitted.litres / 1000:,.0f} m³, "
            f"{abs(more) / 1000:,.0f} m³ ({abs(share):.0%}) {'more' if more >= 0 else 'less'} "
            "than for still air.",
            "Set minutes.night_wind to off to plan for still air.",
        )
    ]


def _by_rate(sums: Sequence[StationSum], why: str) -> tuple[StationSum, ...]:
    return with_reasons(sums, dict.fromkeys((item.station for item in sums), why), {})


def _with_map_told(
    course: Course, sums: Sequence[StationSum], fitted: Fitted, trims: pd.DataFrame, night: date
) -> tuple[StationSum, ...]:
    """Sums that tell why the map does not lead them, or which drawn trims do."""
    laid = fitted.wetting
    known = set(laid.matrix.heads)
    why = {
        str(station): why_not_by_map(heads, known)
        for station, heads in station_heads(course.ground).items()
    }
    patches = acting_patches(trims, night, laid.grid, laid.by_station, laid.stations)
    return with_reasons(sums, why, patches)


def night_minutes(
    course: Course, needs: NeedResult, night: date, progress: Progress
) -> tuple[Sequence[StationSum], list[Finding]]:
    """Minutes by rate, and fitted to the map where patterns are known and settings say so.

    Raises:
        UserError: the record or the settings allow no sum.
    """
    need_mm, rules, trims = needs.table["need_mm"], course.settings.minutes, course.table("trims")
    progress("need to minutes")
    sums, findings = station_sums(course.ground, need_mm, rules, trims, night)
    if rules.method != "fitted":
        return _by_rate(sums, _BY_SETTING), findings
    if not any(item.run_min for item in sums):
        return sums, findings
    fitted = fitted_minutes(course, needs, night, sums, progress)
    if fitted.fit.stations.empty:
        told = _with_map_told(course, sums, fitted, trims, night)
        return told, [*findings, *fitted.wetting.findings, *fitted.findings]
    sums, findings = station_sums(
        course.ground, need_mm, rules, trims, night, fitted=fitted.fit.stations
    )
    doubts = (*fitted.wetting.findings, *fitted.findings)
    told = _with_map_told(course, sums, fitted, trims, night)
    return told, [*findings, *doubts, _fit_note(fitted), *_air_notes(fitted)]


def _tell(progress: Progress, count: int, finish: int) -> bool:
    """Word of a search; a progress that raises stops it."""
    progress(f"minutes to a night: try {count}, ends after {finish} min")
    return True


def _earlier_runs(course: Course, night: date) -> tuple[Run, ...]:
    """Runs of the last edition of the same night, so that little moves; none without any."""
    last = stored_night(course, night)
    return last.plan.runs if last else ()


def computed_night(
    course: Course, night: date, progress: Progress = silent, pins: Sequence[Pin] = ()
) -> Night:
    """The night as planner and referee see it, with all findings; nothing is saved.

    Raises:
        UserError: weather, pump or settings are missing or wrong.
    """
    progress("weather and soil to need")
    wanted = need(course, night)
    sums, sum_findings = night_minutes(course, wanted, night, progress)
    progress("minutes to a night")
    holds = course.file.running("holds")
    weather = course.file.running("weather", step="hour")
    planned = plan_night(
        course.ground,
        sums,
        course.settings,
        night,
        holds,
        pins=pins,
        weather=weather,
        earlier=_earlier_runs(course, night),
        effort=Effort(watch=lambda count, finish: _tell(progress, count, finish)),
    )
    progress("referee")
    judged = referee(planned, course.ground, course.settings, holds, weather)
    findings = [*_nothing_to_run(sums), *wanted.findings, *sum_findings, *planned.findings, *judged]
    return replace(planned, findings=tuple(dict.fromkeys(findings)))


def _draft_pins(course: Course, night: date) -> Sequence[Pin]:
    latest = stored_night(course, night)
    return latest.plan.pins if latest is not None and latest.state == "draft" else ()


def plan(
    course: Course,
    night: date,
    *,
    who: str,
    now: datetime,
    progress: Progress = silent,
    pins: Sequence[Pin] | None = None,
) -> StoredNight:
    """Plan a night and keep it as a draft edition.

    `pins` are starts that stay as they are; without any said, those of the latest draft.

    Raises:
        UserError: weather, pump or settings are missing or wrong; nothing is saved.
    """
    kept = _draft_pins(course, night) if pins is None else pins
    planned = computed_night(course, night, progress, kept)
    progress(f"saving, for {who}")
    night_id = course.file.save_night(night, night_to_document(planned), now)
    return night_by_id(course, night_id)


def judge(course: Course, planned: Night) -> list[Finding]:
    """What the referee says of a night against the record as it is now."""
    weather = course.file.running("weather", step="hour")
    holds = course.file.running("holds")
    return referee(planned, course.ground, course.settings, holds, weather)
