"""Watered areas that name no grass."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked
from nightwater.ground.scopes import Scope

CODE: Final = "area-without-grass"
SEVERITY: Final = Severity.NOTE
SCOPE: Final = Scope.BESIDE_HEADS


def find(linked: Linked) -> Iterator[Finding]:
    """Each such area; one finding for all where none names any."""
    areas = linked.ground.areas
    lacking, all_lack = linked.watered_without("grass")
    fix = "Enter it on the area; until then cool-season grass is assumed."
    if all_lack:
        words = f"None of the {len(lacking)} watered areas names its grass."
        yield Finding(SEVERITY, CODE, "areas:*", words, fix)
        return
    for identity in lacking:
        words = f"{linked.name('areas', identity)} ({areas['kind'][identity]}) names no grass."
        yield Finding(SEVERITY, CODE, f"areas:{identity}", words, fix)
