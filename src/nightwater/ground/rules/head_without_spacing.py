"""Heads whose share of the ground nobody can tell."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked

CODE: Final = "head-without-spacing"
SEVERITY: Final = Severity.WARNING


def find(linked: Linked) -> Iterator[Finding]:
    """Each head that lacks spacing or row distance."""
    heads = linked.heads
    for identity in heads.index[heads["spacing_m"].isna() | heads["row_m"].isna()]:
        yield Finding(
            SEVERITY,
            CODE,
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} has no spacing or no row distance, so its "
            "rate is unknown.",
            "Enter the distance to the next head and between rows.",
        )
