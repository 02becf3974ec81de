"""Holes without a number on the card."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked
from nightwater.ground.scopes import Scope

CODE: Final = "hole-without-number"
SEVERITY: Final = Severity.NOTE
SCOPE: Final = Scope.BESIDE_HEADS


def find(linked: Linked) -> Iterator[Finding]:
    """Each such hole."""
    holes = linked.ground.holes
    for identity in holes.index[holes["number"].isna()]:
        yield Finding(
            SEVERITY,
            CODE,
            f"holes:{identity}",
            f"{linked.name('holes', identity)} has no number on the card.",
            "Enter it; names of greens and tees on the ground usually tell it.",
        )
