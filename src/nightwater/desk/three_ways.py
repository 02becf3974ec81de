"""A stored night's minutes beside the rules of thumb, on the map that they follow."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd
from scipy import sparse

from nightwater.desk.course import Course
from nightwater.desk.night_air import night_air
from nightwater.desk.night_need import night_need
from nightwater.desk.nights import StoredNight
from nightwater.desk.wetting import Wetting, wetting
from nightwater.night.minutes import FITTED
from nightwater.night.plan import Night
from nightwater.night.three_ways import ThreeWays, ThreeWaysRequest, three_ways
from nightwater.spray.grid import cell_kinds

_COLUMNS = ("kind", "need_mm", "flow_l_s", "wetted_m2", "run_min")


@dataclass(frozen=True)
class Compared:
    """The three ways of a night, or why there are none.

    Attributes:
        ways: None where there is nothing to compare.
        why_none: why not; empty where there is.
        others: stations that run with minutes by rate, which count in none of the three.
    """

    ways: ThreeWays | None
    why_none: str
    others: int


def _stations(night: Night, laid: Wetting) -> pd.DataFrame:
    """The stations whose minutes follow the map, in the matrix's order."""
    rows = {
        item.station: {name: getattr(item, name) for name in _COLUMNS}
        for item in night.sums
        if item.multiplier_name == FITTED
    }
    listed = {name: rows[name] for name in laid.stations if name in rows}
    return pd.DataFrame.from_dict(listed, orient="index", columns=list(_COLUMNS))


def _why_none(stations: pd.DataFrame) -> str:
    if stations.empty:
        return "No station's minutes follow the map in this plan, so there is nothing to compare."
    return "By tonight's minutes no ground in reach gets its whole need, so no share is the same."


def rules_beside(course: Course, stored: StoredNight) -> Compared:
    """A night's minutes by the map beside those by kind of area and by footprint.

    The minutes are those that the plan asks, before what the night leaves out. The need of a
    cell is that of its area in the plan, moved by readings and the patches drawn on the map;
    the water lands in the night's air, where that counts.

    Args:
        course: the course.
        stored: the night.

    Raises:
        UserError: what `wetting` refuses.
    """
    night = stored.plan
    others = sum(item.multiplier_name != FITTED and item.run_min > 0 for item in night.sums)
    if all(item.multiplier_name != FITTED for item in night.sums):
        return Compared(None, _why_none(pd.DataFrame()), others)
    laid = wetting(course, air=night_air(course, night.night))
    stations = _stations(night, laid)
    place = {name: number for number, name in enumerate(laid.stations)}
    found = three_ways(
        ThreeWaysRequest(
            by_station=sparse.csr_array(laid.by_station[:, [place[s] for s in stations.index]]),
            need_mm=night_need(course, stored, laid.grid).need_mm,
            kinds=cell_kinds(laid.grid, course.ground),
            cell_m2=laid.grid.cell_m2,
            reach_from=course.settings.minutes.reach_from,
            stations=stations,
        )
    )
    return Compared(found, "" if found else _why_none(stations), others)
