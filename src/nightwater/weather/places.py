"""How a finding about weather names its rows."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from nightwater.weather.marks import Rows


def row_name(label: Any) -> str:
    """A row's date or UTC instant in ISO 8601."""
    if isinstance(label, pd.Timestamp) and label.tzinfo is not None:
        return label.tz_convert("UTC").strftime("%Y-%m-%dT%H:%MZ")
    return str(label)[:16]


def counted(where: Rows, index: pd.Index, noun: str) -> str:
    """How many rows and which is first, for instance "3 hours (the first: 2013-02-12T08:00Z)"."""
    rows = np.flatnonzero(where)
    if len(rows) == 1:
        return f"1 {noun} ({row_name(index[rows[0]])})"
    return f"{len(rows):,} {noun}s (the first: {row_name(index[rows[0]])})"


def several(count: int, noun: str) -> str:
    """A count with its noun."""
    return f"{count:,} {noun}" + ("" if count == 1 else "s")
