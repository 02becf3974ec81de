"""Heads whose flow nobody can tell."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked, rows_where

CODE: Final = "head-without-flow"
SEVERITY: Final = Severity.ERROR


def find(linked: Linked) -> Iterator[Finding]:
    """Each head with neither a nozzle's flow nor a measured one."""
    heads = linked.heads
    for identity, row in rows_where(heads, heads["flow_l_s"].isna()):
        lacks = "a nozzle without flow" if isinstance(row["nozzle"], str) else "no nozzle"
        yield Finding(
            SEVERITY,
            CODE,
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} has {lacks} and no measured flow.",
            "Enter its nozzle; until then its station cannot be planned.",
        )
