"""What may still be taken from the sources in their period."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

import numpy as np
import pandas as pd


def _in_period(sources: pd.DataFrame, night: date) -> pd.DataFrame:
    """Sources with an allocation whose period holds a night; an open end holds for ever."""
    day = night.isoformat()
    start, end = sources["period_start"].fillna(""), sources["period_end"].fillna("9999-12-31")
    return sources[sources["allocation_m3"].notna() & (start <= day) & (day <= end)]


def allocation_m3(sources: pd.DataFrame, night: date) -> float:
    """All that may be taken in the period of a night; NaN where no source states it."""
    active = _in_period(sources, night)
    return float(active["allocation_m3"].sum()) if len(active) else math.nan


def allocation_period(sources: pd.DataFrame, night: date) -> tuple[str, str] | None:
    """First and last ISO date of the allocations that hold a night, as one pool.

    None where no source states an allocation, or one of them has no first or last date.
    """
    active = _in_period(sources, night)
    dates = active[["period_start", "period_end"]]
    if active.empty or dates.isna().any(axis=None):
        return None
    return str(dates["period_start"].min()), str(dates["period_end"].max())


def used_in_period_m3(
    sources: pd.DataFrame, nights: Sequence[date], used_m3: Sequence[float]
) -> list[float]:
    """Water taken in the running period up to and with each night.

    All sources count as one pool, because the meters of a night do not part them: what was
    taken before the first night of all of them, and every night since the earliest of
    their periods began.

    Args:
        sources: the record's sources.
        nights: dates in order.
        used_m3: water of each night; a NaN makes all later totals of the period NaN.

    Returns:
        [m³] per night; NaN where no source states an allocation.
    """
    totals = []
    for place, night in enumerate(nights):
        active = _in_period(sources, night)
        if active.empty:
            totals.append(math.nan)
            continue
        start = active["period_start"].fillna("").min()
        since = [
            used
            for day, used in zip(nights[: place + 1], used_m3[: place + 1], strict=True)
            if day.isoformat() >= start
        ]
        before = float(np.nansum(active["used_before_m3"].to_numpy(dtype=float)))
        totals.append(before + sum(since))
    return totals


def is_priced(sources: pd.DataFrame, usual: float) -> bool:
    """Whether a price of water is known: one that a source states, else the course's own."""
    return bool(sources["price_per_m3"].notna().any()) or usual > 0


def price_per_m3(sources: pd.DataFrame, usual: float) -> float:
    """Mean price of the sources that state one; `usual` where none does."""
    stated = sources["price_per_m3"].dropna()
    return float(stated.mean()) if len(stated) else usual
