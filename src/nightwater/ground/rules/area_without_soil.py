"""Watered areas that name no soil."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked
from nightwater.ground.scopes import Scope

CODE: Final = "area-without-soil"
SEVERITY: Final = Severity.NOTE
SCOPE: Final = Scope.BESIDE_HEADS


def find(linked: Linked) -> Iterator[Finding]:
    """Each such area; one finding for all where none names any."""
    areas = linked.ground.areas
    lacking, all_lack = linked.watered_without("soil")
    fix = "Enter it on the area; until then loam is assumed."
    if all_lack:
        words = f"None of the {len(lacking)} watered areas names its soil."
        yield Finding(SEVERITY, CODE, "areas:*", words, fix)
        return
    for identity in lacking:
        words = f"{linked.name('areas', identity)} ({areas['kind'][identity]}) names no soil."
        yield Finding(SEVERITY, CODE, f"areas:{identity}", words, fix)
