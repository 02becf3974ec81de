"""What a person writes of an audit, read into inside units."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any, Final
from zoneinfo import ZoneInfo

from pydantic import BaseModel

from nightwater.desk.audit_cans import opening_m2
from nightwater.desk.audit_wind import ObservedWind
from nightwater.findings import UserError
from nightwater.units import UnitSystem, from_si, to_si

SPEEDS: Final = ("mph", "m/s", "km/h")
PRESSURES: Final = ("psi", "bar", "kPa")
OPENINGS: Final = {
    "cm2": "cm², area", "in2": "in², area", "mm": "mm across", "cm": "cm across",
    "in": "in across",
}  # fmt: skip


class PlanForm(BaseModel):
    """The form that plans an audit."""

    area: str = ""
    stations: str = ""
    cans: str = "24"
    opening: str = ""
    opening_unit: str = ""
    label: str = ""


class FactsForm(BaseModel):
    """The form that says how an audit was run."""

    run_min: str = ""
    opening: str = ""
    opening_unit: str = ""
    wind: str = ""
    wind_unit: str = ""
    wind_from_deg: str = ""
    pressure: str = ""
    pressure_unit: str = ""
    time: str = ""
    text: str = ""


class ColumnsForm(BaseModel):
    """The form that says what the columns of a file are."""

    can: str = ""
    caught: str = ""
    unit: str = ""


def number_of(text: str, what: str) -> float | None:
    """A number as a person writes it, a comma for the point too; None where empty.

    Raises:
        UserError: no number.
    """
    plain = text.strip().replace(",", ".")
    if not plain:
        return None
    try:
        value = float(plain)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise UserError(f"'{text.strip()}' is no number for {what}.")
    return value


def opening_of(size: str, unit: str) -> float | None:
    """Opening of a can [m²], None where empty."""
    value = number_of(size, "the opening")
    return None if value is None else opening_m2(value, unit)


def _inside(text: str, unit: str, known: tuple[str, ...], what: str) -> float | None:
    value = number_of(text, what)
    if value is None:
        return None
    if unit not in known:
        raise UserError(f"Say the unit of {what}: {', '.join(known)}.")
    return float(to_si(value, unit))


def _instant(text: str, timezone: str) -> str | None:
    if not text.strip():
        return None
    try:
        local = datetime.fromisoformat(text.strip()).replace(tzinfo=ZoneInfo(timezone))
    except ValueError:
        raise UserError(f"'{text}' is no date and time like 2026-07-14 06:10.") from None
    return local.astimezone(UTC).isoformat(timespec="seconds")


def facts_of(form: FactsForm, timezone: str) -> dict[str, Any]:
    """The facts that a form says, in inside units.

    Raises:
        UserError: a number without sense, or without its unit.
    """
    return {
        "run_min": number_of(form.run_min, "the minutes"),
        "throat_m2": opening_of(form.opening, form.opening_unit),
        "wind_m_s": _inside(form.wind, form.wind_unit, SPEEDS, "the wind"),
        "wind_from_deg": number_of(form.wind_from_deg, "the wind's direction"),
        "pressure_kpa": _inside(form.pressure, form.pressure_unit, PRESSURES, "the pressure"),
        "time": _instant(form.time, timezone),
        "text": form.text.strip() or None,
    }


def written(value: float | None, unit: str) -> str:
    """A number of the record for a form's field, in a unit."""
    return "" if value is None else f"{float(from_si(value, unit)):.5g}"


def filled(
    facts: Mapping[str, Any],
    units: UnitSystem,
    timezone: str,
    observed: ObservedWind | None = None,
) -> dict[str, str]:
    """What a form shows of facts, in the reader's units.

    A wind that was observed stands in the form where nobody entered one; it is kept only when
    a person keeps the form.
    """
    us = units is UnitSystem.US
    opening, speed, pressure = ("in2", "mph", "psi") if us else ("cm2", "m/s", "bar")
    moment = facts["time"]
    local = "" if moment is None else _local(moment, timezone)
    proposed = facts["wind_m_s"] is None and observed is not None
    wind = observed.wind_m_s if proposed and observed else facts["wind_m_s"]
    return {
        "run_min": written(facts["run_min"], "min"),
        "opening": written(facts["throat_m2"], opening),
        "opening_unit": opening,
        "wind": written(round(wind, 2) if proposed else wind, speed),
        "wind_observed": _told(observed, timezone) if proposed and observed else "",
        "wind_unit": speed,
        "wind_from_deg": written(facts["wind_from_deg"], "deg"),
        "pressure": written(facts["pressure_kpa"], pressure),
        "pressure_unit": pressure,
        "time": local,
        "text": facts["text"] or "",
    }


def _told(observed: ObservedWind, timezone: str) -> str:
    """Where a proposed wind comes from."""
    start = observed.start.astimezone(ZoneInfo(timezone))
    whose = f"gauge {observed.gauge}" if observed.gauge else "the course's weather"
    height = "brought to 2 m" if observed.at_2_m else "at the sensor's height, which is not known"
    return f"mean of the hour from {start:%H:%M}, {whose}, {height}"


def _local(moment: Any, timezone: str) -> str:
    instant = datetime.fromisoformat(str(moment))
    return instant.astimezone(ZoneInfo(timezone)).strftime("%Y-%m-%dT%H:%M")
