"""How each figure of the ledger is known."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Final

import pandas as pd

from nightwater.ledger.book import COMMANDED, METERED, PART_METERED, PLANNED


class Evidence(StrEnum):
    """How a number is known, the best first."""

    OBSERVED = "observed"
    COMPUTED = "computed"
    ASSUMED = "assumed"
    MISSING = "missing"


_RANK: Final = {evidence: rank for rank, evidence in enumerate(Evidence)}
_WATER: Final = {
    METERED: Evidence.OBSERVED,
    PART_METERED: Evidence.COMPUTED,
    COMMANDED: Evidence.COMPUTED,
    PLANNED: Evidence.ASSUMED,
}
_ENERGY: Final = {METERED: Evidence.OBSERVED, "computed": Evidence.COMPUTED}


def known_name(figure: str) -> str:
    """The column that tells how a figure is known: "used_known" of "used_m3"."""
    return f"{re.sub('_(m3|kwh|pct)$', '', figure)}_known"


@dataclass(frozen=True)
class Book:
    """Figures, and how each is known.

    Attributes:
        figures: one row a night or a period; units in the names of the columns.
        evidence: the same index, a column of `Evidence` for each figure that has one.
    """

    figures: pd.DataFrame
    evidence: pd.DataFrame

    def joined(self) -> pd.DataFrame:
        """One table: each figure with its evidence behind it, "used_m3", "used_known"."""
        columns: dict[str, pd.Series[Any]] = {}
        for name in self.figures.columns:
            columns[str(name)] = self.figures[name]
            if name in self.evidence.columns:
                columns[known_name(str(name))] = self.evidence[name]
        return pd.DataFrame(columns, index=self.figures.index)


def weakest(known: Iterable[str]) -> Evidence:
    """What may be said of a figure made of several: the least certain of them."""
    return max((Evidence(one) for one in known), key=_RANK.__getitem__, default=Evidence.MISSING)


def evidence_of(row: pd.Series[Any]) -> dict[str, Evidence]:
    """How each figure of one row of `ledger_rows` is known.

    The plan's water is computed; as water *used* it is assumed, for nobody saw it flow.
    What follows from an assumed figure is assumed.
    """
    water = _WATER[str(row["evidence"])]
    logged = pd.notna(row["commanded_m3"])
    derived = weakest([Evidence.COMPUTED, water])
    energy = _ENERGY.get(str(row["energy_evidence"]), Evidence.MISSING)
    hours = Evidence.OBSERVED if logged else Evidence.ASSUMED
    known = {
        "planned_m3": Evidence.COMPUTED,
        "commanded_m3": Evidence.OBSERVED,
        "metered_m3": Evidence.OBSERVED,
        "used_m3": water,
        "hours": hours,
        "station_hours": hours,
        "energy_kwh": energy if energy is Evidence.OBSERVED else weakest([energy, water]),
        "money": derived,
        "used_in_period_m3": derived,
        "allocation_left_m3": derived,
    }
    return {name: one if pd.notna(row[name]) else Evidence.MISSING for name, one in known.items()}


def evidence_rows(rows: pd.DataFrame) -> pd.DataFrame:
    """How each figure of `ledger_rows` is known: the same index, `Evidence` in every cell.

    What is left of an allocation rests on all nights before, so it is as weak as the
    weakest of them.
    """
    known = pd.DataFrame([evidence_of(row) for _, row in rows.iterrows()], index=rows.index)
    for name in ("used_in_period_m3", "allocation_left_m3"):
        if name not in known:
            continue
        soft = (known["used_m3"] == Evidence.ASSUMED).cummax() & (known[name] == Evidence.COMPUTED)
        known[name] = known[name].mask(soft, Evidence.ASSUMED)
    return known
