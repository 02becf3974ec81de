"""Holes that lack a part of themselves."""

from __future__ import annotations

from collections.abc import Iterator

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked


def holes_lacking(linked: Linked, kind: str, code: str, severity: Severity) -> Iterator[Finding]:
    """Each hole without an area of a kind, on a course that has such areas at all."""
    for identity in linked.holes_without(kind):
        yield Finding(
            severity,
            code,
            f"holes:{identity}",
            f"No {kind} was found for {linked.name('holes', identity)}.",
            f"Survey its {kind}, name the hole on it, or correct the line of play.",
        )
