"""Shapes that a sheet holds in pieces because they are longer than a cell, joined again."""

from __future__ import annotations

import re
from typing import Final

import pandas as pd

_FIRST: Final = "wkt"
_PIECE: Final = re.compile(r"wkt_(\d+)")


def with_joined_shapes(cells: pd.DataFrame) -> pd.DataFrame:
    """The cells with `wkt_2`, `wkt_3` … put to the end of `wkt`; others are left as they are."""
    numbers = {str(name): _PIECE.fullmatch(str(name)) for name in cells.columns}
    pieces = sorted((int(found[1]), name) for name, found in numbers.items() if found)
    if _FIRST not in cells or not pieces:
        return cells
    joined = cells[_FIRST].where(cells[_FIRST].notna(), "")
    for _, name in pieces:
        joined = joined + cells[name].where(cells[name].notna(), "")
    left = cells.drop(columns=[name for _, name in pieces])
    return left.assign(**{_FIRST: joined.where(joined != "", None)})
