"""How the morning's verdict is printed."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from nightwater.cli.printing import (
    CONSOLE,
    Format,
    leave_by,
    print_findings,
    print_json,
    print_read,
    print_rows,
    say,
)
from nightwater.desk.nights import StoredNight
from nightwater.desk.rescue_sheet import rescue_rows
from nightwater.desk.sheet import station_labels
from nightwater.ground.record import Ground
from nightwater.ground.settings import Settings
from nightwater.proof.document import proof_to_document
from nightwater.proof.verdict import Proof
from nightwater.units import UnitSystem, shown

STATION_COLUMNS = (
    "station", "label", "verdict", "planned_min", "commanded_min", "delivered_min", "reason",
)  # fmt: skip
RESCUE_COLUMNS = ("start", "ready", "label", "kind", "missing_mm", "run_min", "fits")


def _rows(items: Any, labels: dict[str, str]) -> list[dict[str, Any]]:
    return [{**asdict(item), "label": labels.get(item.station)} for item in items]


def _print_totals(proof: Proof, units: UnitSystem) -> None:
    totals = ", ".join(
        f"{name} {shown(value, 'm3', units)}"
        for name, value in (
            ("planned", proof.planned_m3),
            ("commanded", proof.commanded_m3),
            ("metered", proof.metered_m3),
        )
    )
    CONSOLE.print(f"{proof.verdict.upper()}: {totals}", style="bold", highlight=False)


def _print_rescue(
    stored: StoredNight, ground: Ground, settings: Settings, units: UnitSystem
) -> None:
    proof = stored.proof
    assert proof is not None
    rows = rescue_rows(stored, ground, settings)
    title = "Rescue before first tee"
    print_read(rows, RESCUE_COLUMNS, Format.TABLE, title, units=units, usual=units)
    if rows:
        CONSOLE.print(proof.caution, style="bold", highlight=False)
        say("On one page, to be walked: nightwater rescue COURSE --night DATE.")


def print_morning(
    stored: StoredNight,
    ground: Ground,
    settings: Settings,
    form: Format,
    units: UnitSystem | None = None,
) -> None:
    """The proof of a night in the wanted form; status 1 when a finding is an error."""
    proof = stored.proof
    assert proof is not None  # the morning deed has just made it
    labels = station_labels(ground)
    stations = _rows(proof.stations, labels)
    if form is Format.JSON:
        print_json(proof_to_document(proof))
    elif form is Format.CSV:
        print_rows(stations, STATION_COLUMNS, form, "")
    else:
        _print_totals(proof, units or settings.site.units)
        doubtful = [row for row in stations if row["verdict"] != "green"]
        print_rows(doubtful, STATION_COLUMNS, form, "Stations that are not proved")
        _print_rescue(stored, ground, settings, units or settings.site.units)
        print_findings(proof.findings, form)
    leave_by(proof.findings)
