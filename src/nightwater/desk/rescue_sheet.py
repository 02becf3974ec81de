"""The rescue list on one page, to be walked before play. It advises; nothing starts by it."""

from __future__ import annotations

import json
from collections import Counter
from datetime import datetime, time, timedelta
from importlib.resources import files
from typing import Any, Final
from zoneinfo import ZoneInfo

import pandas as pd
import typst

from nightwater.desk.nights import StoredNight
from nightwater.desk.sheet import station_labels
from nightwater.findings import NotFoundError, UserError
from nightwater.ground.play import area_holes
from nightwater.ground.record import Ground
from nightwater.ground.settings import Settings
from nightwater.proof.verdict import Proof, Rescue
from nightwater.units import UnitSystem, shown

MOST_ROWS: Final = 84  # two columns of 42, with room for what comes too late
NO_START: Final = "–"
WALK: Final = (
    "The tool advises; nothing starts by this sheet. Walk each place first, tick it when you "
    "have seen that it is clear, and only then start it."
)


def required_proof(stored: StoredNight) -> Proof:
    """The proof of a night.

    Raises:
        NotFoundError: log and meter have not been compared yet.
    """
    if stored.proof is None:
        raise NotFoundError(
            f"The night of {stored.plan.night} is not proved yet. Compare it on the Morning page "
            "or with 'nightwater morning'."
        )
    return stored.proof


def rescue_begin(stored: StoredNight, settings: Settings, clock: str | None = None) -> datetime:
    """The instant at which the rescue begins: the night's end, or a local time that morning.

    Raises:
        UserError: not a clock time.
    """
    end = stored.plan.window.end
    if clock is None:
        return end
    zone = ZoneInfo(settings.site.timezone)
    try:
        wanted = time.fromisoformat(clock.rjust(5, "0"))
    except ValueError:
        raise UserError(f"'{clock}' is not a clock time. Write it like 05:20.") from None
    return datetime.combine(end.astimezone(zone).date(), wanted.replace(tzinfo=None), zone)


def _hole_numbers(ground: Ground) -> dict[str, int]:
    numbers = {str(hole): int(number) for hole, number in ground.holes["number"].items()}
    linked = {str(area): hole for area, hole in area_holes(ground).items()}
    return {area: numbers[hole] for area, hole in linked.items() if hole in numbers}


def _given(ground: Ground, table: str, row: str, column: str) -> Any:
    """A value of the record; None where the row or the value is gone."""
    rows = ground.table(table)
    value = rows[column].get(row)
    return None if value is None or pd.isna(value) else value


def _row(one: Rescue, begin: datetime, tee: datetime, zone: ZoneInfo) -> dict[str, Any]:
    ready = begin + timedelta(minutes=one.ready_min)
    start = None if one.start_min is None else begin + timedelta(minutes=one.start_min)
    return {
        "station": one.station,
        "area": one.area,
        "kind": one.kind,
        "start": start.astimezone(zone).strftime("%H:%M") if start else None,
        "missing_mm": one.missing_mm,
        "run_min": one.run_min,
        "cycles": one.cycles,
        "ready": ready.astimezone(zone).strftime("%H:%M"),
        "fits": ready <= tee,
    }


def rescue_rows(
    stored: StoredNight, ground: Ground, settings: Settings, begin: datetime | None = None
) -> list[dict[str, Any]]:
    """The rescue list in its order, with clock times.

    Args:
        stored: a proved night.
        ground, settings: the record, for what things are called, and the course's clock.
        begin: when the rescue begins; the night's end where None.

    Returns:
        Rows of order, station, label, controller, output, area, area_label, kind, hole,
        start and ready (local "HH:MM"; start is None in a proof without start times),
        missing_mm, run_min, cycles, fits (done before the first tee).

    Raises:
        NotFoundError: the night is not proved.
    """
    proof, zone = required_proof(stored), ZoneInfo(settings.site.timezone)
    labels, holes = station_labels(ground), _hole_numbers(ground)
    first = begin or stored.plan.window.end
    return [
        {"order": order, "label": labels.get(one.station, one.station)}
        | _row(one, first, proof.first_tee, zone)
        | {
            "area_label": _given(ground, "areas", one.area, "label") or one.area,
            "hole": holes.get(one.area),
            "controller": _given(ground, "stations", one.station, "controller"),
            "output": _given(ground, "stations", one.station, "output"),
        }
        for order, one in enumerate(proof.rescue, 1)
    ]


def _output(row: dict[str, Any]) -> str:
    """Controller and output as they are set, for instance "C3 · 14"."""
    parts = [row["controller"], None if row["output"] is None else str(int(row["output"]))]
    return " · ".join(part for part in parts if part) or NO_START


def _printed(row: dict[str, Any], units: UnitSystem) -> list[str]:
    run = f"{row['run_min']} min" + (f" in {row['cycles']}" if row["cycles"] > 1 else "")
    place = row["kind"] if row["hole"] is None else f"{row['hole']} {row['kind']}"
    missing = shown(row["missing_mm"], "mm", units)
    return [
        row["start"] or NO_START, row["label"], _output(row), place, run, row["ready"], missing,
    ]  # fmt: skip


def _kinds(rows: list[dict[str, Any]]) -> str:
    """How many stations of which kind, for instance "6 fairway, 12 rough"."""
    counts = Counter(row["kind"] or "other" for row in rows)
    return ", ".join(f"{count} {kind}" for kind, count in counts.items())


def rescue_document(
    stored: StoredNight,
    ground: Ground,
    settings: Settings,
    *,
    units: UnitSystem | None = None,
    begin: datetime | None = None,
) -> dict[str, Any]:
    """What the sheet says, as plain values: what can be done before play, then the rest.

    Raises:
        NotFoundError: the night is not proved.
    """
    proof, zone = required_proof(stored), ZoneInfo(settings.site.timezone)
    first = begin or stored.plan.window.end
    rows = rescue_rows(stored, ground, settings, first)
    in_time, late = [r for r in rows if r["fits"]], [r for r in rows if not r["fits"]]
    read = units or settings.site.units
    return {
        "club": settings.site.name,
        "invented": settings.site.invented,
        "night": stored.plan.night.isoformat(),
        "morning": proof.first_tee.astimezone(zone).date().isoformat(),
        "begin": first.astimezone(zone).strftime("%H:%M"),
        "first_tee": proof.first_tee.astimezone(zone).strftime("%H:%M"),
        "caution": f"{proof.caution} {WALK}".strip(),
        "rows": [_printed(row, read) for row in in_time[:MOST_ROWS]],
        "more": _kinds(in_time[MOST_ROWS:]),
        "late": _kinds(late),
        "late_first": [row["label"] for row in late[:40]],
        "late_count": len(late),
        "count": len(rows),
    }


def rescue_pdf(
    stored: StoredNight,
    ground: Ground,
    settings: Settings,
    *,
    units: UnitSystem | None = None,
    begin: datetime | None = None,
) -> bytes:
    """The rescue list as a PDF of one page.

    Raises:
        NotFoundError: the night is not proved.
    """
    template = files("nightwater.desk").joinpath("rescue.typ").read_bytes()
    document = rescue_document(stored, ground, settings, units=units, begin=begin)
    pdf: bytes = typst.compile(template, sys_inputs={"sheet": json.dumps(document)})
    return pdf
