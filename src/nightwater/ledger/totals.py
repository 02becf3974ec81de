"""The ledger by month and season, for each kind of area and the whole course."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import Any, Final

import pandas as pd

from nightwater.ground.settings import PRIORITY
from nightwater.ledger.allowance import allocation_period
from nightwater.ledger.book import METERED, Booked, area_rows
from nightwater.ledger.known import Book, Evidence, evidence_rows, weakest

COURSE: Final = "course"
ELSEWHERE: Final = "elsewhere"
SUMMED: Final = ("planned_m3", "used_m3", "hours", "energy_kwh", "money")
_SHARED: Final = ("planned_m3", "used_m3", "energy_kwh", "money")
_LAST: Final = ("used_in_period_m3", "allocation_m3", "allocation_left_m3")
TOTALS: Final = (
    "nights", "metered_nights", *SUMMED, "share_pct", *_LAST, "allocation_used_pct",
)  # fmt: skip
EVIDENT: Final = (*SUMMED, "used_in_period_m3", "allocation_left_m3", "allocation_used_pct")
_ROUNDING: Final = 1e-9
Periods = Callable[[date], str]


def month_of(night: date) -> str:
    """The month of an evening, "2026-07"."""
    return f"{night:%Y-%m}"


def season_of(sources: pd.DataFrame) -> Periods:
    """The season of an evening: the allocation's period that holds it, else its year."""

    def season(night: date) -> str:
        period = allocation_period(sources, night)
        return f"{night:%Y}" if period is None else f"{period[0]} to {period[1]}"

    return season


def _whole_sum(values: pd.Series[float]) -> float:
    """A total with a hole is no total."""
    return float(values.sum(skipna=False))


def _ratio_pct(part: float, whole: float) -> float:
    return 100 * part / whole if whole > 0 else math.nan


def _course_total(rows: pd.DataFrame) -> dict[str, Any]:
    """One period of the whole course; allocation as it stands after its last night."""
    total: dict[str, Any] = {
        "nights": len(rows),
        "metered_nights": int((rows["evidence"] == METERED).sum()),
        "share_pct": 100.0,
    }
    total |= {name: _whole_sum(rows[name]) for name in SUMMED}
    last = rows.iloc[-1]
    total |= {name: float(last[name]) for name in _LAST}
    used_pct = _ratio_pct(float(last["used_in_period_m3"]), float(last["allocation_m3"]))
    return total | {"allocation_used_pct": used_pct}


def _course_evidence(known: pd.DataFrame) -> dict[str, Evidence]:
    evidence = {name: weakest(known[name]) for name in SUMMED}
    left = Evidence(str(known["allocation_left_m3"].iloc[-1]))
    return evidence | dict.fromkeys(EVIDENT[len(SUMMED) :], left)


def kind_rows(booked: Sequence[Booked], rows: pd.DataFrame) -> pd.DataFrame:
    """Water, energy and money of each kind of area, night by night.

    Energy and money follow the water. What no area answers for (leaks, stations without an
    area, what the meter counted more or less than log and plan) stands as `ELSEWHERE`, so
    that the kinds of a night add up to its row.

    Args:
        booked: nights with their proofs.
        rows: what `ledger_rows` gives of them.

    Returns:
        Columns night, kind, planned_m3, used_m3 (delivered where proved, else planned),
        energy_kwh, money, known (`Evidence` of used_m3).
    """
    areas = area_rows(booked)
    areas["used_m3"] = areas["delivered_m3"].fillna(areas["planned_m3"]).astype(float)
    found = []
    for night, row in rows.iterrows():
        own = areas[areas["night"] == night]
        parts = {
            str(kind): (float(of["planned_m3"].sum()), float(of["used_m3"].sum()),
                        weakest(_area_evidence(of["evidence"])))
            for kind, of in own.groupby("kind")
        }  # fmt: skip
        parts[ELSEWHERE] = (
            _rest(float(row["planned_m3"]), [part[0] for part in parts.values()]),
            _rest(float(row["used_m3"]), [part[1] for part in parts.values()]),
            Evidence.COMPUTED,
        )
        for kind, (planned_m3, used_m3, known) in parts.items():
            share = used_m3 / float(row["used_m3"]) if row["used_m3"] else 0.0
            energy, money = share * float(row["energy_kwh"]), share * float(row["money"])
            found.append((night, kind, planned_m3, used_m3, energy, money, known))
    return pd.DataFrame(found, columns=["night", "kind", *_SHARED, "known"])


