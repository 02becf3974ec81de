"""Heads with no watered area at hand."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked

CODE: Final = "head-in-no-area"
SEVERITY: Final = Severity.WARNING


def find(linked: Linked) -> Iterator[Finding]:
    """Each head that stands in no watered area and reaches none."""
    for identity in linked.heads.index[linked.heads["how"] == ""]:
        yield Finding(
            SEVERITY,
            CODE,
            f"heads:{identity}",
            f"Head {linked.name('heads', identity)} stands in no watered area, and none lies "
            "within its throw.",
            "Draw the area, correct the head's place, or name its area on the head.",
        )
