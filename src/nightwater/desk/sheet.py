"""Tonight on paper: per controller path, what to set by hand."""

from __future__ import annotations

import csv
import io
import json
from collections import defaultdict
from collections.abc import Sequence
from importlib.resources import files
from typing import Any
from zoneinfo import ZoneInfo

import pandas as pd
import typst

from nightwater.desk.nights import StoredNight
from nightwater.ground.record import Ground
from nightwater.ground.settings import Settings
from nightwater.night.document import clock as instant
from nightwater.night.plan import Night, Run
from nightwater.units import shown

SHEET_COLUMNS = (
    "night", "controller", "output", "station", "label", "start", "run_min", "cycle", "of_cycles",
)  # fmt: skip
NO_CONTROLLER = "No controller in the record"


def _text(value: Any, otherwise: str) -> str:
    return otherwise if value is None or pd.isna(value) else str(value)


def clock(night: Night, minute: int, timezone: str) -> str:
    """Local clock time of a minute of the night, HH:MM."""
    return instant(night.window, minute).astimezone(ZoneInfo(timezone)).strftime("%H:%M")


def station_labels(ground: Ground) -> dict[str, str]:
    """What people call each station; its id where it has no label."""
    labels = ground.stations["label"]
    return {str(station): _text(label, str(station)) for station, label in labels.items()}


def _runs_by_station(night: Night) -> dict[str, list[Run]]:
    runs: dict[str, list[Run]] = defaultdict(list)
    for run in sorted(night.runs, key=lambda run: run.start_min):
        runs[run.station].append(run)
    return runs


def sheet_rows(night: Night, ground: Ground, settings: Settings) -> list[dict[str, Any]]:
    """One row per station that runs, in the order of controller, output and label.

    Each has controller, output, station, label, starts (local clock), run_min (each
    cycle), cycles, total_min.
    """
    rows = []
    by_station = _runs_by_station(night)
    # A frozen night outlives the record: a station may be gone since, and prints by its id.
    records = ground.stations.reindex(list(by_station))
    for station, runs in by_station.items():
        record = records.loc[station]
        output = record["output"]
        rows.append(
            {
                "controller": _text(record["controller"], NO_CONTROLLER),
                "output": None if pd.isna(output) else int(output),
                "station": station,
                "label": _text(record["label"], station),
                "starts": [clock(night, r.start_min, settings.site.timezone) for r in runs],
                "run_min": [run.run_min for run in runs],
                "cycles": len(runs),
                "total_min": sum(run.run_min for run in runs),
            }
        )
    return sorted(
        rows, key=lambda row: (row["controller"], row["output"] or 0, row["label"], row["station"])
    )


def sheet_csv(stored: StoredNight, ground: Ground, settings: Settings) -> str:
    """The sheet as CSV, one line per cycle; local clock times, whole minutes."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(SHEET_COLUMNS)
    for row in sheet_rows(stored.plan, ground, settings):
        fixed = [row[name] for name in ("controller", "output", "station", "label")]
        starts = zip(row["starts"], row["run_min"], strict=True)
        for number, (start, run_min) in enumerate(starts, 1):
            writer.writerow([stored.plan.night, *fixed, start, run_min, number, row["cycles"]])
    return out.getvalue()


def _state_line(stored: StoredNight) -> str:
    if stored.state != "approved":
        return f"{stored.state.upper()}, not approved: do not set controllers from this sheet."
    return f"Approved by {stored.approved_by}, edition {stored.edition}."


def _minutes(row: dict[str, Any]) -> str:
    each = row["run_min"]
    same = len(set(each)) == 1
    return f"{row['cycles']} × {each[0]}" if same else " + ".join(map(str, each))


def sheet_json(
    stored: StoredNight,
    ground: Ground,
    settings: Settings,
    *,
    cost: Sequence[str] = (),
    changes: Sequence[str] = (),
) -> dict[str, Any]:
    """The sheet as a document: heading facts, what changes, then one block per controller.

    `cost` is what `cost_words` says of the night and `changes` what `change_lines` says, where
    they are to stand on it.
    """
    night, zone, units = stored.plan, settings.site.timezone, settings.site.units
    blocks: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for row in sheet_rows(night, ground, settings):
        blocks[row["controller"]].append(row)
    labels = station_labels(ground)
    left = [
        {
            "label": labels.get(item.station, item.station),
            "owed_min": item.owed_min,
            "reason": item.reason,
        }
        for item in night.left_out
    ]
    return {
        "club": settings.site.name,
        "invented": settings.site.invented,
        "night": night.night.isoformat(),
        "state": _state_line(stored),
        "window": f"{clock(night, 0, zone)}–{clock(night, night.window.minutes, zone)}",
        "finish": clock(night, night.finish_min, zone),
        "volume": shown(night.volume_m3, "m3", units),
        "stations": sum(len(rows) for rows in blocks.values()),
        "cost": " ".join(cost),
        "controllers": [{"controller": name, "rows": rows} for name, rows in blocks.items()],
        "left_out": left,
        "changes": list(changes),
    }


def _printed(document: dict[str, Any]) -> dict[str, Any]:
    """The same sheet with each row as the four texts that are printed."""
    blocks = [
        {
            "title": name
            if (name := block["controller"]) == NO_CONTROLLER
            else f"Controller {name}",
            "rows": [
                [row["label"], _text(row["output"], "–"), "  ".join(row["starts"]), _minutes(row)]
                for row in block["rows"]
            ],
        }
        for block in document["controllers"]
    ]
    left = [[row["label"], str(row["owed_min"]), row["reason"]] for row in document["left_out"]]
    return {**document, "controllers": blocks, "left_out": left}


def sheet_pdf(
    stored: StoredNight,
    ground: Ground,
    settings: Settings,
    *,
    cost: Sequence[str] = (),
    changes: Sequence[str] = (),
) -> bytes:
    """The sheet as a printable PDF, a new page for each controller; the rest as `sheet_json`."""
    template = files("nightwater.desk").joinpath("sheet.typ").read_bytes()
    told = sheet_json(stored, ground, settings, cost=cost, changes=changes)
    document = json.dumps(_printed(told))
    pdf: bytes = typst.compile(template, sys_inputs={"sheet": document})
    return pdf
