"""Net water per area of one night, for the soil account: planned or proved."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence

import pandas as pd

from nightwater.night.plan import Night, StationSum
from nightwater.proof.result import IRRIGATION_COLUMNS, AreaProof, StationProof, Verdict
from nightwater.proof.stations import net_depth_mm


def _by_area(night: Night) -> dict[str, list[StationSum]]:
    rows: dict[str, list[StationSum]] = defaultdict(list)
    for row in night.sums:
        if row.area:
            rows[row.area].append(row)
    return dict(rows)


def _mean_depth_mm(rows: Sequence[StationSum], minutes: Callable[[str], float]) -> float:
    """Depth over an area: its stations' depths, weighed by the ground that each wets.

    Stations without minutes count with depth 0: their ground lies in the area too.
    """
    wetted = sum(row.wetted_m2 for row in rows)
    depth = sum(net_depth_mm(row, minutes(row.station)) * row.wetted_m2 for row in rows)
    return depth / wetted if wetted > 0 else float("nan")


def _planned_min(night: Night) -> dict[str, float]:
    total: dict[str, float] = defaultdict(float)
    for run in night.runs:
        total[run.station] += run.run_min
    return dict(total)


def planned_irrigation(night: Night) -> pd.DataFrame:
    """Net depth that a plan gives each area.

    Returns:
        Columns night (date), area, depth_mm (net, into the root zone), evidence
        ("planned"); one row for each area that has a sum, 0 mm where nothing runs. A
        night without sums gives no rows; depth is NaN where no sum tells wetted ground.
    """
    minutes = _planned_min(night)
    rows = [
        (night.night, area, _mean_depth_mm(rows, lambda key: minutes.get(key, 0.0)), "planned")
        for area, rows in _by_area(night).items()
    ]
    return pd.DataFrame(rows, columns=list(IRRIGATION_COLUMNS))


def _proved(station: StationProof | None, *, has_log: bool) -> bool:
    """Whether log and meter tell of a station; a station that never ran needs neither."""
    if station is None:
        return True
    if station.verdict is Verdict.RED:
        return station.metered
    return station.metered and has_log


def area_proofs(
    night: Night, stations: Sequence[StationProof], *, has_log: bool
) -> tuple[AreaProof, ...]:
    """Planned and delivered net depth of every area, and what stands behind it."""
    planned, by_id = _planned_min(night), {row.station: row for row in stations}
    delivered = {row.station: row.delivered_min for row in stations}
    return tuple(
        AreaProof(
            area=area,
            kind=rows[0].kind,
            planned_mm=_mean_depth_mm(rows, lambda key: planned.get(key, 0.0)),
            depth_mm=_mean_depth_mm(rows, lambda key: delivered.get(key, 0.0)),
            evidence="proved"
            if all(_proved(by_id.get(row.station), has_log=has_log) for row in rows)
            else "planned",
        )
        for area, rows in _by_area(night).items()
    )
