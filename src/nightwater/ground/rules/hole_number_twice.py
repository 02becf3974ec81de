"""Numbers that several holes carry."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked
from nightwater.ground.scopes import Scope

CODE: Final = "hole-number-twice"
SEVERITY: Final = Severity.WARNING
SCOPE: Final = Scope.BESIDE_HEADS


def find(linked: Linked) -> Iterator[Finding]:
    """Each such number once, at its first hole."""
    numbers = linked.ground.holes["number"].dropna().astype(int)
    for number, same in numbers[numbers.duplicated(keep=False)].groupby(numbers):
        first, *others = (str(identity) for identity in same.index)
        yield Finding(
            SEVERITY,
            CODE,
            f"holes:{first}",
            f"{len(same)} holes carry the number {number}: {', '.join([first, *others])}.",
            "Correct the numbers, or remove the hole of a neighbouring course.",
        )
