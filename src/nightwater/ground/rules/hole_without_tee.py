"""Holes that have no tee."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked
from nightwater.ground.scopes import Scope

CODE: Final = "hole-without-tee"
SEVERITY: Final = Severity.NOTE
SCOPE: Final = Scope.BESIDE_HEADS


def find(linked: Linked) -> Iterator[Finding]:
    """Each such hole, on a course whose tees are surveyed."""
    for identity in linked.holes_without("tee"):
        yield Finding(
            SEVERITY,
            CODE,
            f"holes:{identity}",
            f"No tee was found for {linked.name('holes', identity)}.",
            "Survey its tee, name the hole on it, or correct the line of play.",
        )
