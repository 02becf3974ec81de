"""The root-zone account behind a station's need, worked out anew for the page."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from nightwater.desk.needing import need
from nightwater.findings import UserError
from nightwater.night.plan import StationSum
from nightwater.soil.need import NeedResult
from nightwater.web.doorway import Visit
from nightwater.web.tonight.sums import Factor, need_factors, same_need


@dataclass(frozen=True)
class Account:
    """The factors of an area's need, or why they cannot be shown."""

    factors: tuple[Factor, ...]
    caution: str


def _need(visit: Visit, night: date) -> NeedResult:
    made: NeedResult = visit.server.courses.remembered(
        f"need {night}", lambda: need(visit.course, night)
    )
    return made


def area_account(visit: Visit, night: date, item: StationSum) -> Account:
    """The account of the station's area as record and weather give it now.

    Where that is no longer what the plan was made with, the caution says so.
    """
    try:
        table = _need(visit, night).table
    except UserError as mistake:
        return Account((), str(mistake))
    if item.area not in table.index:
        return Account((), "The record has no watered area for this station.")
    row = table.loc[[item.area]].iloc[0]
    caution = (
        ""
        if same_need(item, row)
        else "Record, weather or proofs changed since this plan was made; the account below "
        "gives another need now. Plan again to use it."
    )
    return Account(tuple(need_factors(row, visit.units)), caution)
