"""Numbers of the full nine or eighteen that no hole carries."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import pandas as pd

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked
from nightwater.ground.scopes import Scope

CODE: Final = "hole-number-left-out"
SEVERITY: Final = Severity.NOTE
SCOPE: Final = Scope.BESIDE_HEADS


def _course_length(numbers: pd.Series[int]) -> int:
    """Nine, eighteen … holes: the next full nine that holds the highest number."""
    return -(-int(numbers.max()) // 9) * 9 if len(numbers) else 0


def find(linked: Linked) -> Iterator[Finding]:
    """Each such number; the subject is the number, as there is no row."""
    numbers = linked.ground.holes["number"].dropna().astype(int)
    for number in sorted(set(range(1, _course_length(numbers) + 1)) - set(numbers)):
        yield Finding(
            SEVERITY,
            CODE,
            f"holes:{number}",
            f"No hole carries the number {number}.",
            "Survey the hole, or correct the numbers of the others.",
        )
