"""Turf that no head waters, on a course whose heads are surveyed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked
from nightwater.ground.tables import WATERED_KINDS

CODE: Final = "area-without-heads"
SEVERITY: Final = Severity.NOTE


def find(linked: Linked) -> Iterator[Finding]:
    """Each watered area that is no head's."""
    if linked.heads.empty:
        return
    watered = set(linked.heads["area"].dropna())
    kinds = linked.ground.areas["kind"]
    for identity in kinds.index[kinds.isin(WATERED_KINDS)]:
        if identity not in watered:
            yield Finding(
                SEVERITY,
                CODE,
                f"areas:{identity}",
                f"No head waters {linked.name('areas', identity)} ({kinds[identity]}).",
                "Survey its heads, or call it native ground if it is not watered.",
            )
