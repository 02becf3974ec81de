"""The referee: an independent check of a night, minute by minute, from the record.

It shares no code with what makes a night (sums, requests, order, bound, pipe network)
but the data classes, the record and the sun. A night with an error finding must not run.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from typing import Final

import pandas as pd

from nightwater.findings import Finding, Severity
from nightwater.ground.record import Ground
from nightwater.ground.settings import Settings
from nightwater.night import referee_minutes as minutes
from nightwater.night import referee_rules as rules
from nightwater.night import referee_runs as runs
from nightwater.night import referee_sums as sums
from nightwater.night import referee_waters as waters
from nightwater.night.plan import Night
from nightwater.night.referee_record import Case

Rule = Callable[[Case], Iterator[Finding]]

RULES: Final[tuple[Rule, ...]] = (
    runs.bad_runs,
    runs.night_window,
    runs.runs_outside,
    runs.cycles_and_soaks,
    runs.cycles_too_long,
    runs.longest_and_shortest,
    runs.kind_windows,
    runs.holds_kept,
    minutes.pump,
    minutes.pump_steps,
    minutes.pipes,
    minutes.controllers,
    minutes.flow_series,
    rules.greens_hours,
    rules.rescue_slot,
    rules.area_windows,
    rules.run_by,
    rules.neighbours,
    rules.power,
    rules.pump_starts,
    rules.wind,
    waters.waters,
    sums.minutes_add_up,
    sums.left_out,
    sums.sum_arithmetic,
    sums.sums_and_record,
    sums.water_and_need,
    sums.bound_and_finish,
)
_MOST_OF_A_KIND: Final = 25
_RANK: Final = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}


def _few(found: Iterable[Finding], subject: str) -> list[Finding]:
    """The first of each kind, and one finding that counts the rest."""
    by_kind: dict[tuple[Severity, str], list[Finding]] = defaultdict(list)
    for finding in found:
        by_kind[finding.severity, finding.code].append(finding)
    kept: list[Finding] = []
    for (severity, code), same in by_kind.items():
        kept.extend(same[:_MOST_OF_A_KIND])
        more = len(same) - _MOST_OF_A_KIND
        if more > 0:
            message = f"{more} more of the same kind, the last about {same[-1].subject}."
            kept.append(Finding(severity, code, subject, message, same[-1].fix))
    return kept


def referee(
    night: Night,
    ground: Ground,
    settings: Settings,
    holds: pd.DataFrame,
    weather: pd.DataFrame | None = None,
) -> list[Finding]:
    """Every rule of a night, recomputed from the record and the runs.

    Windows of night, kinds and areas, pumps, pipe velocities, heads on controllers, cycles, soaks,
    holds, given and owed minutes, the sums, the flow series, finish and bound. Stretches
    of minutes over one limit make one finding, and at most 25 findings of one code are
    told one by one.

    Args:
        night: the plan, by our planner or anybody.
        ground: the record, with heads and station list reconciled.
        settings: what the course chooses.
        holds: rows of the holds table; index = id.
        weather: rows of the weather table, for the wind by the hour.

    Returns:
        Findings, errors first; severity error where the night would be wrong.
    """
    case = Case(night, ground, settings, holds, weather)
    found = [finding for rule in RULES for finding in rule(case)]
    return sorted(_few(found, case.subject), key=lambda finding: _RANK[finding.severity])
