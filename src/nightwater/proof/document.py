"""A proof as a JSON document, and back."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, fields
from datetime import date, datetime
from typing import Any, Final, TypeVar, get_type_hints

from nightwater.findings import Finding, Severity, UserError
from nightwater.proof.result import AreaProof, Block, Proof, Rescue, StationProof, Verdict

Document = dict[str, Any]
Row = TypeVar("Row")

_ROWS: Final = {
    "stations": StationProof,
    "areas": AreaProof,
    "blocks": Block,
    "rescue": Rescue,
}
_SERIES: Final = ("planned_l_s", "commanded_l_s", "metered_l_s")


def _plain(value: Any) -> Any:
    """A value as JSON knows it: missing numbers null, dates and instants as ISO text."""
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if isinstance(value, date | datetime):
        return value.isoformat()
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    return str(value) if isinstance(value, Verdict | Severity) else value


def proof_to_document(proof: Proof) -> Document:
    """A proof as plain values that `json.dumps` takes; every number has its unit in its key."""
    document: Document = _plain(asdict(proof))
    return document


def _row(kind: type[Row], values: Mapping[str, Any]) -> Row:
    """One dataclass from its object; null is NaN where a number is meant."""
    hints = get_type_hints(kind)
    given = {
        name: math.nan if hints[name] is float and value is None else value
        for name, value in values.items()
    }
    if "verdict" in given:
        given["verdict"] = Verdict(str(given["verdict"]))
    return kind(**given)


def _read(document: Mapping[str, Any]) -> Proof:
    values = dict(document)
    for name, kind in _ROWS.items():
        values[name] = tuple(_row(kind, row) for row in values[name])
    for name in _SERIES:
        values[name] = tuple(math.nan if flow is None else float(flow) for flow in values[name])
    values["findings"] = tuple(
        Finding(**{**row, "severity": Severity(row["severity"])}) for row in values["findings"]
    )
    values["night"] = date.fromisoformat(values["night"])
    for name in ("start", "first_tee"):
        values[name] = datetime.fromisoformat(values[name])
    return _row(Proof, values)


def proof_from_document(document: Mapping[str, Any]) -> Proof:
    """The inverse of `proof_to_document`.

    Raises:
        UserError: the document is not a proof that this version wrote.
    """
    known = {item.name for item in fields(Proof)}
    missing, unknown = known - set(document), set(document) - known
    if missing or unknown:
        wrong = ", ".join(sorted(missing) + [f"{key} (unknown)" for key in sorted(unknown)])
        raise UserError(f"This proof document cannot be read: {wrong}. Prove the night again.")
    try:
        return _read(document)
    except (KeyError, TypeError, ValueError) as problem:
        raise UserError(
            f"This proof document cannot be read: {problem}. Prove the night again."
        ) from None
