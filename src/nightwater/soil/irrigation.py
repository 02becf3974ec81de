"""Water of past nights as it enters the root-zone account, and how well it is known."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.findings import Finding, warning


@dataclass(frozen=True)
class EnteringWater:
    """Net water and how it is known.

    Attributes:
        depth_mm: shape (days, areas); 0 where none is known.
        of_day: "proved", "planned", "mixed" or "none", shape (days, areas).
        of_area: the same over all days, index = area id.
        findings: nights whose depth is not known.
    """

    depth_mm: NDArray[np.float64]
    of_day: NDArray[np.object_]
    of_area: pd.Series[Any]
    findings: tuple[Finding, ...]


def _evidence(rows: pd.DataFrame, keys: list[str]) -> pd.Series[Any]:
    """What each group of rows rests on."""
    found = rows.groupby(keys)["evidence"].agg(["nunique", "first"])
    first = found["first"].astype(object)
    return first.where(found["nunique"] == 1, "mixed")


def _or_none(words: NDArray[np.object_]) -> NDArray[np.object_]:
    return np.where(pd.isna(words), "none", words)


def _best_known(irrigation: pd.DataFrame) -> pd.DataFrame:
    """Without the planned rows of a night and area that has proved ones."""
    proved = irrigation["evidence"] == "proved"
    has_proof = proved.groupby([irrigation["night"], irrigation["area"]]).transform("any")
    return irrigation[proved | ~has_proof]


def _unknown_depths(rows: pd.DataFrame) -> list[Finding]:
    if rows.empty:
        return []
    night, area = rows.iloc[0][["night", "area"]]
    return [
        warning(
            "irrigation-depth-unknown",
            f"areas:{area}",
            f"How deep the water of {night} went on {area} is not known ({len(rows)} such nights "
            "and areas in all); the account counts none.",
            "Prove the night, or check spacing and flow of the area's heads.",
        )
    ]


def entering_water(irrigation: pd.DataFrame, days: list[date], areas: pd.Index) -> EnteringWater:
    """Net water of past nights on the days that they water.

    A night's water enters the account on the next day. Where a night and area have
    proved rows, its planned rows are left out; of rows of equal standing the depths add up.

    Args:
        irrigation: columns night (date), area, depth_mm (net), evidence ("proved" or
            "planned"); any order. Rows of other days or areas are left out.
        days: days of the account.
        areas: ids of its areas.

    Returns:
        Depths and evidence; 0 mm and "none" where there is no row. A row whose depth is
        NaN counts as no water and is a finding.
    """
    entering = irrigation.assign(day=[night + timedelta(days=1) for night in irrigation["night"]])
    known = _best_known(entering[entering["day"].isin(days) & entering["area"].isin(areas)])
    findings = _unknown_depths(known[known["depth_mm"].isna()])
    known = known[known["depth_mm"].notna()]
    depth = known.pivot_table(index="day", columns="area", values="depth_mm", aggfunc="sum")
    words = _evidence(known, ["day", "area"]).unstack()
    of_area = _evidence(known, ["area"])
    return EnteringWater(
        depth.reindex(index=days, columns=areas).fillna(0.0).to_numpy(dtype=float),
        _or_none(words.reindex(index=days, columns=areas).to_numpy(dtype=object)),
        pd.Series(_or_none(of_area.reindex(areas).to_numpy(dtype=object)), index=areas),
        tuple(findings),
    )
