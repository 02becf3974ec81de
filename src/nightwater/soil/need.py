"""How much water each area should get tonight."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.findings import Finding, UserError, warning
from nightwater.ground.settings import NeedRules
from nightwater.soil.account import Account, Soil, run_account
from nightwater.soil.coefficients import coefficients_of_year
from nightwater.soil.defaults import area_defaults
from nightwater.soil.irrigation import EnteringWater, entering_water

METHODS: Final = ("refill", "et_share")
REFERENCES: Final = {"short": "eto_mm", "tall": "etr_mm"}
# FAO-56 Table 22: depletion fraction without stress, cool and warm season turf (from memory).
P_TABLE: Final = {"cool_season": 0.40, "warm_season": 0.50, "warm_overseeded": 0.50}

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class NeedResult:
    """Tonight's need and how it came about.

    Attributes:
        table: one row per area (index = id), in mm unless the name says otherwise: need_mm;
            of the night's own day eto_mm, kc, area_factor, etc_mm, ks, rain_mm, runoff_mm,
            deep_mm; irrigation_mm entered since the account opened and irrigation_evidence
            ("proved", "planned", "mixed", "none"); carried_mm, what was lacking before the
            day's ET; depletion_mm at the day's end, target_mm, raw_mm, taw_mm; method;
            assumed (columns of the record that are defaults); flags (of the weather).
        account: one row per area and date with every term of the balance; etc_mm is the
            unstressed ET, et_mm what the store let through, evidence that of the night
            before ("proved", "planned", "mixed", "none").
        findings: doubts about weather and record.
    """

    table: pd.DataFrame
    account: pd.DataFrame
    findings: tuple[Finding, ...]


def _check_rules(rules: NeedRules) -> None:
    if rules.method not in METHODS:
        raise UserError(f"need.method is '{rules.method}'; use {' or '.join(METHODS)}.")
    if rules.reference not in REFERENCES:
        raise UserError(f"need.reference is '{rules.reference}'; use {' or '.join(REFERENCES)}.")
    if not 0 <= rules.et_share <= 2:
        raise UserError(f"need.et_share is {rules.et_share:g}; it must lie between 0 and 2.")
    if not rules.opening_depletion_mm >= 0:
        raise UserError(
            f"need.opening_depletion_mm is {rules.opening_depletion_mm:g} mm; it must be 0 or more."
        )


def account_days(night: date, rules: NeedRules) -> list[date]:
    """The days of the account, from its opening to the night's own date.

    Raises:
        UserError: it opens after the night.
    """
    first = date.fromisoformat(rules.account_start) if rules.account_start else night
    if first > night:
        raise UserError(
            f"The account opens on {first}, after the night of {night}. "
            "Change need.account_start or plan a later night."
        )
    return [first + timedelta(days=step) for step in range((night - first).days + 1)]


def _weather(
    daily: pd.DataFrame, days: list[date], rules: NeedRules
) -> tuple[pd.DataFrame, list[Finding]]:
    column = REFERENCES[rules.reference]
    chosen = daily.reindex(days)
    missing = [day for day in days if pd.isna(chosen[column].get(day))]
    if missing:
        raise UserError(
            f"There is no usable weather for {_listed(missing)}. Add it with 'nightwater "
            f"weather', or open the account later (need.account_start, now {days[0]})."
        )
    dry = [day for day in days if pd.isna(chosen["rain_mm"].get(day))]
    findings = [_rain_missing(dry)] if dry else []
    return chosen.assign(rain_mm=chosen["rain_mm"].fillna(0.0)), findings


def _listed(days: list[date]) -> str:
    shown = ", ".join(day.isoformat() for day in days[:3])
    return shown if len(days) <= 3 else f"{shown} and {len(days) - 3} more days"


def _rain_missing(days: list[date]) -> Finding:
    return warning(
        "rain-assumed-none",
        "weather:rain_mm",
        f"Rain of {_listed(days)} is not known; the account counts none.",
        "Add the gauge's readings if it rained.",
    )


def _coefficients(areas: pd.DataFrame, days: list[date], rules: NeedRules) -> Numbers:
    """Kc of shape (days, areas), without the area factor."""
    years = {grass: coefficients_of_year(grass, rules) for grass in areas["grass"].unique()}
    table = np.array([years[grass] for grass in areas["grass"]], dtype=float).reshape(-1, 12)
    months = np.array([day.month - 1 for day in days])
    return table[:, months].T


def _taw_mm(areas: pd.DataFrame) -> Numbers:
    taw = areas["available_water_mm_m"] * areas["root_depth_mm"] / 1000.0
    return np.asarray(taw, dtype=float)


def _soil(areas: pd.DataFrame, rules: NeedRules) -> Soil:
    taw = _taw_mm(areas)
    if rules.method == "et_share":
        taw = np.full(len(areas), np.inf)  # only the debt counts, whatever the store holds
    return Soil(
        taw_mm=taw,
        p_table=np.array([P_TABLE[grass] for grass in areas["grass"]], dtype=float),
        curve_number=areas["curve_number"].to_numpy(dtype=float),
    )


def _need_mm(areas: pd.DataFrame, end: Numbers, rules: NeedRules) -> tuple[Numbers, Numbers]:
    """Need and target depletion per area."""
    if rules.method == "et_share":
        return end, np.zeros(len(areas))
    taw = _taw_mm(areas)
    target = areas["target_depletion_pct"].to_numpy(dtype=float) / 100.0 * taw
    need = np.maximum(end - target, 0.0)
    if rules.use_trigger:
        trigger = areas["allowed_depletion_pct"].to_numpy(dtype=float) / 100.0 * taw
        need = np.where(end >= trigger, need, 0.0)
    return need, target


def _assumptions(areas: pd.DataFrame) -> list[Finding]:
    doubts = []
    for column, word in (("grass", "cool-season grass"), ("soil", "loam")):
        guessed = [str(area) for area, names in areas["assumed"].items() if column in names]
        if guessed:
            doubts.append(
                warning(
                    f"{column}-assumed",
                    f"areas:{guessed[0]}",
                    f"{len(guessed)} watered areas name no {column}; {word} is assumed for them.",
                    f"Enter {column} of each area.",
                )
            )
    return doubts


@dataclass(frozen=True)
class _Demand:
    """Reference ET (days,), coefficients and turf ET (days, areas)."""

    eto_mm: Numbers
    kc: Numbers
    etc_mm: Numbers


def _demand(
    areas: pd.DataFrame, weather: pd.DataFrame, days: list[date], rules: NeedRules
) -> _Demand:
    eto = weather[REFERENCES[rules.reference]].to_numpy(dtype=float)
    kc = _coefficients(areas, days, rules)
    share = rules.et_share if rules.method == "et_share" else 1.0
    factor = areas["area_factor"].to_numpy(dtype=float)
    return _Demand(eto, kc, eto[:, None] * kc * factor * share)


def _account_table(
    account: Account, days: list[date], areas: pd.Index, demand: _Demand, water: EnteringWater
) -> pd.DataFrame:
    index = pd.MultiIndex.from_product([days, areas], names=["date", "area"])
    names = (
        "depletion_start_mm", "irrigation_mm", "rain_mm", "runoff_mm", "et_mm",
        "deep_percolation_mm", "depletion_end_mm", "ks",
    )  # fmt: skip
    data = {name: getattr(account, name).ravel() for name in names}
    return (
        pd.DataFrame(data, index=index)
        .reset_index()
        .assign(
            eto_mm=np.repeat(demand.eto_mm, len(areas)),
            etc_mm=demand.etc_mm.ravel(),
            evidence=water.of_day.ravel(),
        )
    )


def _opening(areas: pd.DataFrame, rules: NeedRules) -> Numbers:
    over_target = np.full(len(areas), rules.opening_depletion_mm)
    if rules.method == "et_share":
        return over_target
    taw = _taw_mm(areas)
    target = areas["target_depletion_pct"].to_numpy(dtype=float) / 100.0 * taw
    return np.minimum(over_target + target, taw)


def _need_table(
    areas: pd.DataFrame, demand: _Demand, account: Account, rules: NeedRules
) -> pd.DataFrame:
    need, target = _need_mm(areas, account.depletion_end_mm[-1], rules)
    taw = _taw_mm(areas)
    columns = {
        "need_mm": need,
        "eto_mm": demand.eto_mm[-1],
        "kc": demand.kc[-1],
        "area_factor": areas["area_factor"].to_numpy(dtype=float),
        "etc_mm": demand.etc_mm[-1],
        "ks": account.ks[-1],
        "rain_mm": account.rain_mm[-1],
        "runoff_mm": account.runoff_mm[-1],
        "irrigation_mm": account.irrigation_mm.sum(axis=0),
        "carried_mm": np.maximum(account.after_irrigation_mm[-1] - target, 0.0),
        "depletion_mm": account.depletion_end_mm[-1],
        "target_mm": target,
        "raw_mm": areas["allowed_depletion_pct"].to_numpy(dtype=float) / 100.0 * taw,
        "taw_mm": taw,
        "deep_mm": account.deep_percolation_mm[-1],
        "method": rules.method,
        "assumed": areas["assumed"].to_numpy(),
    }
    return pd.DataFrame(columns, index=areas.index)


def area_needs(
    areas: pd.DataFrame,
    daily: pd.DataFrame,
    irrigation: pd.DataFrame,
    night: date,
    rules: NeedRules,
) -> NeedResult:
    """Need of each area on a night, at the end of that date's day.

    Args:
        areas: watered areas of the record; index = id.
        daily: reference ET and rain; index = date; columns eto_mm, etr_mm, rain_mm, flags.
        irrigation: net water of past nights; columns night (date), area, depth_mm,
            evidence ("proved" or "planned"). The water of a night enters the next day.
        night: the date on whose evening the night starts.
        rules: how weather and soil become need.

    Returns:
        Need, account and findings; see `NeedResult`.

    Raises:
        UserError: weather is missing for a day of the account, or a rule is unknown.

    Reference: FAO-56 (1998), chapter 8; docs/how/soil.md.
    """
    _check_rules(rules)
    days = account_days(night, rules)
    weather, findings = _weather(daily, days, rules)
    filled = area_defaults(areas)
    demand = _demand(filled, weather, days, rules)
    water = entering_water(irrigation, days, areas.index)
    rain = weather["rain_mm"].to_numpy(dtype=float)
    soil = _soil(filled, rules)
    account = run_account(_opening(filled, rules), demand.etc_mm, rain, water.depth_mm, soil)
    flags: Any = list(weather["flags"].iloc[-1]) if "flags" in weather else []
    table = _need_table(filled, demand, account, rules).assign(
        irrigation_evidence=water.of_area,
        flags=pd.Series([flags] * len(areas), index=areas.index, dtype=object),
    )
    book = _account_table(account, days, areas.index, demand, water)
    return NeedResult(table, book, (*findings, *water.findings, *_assumptions(filled)))
