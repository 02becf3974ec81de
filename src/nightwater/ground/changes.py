"""Changes to the record as plain values, so that they can be kept, shown and reverted."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import pandas as pd
import shapely

from nightwater.ground.columns import Kind, Table

Plain = Mapping[str, Any]  # column → text, number, bool or None; "geometry" → WKB in hex


@dataclass(frozen=True)
class RowChange:
    """One row before and after; None before is an addition, None after a removal."""

    table: str
    id: str
    before: Plain | None
    after: Plain | None

    def reverted(self) -> RowChange:
        """The change that takes this one back."""
        return RowChange(self.table, self.id, self.after, self.before)


Changes = tuple[RowChange, ...]


def plain_value(value: Any, kind: Kind) -> Any:
    """A cell as a plain Python value; missing becomes None."""
    if value is None or pd.isna(value):
        return None
    if kind is Kind.INTEGER:
        return int(value)
    if kind is Kind.NUMBER:
        return float(value)
    return bool(value) if kind is Kind.YES_NO else str(value)


def _geometry_hex(rows: pd.DataFrame) -> list[str | None]:
    if not isinstance(rows, gpd.GeoDataFrame):
        return [None] * len(rows)
    shapes = rows.geometry.to_numpy()
    coded = shapely.to_wkb(shapes, hex=True, output_dimension=2)
    return [text if text is not None else None for text in coded]


def plain_rows(rows: pd.DataFrame, table: Table) -> dict[str, dict[str, Any]]:
    """The rows of a conformed table as plain values, by id."""
    columns = {
        column.name: [plain_value(value, column.kind) for value in rows[column.name]]
        for column in table.columns
    }
    if table.shape is not None:
        columns["geometry"] = _geometry_hex(rows)
    names, ids = list(columns), [str(identity) for identity in rows.index]
    cells = zip(*columns.values(), strict=True) if columns else ([] for _ in ids)
    return {
        identity: dict(zip(names, row, strict=True))
        for identity, row in zip(ids, cells, strict=True)
    }


def summary(changes: Iterable[RowChange]) -> str:
    """How many rows of which table were added, changed and removed, in words."""
    counts: dict[tuple[str, str], int] = {}
    for change in changes:
        if change.before is None:
            verb = "added"
        else:
            verb = "removed" if change.after is None else "changed"
        counts[change.table, verb] = counts.get((change.table, verb), 0) + 1
    parts = [f"{count} {table} {verb}" for (table, verb), count in sorted(counts.items())]
    return ", ".join(parts) or "nothing"
