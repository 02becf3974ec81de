"""The ledger by month."""

from __future__ import annotations

from typing import Final

import pandas as pd

from nightwater.ledger.book import METERED

SUMMED: Final = (
    "planned_m3",
    "used_m3",
    "hours",
    "station_hours",
    "energy_kwh",
    "water_money",
    "energy_money",
    "money",
)


def monthly_totals(rows: pd.DataFrame) -> pd.DataFrame:
    """Nights, water, hours, energy and money of each month.

    Args:
        rows: what `ledger_rows` gives.

    Returns:
        Index month ("YYYY-MM", by the night's own date). nights, metered_nights (wholly
        metered), the sums of `SUMMED`, and allocation_left_m3 after the month's last
        night. A NaN night makes its month's sum NaN: a total with a hole is no total.
    """
    month = pd.Index([f"{night:%Y-%m}" for night in rows.index], name="month", dtype=object)
    groups = rows.set_index(month).groupby(level="month")
    totals = groups[list(SUMMED)].agg(_whole_sum)
    totals.insert(0, "nights", groups.size())
    totals.insert(1, "metered_nights", groups["evidence"].agg(_count_metered))
    totals["allocation_left_m3"] = groups["allocation_left_m3"].agg(_last)
    return totals


def _whole_sum(values: pd.Series[float]) -> float:
    return float(values.sum(skipna=False))


def _count_metered(values: pd.Series[str]) -> int:
    return int((values == METERED).sum())


def _last(values: pd.Series[float]) -> float:
    return float(values.iloc[-1])
