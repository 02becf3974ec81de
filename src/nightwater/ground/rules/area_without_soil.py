"""Watered areas that name no soil."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked
from nightwater.ground.tables import WATERED_KINDS

CODE: Final = "area-without-soil"
SEVERITY: Final = Severity.NOTE


def find(linked: Linked) -> Iterator[Finding]:
    """Each such area; one finding for all where none names any."""
    areas = linked.ground.areas
    watered = areas[areas["kind"].isin(WATERED_KINDS)]
    lacking = watered.index[watered["soil"].isna()]
    fix = "Enter it on the area; until then loam is assumed."
    if len(lacking) == len(watered) > 1:
        words = f"None of the {len(watered)} watered areas names its soil."
        yield Finding(SEVERITY, CODE, "areas:*", words, fix)
        return
    for identity in lacking:
        words = f"{linked.name('areas', identity)} ({areas['kind'][identity]}) names no soil."
        yield Finding(SEVERITY, CODE, f"areas:{identity}", words, fix)
