"""A cell of somebody's file as a value of a column, or the reason why not."""

from __future__ import annotations

import math
from datetime import date, datetime
from typing import Any

import pandas as pd

from nightwater.ground.columns import Column, Kind
from nightwater.survey.columns import plain_name
from nightwater.survey.source_files import written_number
from nightwater.units import from_si, to_si

_MISSING = {"", "-", "--", "n/a", "na", "nan", "null", "none", "?"}
_YES = {"yes", "y", "true", "1", "open"}
_NO = {"no", "n", "false", "0", "closed"}


class BadCellError(Exception):
    """Why a cell has no value of its column, in words that follow 'because'."""


def is_missing(cell: Any) -> bool:
    """Whether a cell says that nothing is known."""
    if cell is None or cell is pd.NA or (isinstance(cell, float) and math.isnan(cell)):
        return True
    return isinstance(cell, str) and cell.strip().lower() in _MISSING


def _number(cell: Any, column: Column, *, decimal_comma: bool) -> float:
    if isinstance(cell, bool):
        raise BadCellError(f"{column.name} is '{cell}', which is no number")
    if isinstance(cell, str):
        try:
            number = written_number(cell, decimal_comma=decimal_comma)
        except ValueError:
            raise BadCellError(f"{column.name} is '{cell}', which is no number") from None
    else:
        try:
            number = float(cell)
        except (TypeError, ValueError, OverflowError):
            raise BadCellError(f"{column.name} is '{cell}', which is no number") from None
    if not math.isfinite(number):
        raise BadCellError(f"{column.name} is not finite")
    return number


def _shown_bound(bound: float, unit: str | None) -> str:
    return f"{bound:g}" if unit is None else f"{float(from_si(bound, unit)):.4g}"


def _within(value: float, column: Column, shown: str, unit: str | None = None) -> float:
    """The value, where it is plausible; the bounds are told in the file's own unit."""
    low, high = column.lowest, column.highest
    if low is not None and high is not None and not low <= value <= high:
        bounds = f"{_shown_bound(low, unit)} to {_shown_bound(high, unit)}"
        words = f"{shown}, outside {bounds}" + (f" {unit}" if unit else "")
        raise BadCellError(f"{column.name} is {words}")
    return value


def _quantity(cell: Any, column: Column, unit: str | None, *, decimal_comma: bool) -> float:
    number = _number(cell, column, decimal_comma=decimal_comma)
    if unit is None:
        return _within(number, column, f"{number:g}", None)
    value = float(to_si(number, unit))
    shown = f"{number:g} {unit}"
    # Conversion must not push a bound that is met out by a rounding error.
    rounded = _within(float(f"{value:.12g}"), column, shown, unit)
    return value if rounded not in (column.lowest, column.highest) else rounded


def _whole(cell: Any, column: Column, *, decimal_comma: bool) -> int:
    number = _number(cell, column, decimal_comma=decimal_comma)
    if number != int(number):
        raise BadCellError(f"{column.name} is {number:g}, not a whole number")
    return int(_within(number, column, f"{number:g}"))


def _choice(cell: Any, column: Column) -> str:
    text = plain_name(str(cell))
    if text not in column.choices:
        raise BadCellError(f"{column.name} is '{cell}', not one of {', '.join(column.choices)}")
    return text


def _yes_no(cell: Any, column: Column) -> bool:
    # A map layer gives 0 and 1 for no and yes where some rows know neither.
    text = f"{cell:g}" if isinstance(cell, float) else str(cell).strip().lower()
    if text in _YES or text in _NO:
        return text in _YES
    raise BadCellError(f"{column.name} is '{cell}'; write yes or no")


def _date(cell: Any, column: Column) -> str:
    if isinstance(cell, (datetime, date)):
        return cell.strftime("%Y-%m-%d")
    text = str(cell).strip()
    try:
        # A map layer writes a calendar date as midnight.
        return date.fromisoformat(text.removesuffix("T00:00:00")).isoformat()
    except ValueError:
        raise BadCellError(f"{column.name} is '{cell}', not a date like 2026-07-14") from None


def _text(cell: Any) -> str:
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return str(cell).strip()


def cell_value(cell: Any, column: Column, unit: str | None, *, decimal_comma: bool) -> Any:
    """The value of a cell in the inside unit, or None where it is missing.

    Raises:
        BadCellError: with the reason.
    """
    if is_missing(cell):
        if column.required:
            raise BadCellError(f"{column.name} is missing")
        return None
    if column.kind is Kind.NUMBER:
        return _quantity(cell, column, unit, decimal_comma=decimal_comma)
    if column.kind is Kind.INTEGER:
        return _whole(cell, column, decimal_comma=decimal_comma)
    if column.kind is Kind.YES_NO:
        return _yes_no(cell, column)
    if column.kind is Kind.DATE:
        return _date(cell, column)
    return _choice(cell, column) if column.choices else _text(cell)
