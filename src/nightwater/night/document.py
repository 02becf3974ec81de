"""A night as a JSON document, and back: the file that scripts and people exchange.

A document that the tool wrote holds every key. One written by hand needs only `night`,
`window` and `runs`; what it leaves out is then unknown to the referee, which says so.
Schema: docs/schema/night.schema.json.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import MISSING, asdict, fields
from datetime import UTC, date, datetime, timedelta
from typing import Any, Final

from nightwater.findings import Finding, Severity, warning
from nightwater.night.hand_changes import (
    hold_from_row,
    hold_to_row,
    trim_to_row,
    trims_from_rows,
)
from nightwater.night.plan import Bound, LeftOut, Night, Pin, Run, StationSum, Window
from nightwater.night.reading import DocumentReader

Document = dict[str, Any]

REQUIRED_KEYS: Final = ("night", "window", "runs")
KEYS: Final = (
    "night",
    "window",
    "bound_min",
    "binding",
    "finish_min",
    "gap",
    "pump_l_s",
    "volume_m3",
    "runs",
    "left_out",
    "flow_l_s",
    "sums",
    "findings",
    "pins",
)
_WINDOW_KEYS: Final = ("start", "end")
_RUN_KEYS: Final = ("station", "start", "run_min", "cycle", "of_cycles")
_LEFT_OUT_KEYS: Final = ("station", "owed_min", "reason")
_PIN_KEYS: Final = ("station", "start", "author")
_FINDING_KEYS: Final = ("severity", "code", "subject", "message", "fix")


def clock(window: Window, minute: int) -> datetime:
    """The local instant of a minute of the night, right across a change of clocks.

    Args:
        window: the night's window.
        minute: minutes from its start; may lie outside it.
    """
    instant = window.start.astimezone(UTC) + timedelta(minutes=minute)
    return instant.astimezone(window.start.tzinfo)


def _plain(value: Any) -> Any:
    """JSON has no NaN: a missing number is null."""
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return list(value) if isinstance(value, tuple) else value


def _run_row(run: Run, window: Window) -> Document:
    row = {"station": run.station, "start": clock(window, run.start_min).isoformat()}
    return row | {"run_min": run.run_min, "cycle": run.cycle, "of_cycles": run.of_cycles}


def _left_out_row(left: LeftOut) -> Document:
    row = {"station": left.station, "owed_min": left.owed_min, "reason": left.reason}
    return row | {"hold": hold_to_row(left.hold)}


def _sum_row(row: StationSum) -> Document:
    values = {key: _plain(value) for key, value in asdict(row).items()}
    return values | {"trims": [trim_to_row(trim) for trim in values["trims"]]}


def night_to_document(night: Night) -> Document:
    """A night as plain values that `json.dumps` takes; missing numbers are null.

    Instants are ISO 8601 with the local offset; every other number has its unit in its
    key. `gap` and `volume_m3` follow from the rest and are given for the reader.
    """
    window = night.window
    return {
        "night": night.night.isoformat(),
        "window": {"start": window.start.isoformat(), "end": window.end.isoformat()},
        "bound_min": night.bound.minutes,
        "binding": night.bound.binding,
        "finish_min": night.finish_min,
        "gap": night.gap,
        "pump_l_s": _plain(night.pump_l_s),
        "volume_m3": night.volume_m3,
        "runs": [_run_row(run, window) for run in night.runs],
        "left_out": [_left_out_row(left) for left in night.left_out],
        "flow_l_s": [_plain(flow) for flow in night.flow_l_s],
        "sums": [_sum_row(row) for row in night.sums],
        "findings": [finding.as_row() for finding in night.findings],
        "pins": [
            {
                "station": pin.station,
                "start": clock(window, pin.start_min).isoformat(),
                "author": pin.author,
            }
            for pin in night.pins
        ],
    }


def _date(reader: DocumentReader, value: Any) -> date:
    try:
        return date.fromisoformat(value)
    except (TypeError, ValueError):
        reader.faults.append(f"'night' is {value!r}, not a date like 2026-07-14")
        return date.min


def _window(reader: DocumentReader, value: Any) -> Window | None:
    row = reader.mapping(value, "'window'", _WINDOW_KEYS, _WINDOW_KEYS)
    if row is None:
        return None
    start = reader.instant(row["start"], "window 'start'")
    end = reader.instant(row["end"], "window 'end'")
    if start is None or end is None:
        return None
    if end <= start:
        reader.faults.append(f"the window ends at {row['end']}, not after {row['start']}")
        return None
    return Window(start, end)


def _start_min(reader: DocumentReader, row: Mapping[str, Any], where: str, window: Window) -> int:
    start = reader.instant(row["start"], f"{where} 'start'")
    if start is None:
        return 0
    seconds = (start - window.start.astimezone(UTC)).total_seconds()
    if seconds % 60:
        reader.faults.append(
            f"{where} starts at {row['start']}, {seconds:g} s after the window's start, "
            "which is not a whole number of minutes"
        )
    return int(seconds // 60)


def _runs(reader: DocumentReader, document: Mapping[str, Any], window: Window) -> tuple[Run, ...]:
    return tuple(
        Run(
            reader.text(row, "station", where),
            _start_min(reader, row, where, window),
            reader.whole(row, "run_min", where),
            reader.whole(row, "cycle", where),
            reader.whole(row, "of_cycles", where),
        )
        for where, row in reader.rows(document, "runs", _RUN_KEYS, _RUN_KEYS)
    )


def _pins(reader: DocumentReader, document: Mapping[str, Any], window: Window) -> tuple[Pin, ...]:
    return tuple(
        Pin(
            reader.text(row, "station", where),
            _start_min(reader, row, where, window),
            reader.text(row, "author", where),
        )
        for where, row in reader.rows(document, "pins", _PIN_KEYS, _PIN_KEYS)
    )


def _left_out(reader: DocumentReader, document: Mapping[str, Any]) -> tuple[LeftOut, ...]:
    return tuple(
        LeftOut(
            reader.text(row, "station", where),
            reader.whole(row, "owed_min", where),
            reader.text(row, "reason", where),
            hold_from_row(reader, row.get("hold"), where),
        )
        for where, row in reader.rows(
            document, "left_out", (*_LEFT_OUT_KEYS, "hold"), _LEFT_OUT_KEYS
        )
    )


def _sum_value(
    reader: DocumentReader, row: Mapping[str, Any], name: str, kind: str, where: str
) -> Any:
    if name == "cycles_min":
        cycles = row[name] if isinstance(row[name], list) else [row[name]]
        return tuple(reader.whole({name: value}, name, where) for value in cycles)
    if name == "trims":
        return trims_from_rows(reader, row, where)
    readers: dict[str, Callable[[], Any]] = {
        "str": lambda: reader.text(row, name, where),
        "int": lambda: reader.whole(row, name, where),
        "float": lambda: reader.number(row[name], f"{where} '{name}'"),
    }
    return readers[kind]()


def _sums(reader: DocumentReader, document: Mapping[str, Any]) -> tuple[StationSum, ...]:
    kinds = {item.name: str(item.type) for item in fields(StationSum)}
    needed = [item.name for item in fields(StationSum) if item.default is MISSING]
    return tuple(
        StationSum(
            **{
                name: _sum_value(reader, row, name, kind, where)
                for name, kind in kinds.items()
                if name in row
            }
        )
        for where, row in reader.rows(document, "sums", tuple(kinds), needed)
    )


def _findings(reader: DocumentReader, document: Mapping[str, Any]) -> tuple[Finding, ...]:
    found = []
    for where, row in reader.rows(document, "findings", _FINDING_KEYS, _FINDING_KEYS):
        values = {key: reader.text(row, key, where) for key in _FINDING_KEYS}
        severity = values.pop("severity")
        if severity not in set(Severity):
            reader.faults.append(f"{where} 'severity' is {severity!r}, not error, warning or note")
        else:
            found.append(Finding(Severity(severity), **values))
    return tuple(found)


def _flow(reader: DocumentReader, document: Mapping[str, Any]) -> tuple[float, ...]:
    listed = document.get("flow_l_s", [])
    if not isinstance(listed, list):
        reader.faults.append("'flow_l_s' is not a list")
        return ()
    return tuple(
        reader.number(value, f"flow_l_s[{number}]") for number, value in enumerate(listed, 1)
    )


def _finish(reader: DocumentReader, document: Mapping[str, Any], runs: Sequence[Run]) -> int:
    last = max((run.start_min + run.run_min for run in runs), default=0)
    return reader.whole(document, "finish_min", "the document", last)


def night_from_document(document: Mapping[str, Any]) -> Night:
    """A night from its document; `gap` and `volume_m3` are derived anew.

    Args:
        document: what `json.load` gives. Only `night`, `window` and `runs` are needed;
            without the others there are no sums, no flow series, no pump flow (NaN),
            a bound of 0 minutes, and the finish is the end of the last run.

    Raises:
        UserError: one sentence with every fault: missing, unknown (with the nearest known
            key) or misshapen keys, instants without offset, minutes that are not whole.
    """
    reader = DocumentReader("night document")
    top = reader.mapping(document, "the document", KEYS, REQUIRED_KEYS)
    window = _window(reader, top["window"]) if top is not None else None
    if top is None or window is None:
        raise reader.error()
    runs = _runs(reader, top, window)
    binding = reader.text(top, "binding", "the document") if "binding" in top else ""
    night = Night(
        night=_date(reader, top["night"]),
        window=window,
        runs=runs,
        left_out=_left_out(reader, top),
        flow_l_s=_flow(reader, top),
        bound=Bound(reader.whole(top, "bound_min", "the document"), binding),
        finish_min=_finish(reader, top, runs),
        sums=_sums(reader, top),
        findings=_findings(reader, top),
        pump_l_s=reader.number(top.get("pump_l_s"), "'pump_l_s'"),
        pins=_pins(reader, top, window),
    )
    if reader.faults:
        raise reader.error()
    return night


def document_findings(document: Mapping[str, Any]) -> list[Finding]:
    """Whether the derived numbers of a readable document follow from the others.

    Raises:
        UserError: the document cannot be read.
    """
    night = night_from_document(document)
    told = {"gap": night.gap, "volume_m3": night.volume_m3}
    found = []
    for key, derived in told.items():
        value = document.get(key)
        if value is not None and not math.isclose(value, derived, rel_tol=1e-6, abs_tol=1e-6):
            found.append(
                warning(
                    "document-derived-wrong",
                    f"nights:{night.night.isoformat()}",
                    f"The document says {key} = {value:g}; its own numbers give {derived:g}.",
                    "Write the document anew from the plan; the value in it is not used.",
                )
            )
    return found
