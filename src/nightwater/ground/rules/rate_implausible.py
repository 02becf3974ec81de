"""Heads whose flow over their share of the ground is no sprinkler's rate."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked, rows_where

CODE: Final = "rate-implausible"
SEVERITY: Final = Severity.WARNING
LEAST_RATE_MM_H: Final = 2.0
MOST_RATE_MM_H: Final = 60.0  # small rotors to half circles with a full nozzle


def find(linked: Linked) -> Iterator[Finding]:
    """Each head whose rate lies outside what sprinklers do."""
    heads = linked.heads.assign(cell_m2=linked.cell_m2, rate_mm_h=linked.rate_mm_h)
    rate = heads["rate_mm_h"]
    for identity, row in rows_where(heads, (rate < LEAST_RATE_MM_H) | (rate > MOST_RATE_MM_H)):
        yield Finding(
            SEVERITY,
            CODE,
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} would water {row['rate_mm_h']:.1f} mm/h "
            f"({row['flow_l_s']:.2f} L/s on {row['cell_m2']:.0f} m²); "
            f"{LEAST_RATE_MM_H:g} to {MOST_RATE_MM_H:g} mm/h is usual.",
            "Check nozzle, arc and spacing, and the units they were read in.",
        )
