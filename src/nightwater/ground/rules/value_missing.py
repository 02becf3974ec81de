"""Required columns without a value."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked
from nightwater.ground.tables import GROUND_TABLES, TABLES

CODE: Final = "value-missing"
SEVERITY: Final = Severity.ERROR


def find(linked: Linked) -> Iterator[Finding]:
    """Each missing value of each row."""
    for name in GROUND_TABLES:
        rows = linked.ground.table(name)
        for column in TABLES[name].columns:
            if not column.required:
                continue
            for identity in rows.index[rows[column.name].isna()]:
                yield Finding(
                    SEVERITY,
                    CODE,
                    f"{name}:{identity}",
                    f"{linked.name(name, identity)} in {name} has no {column.name}.",
                    f"Enter it; it means: {column.meaning}",
                )
