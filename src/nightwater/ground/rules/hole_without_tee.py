"""Holes that have no tee."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.hole_parts import holes_lacking
from nightwater.ground.linked import Linked
from nightwater.ground.scopes import Scope

CODE: Final = "hole-without-tee"
SEVERITY: Final = Severity.NOTE
SCOPE: Final = Scope.BESIDE_HEADS


def find(linked: Linked) -> Iterator[Finding]:
    """Each such hole, on a course whose tees are surveyed."""
    yield from holes_lacking(linked, "tee", CODE, SEVERITY)
