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
    print_rows,
)
from nightwater.desk.nights import StoredNight
from nightwater.desk.sheet import station_labels
from nightwater.ground.record import Ground
from nightwater.ground.settings import Settings
from nightwater.proof.document import proof_to_document
from nightwater.proof.verdict import Proof
from nightwater.units import UnitSystem, shown

STATION_COLUMNS = (
    "station", "label", "verdict", "planned_min", "commanded_min", "delivered_min", "reason",
)  # fmt: skip
RESCUE_COLUMNS = ("station", "label", "kind", "missing_mm", "run_min", "fits")


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


def print_morning(stored: StoredNight, ground: Ground, settings: Settings, form: Format) -> None:
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
        _print_totals(proof, settings.site.units)
        doubtful = [row for row in stations if row["verdict"] != "green"]
        print_rows(doubtful, STATION_COLUMNS, form, "Stations that are not proved")
        print_rows(_rows(proof.rescue, labels), RESCUE_COLUMNS, form, "Rescue before first tee")
        print_findings(proof.findings, form)
    leave_by(proof.findings)