def _rest(whole: float, parts: Sequence[float]) -> float:
    """The whole without its parts; 0 where only rounding is left of it."""
    rest = whole - sum(parts)
    return 0.0 if abs(rest) < _ROUNDING * abs(whole) else rest


def _place(kind: str) -> tuple[int, str]:
    """Greens first, as people list them; what no area answers for last."""
    order = (*PRIORITY, kind, ELSEWHERE) if kind != ELSEWHERE else (*PRIORITY, "", ELSEWHERE)
    return order.index(kind), kind


def _area_evidence(evidence: pd.Series[str]) -> list[Evidence]:
    return [Evidence.COMPUTED if one == "proved" else Evidence.ASSUMED for one in evidence]


def _kind_total(own: pd.DataFrame, whole: dict[str, Any]) -> dict[str, Any]:
    total: dict[str, Any] = {"nights": whole["nights"]}
    total |= {name: _whole_sum(own[name]) for name in _SHARED}
    total["share_pct"] = _ratio_pct(float(own["used_m3"].sum()), float(whole["used_m3"]))
    return total


def _kind_evidence(total: dict[str, Any], known: pd.Series[str]) -> dict[str, Evidence]:
    said = weakest(known)
    found = {name: Evidence.MISSING if pd.isna(total[name]) else said for name in _SHARED}
    return found | {"planned_m3": Evidence.COMPUTED}


def totals(booked: Sequence[Booked], rows: pd.DataFrame, period_of: Periods) -> Book:
    """Totals of each period: the whole course first, then each kind of area.

    Args:
        booked: nights with their proofs.
        rows: what `ledger_rows` gives of them.
        period_of: `month_of`, or what `season_of` gives.

    Returns:
        Index (period, kind), the oldest period first; columns `TOTALS`. share_pct is the
        part of the period's used water; allocation columns stand for the whole course, as
        after the period's last night. NaN where a night's figure is missing.
    """
    figures: dict[tuple[str, str], dict[str, Any]] = {}
    evidence: dict[tuple[str, str], dict[str, Evidence]] = {}
    known, kinds = evidence_rows(rows), kind_rows(booked, rows)
    periods = pd.Series([period_of(night) for night in rows.index], rows.index, dtype=object)
    for period in dict.fromkeys(periods):
        inside = (periods == period).to_numpy()
        whole = _course_total(rows[inside])
        figures[period, COURSE] = whole
        evidence[period, COURSE] = _course_evidence(known[inside])
        own = kinds[kinds["night"].isin(list(rows.index[inside]))]
        for kind, of in sorted(own.groupby("kind"), key=lambda group: _place(str(group[0]))):
            figures[period, str(kind)] = _kind_total(of, whole)
            evidence[period, str(kind)] = _kind_evidence(figures[period, str(kind)], of["known"])
    return Book(_framed(figures, TOTALS), _framed(evidence, EVIDENT))


def _framed(
    rows: Mapping[tuple[str, str], Mapping[str, object]], columns: Sequence[str]
) -> pd.DataFrame:
    keys = list(rows)
    index = pd.MultiIndex.from_arrays(
        [[key[place] for key in keys] for place in (0, 1)], names=["period", "kind"]
    )
    return pd.DataFrame(list(rows.values()), index=index, columns=list(columns))
