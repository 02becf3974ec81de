"""What a table of the record is made of: columns with unit, meaning and bounds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final


class Kind(StrEnum):
    """The kinds of value a column can hold."""

    TEXT = "text"
    INTEGER = "integer"
    NUMBER = "number"
    YES_NO = "yes_no"
    DATE = "date"  # ISO 8601 calendar date of the course's local time
    INSTANT = "instant"  # ISO 8601 UTC instant, to the second
    DOCUMENT = "document"  # JSON text


class Shape(StrEnum):
    """The kinds of geometry a table can hold."""

    POINT = "Point"
    LINE = "MultiLineString"
    POLYGON = "MultiPolygon"


@dataclass(frozen=True)
class Column:
    """One column of a table.

    Attributes:
        name: what it is called everywhere; a number ends in its unit.
        kind: the kind of value.
        meaning: one sentence for docs, forms and the JSON Schema.
        quantity: name of the quantity in `units.UNITS`, for a number with a unit.
        lowest, highest: bounds of a plausible value, inclusive.
        required: whether a row without it is refused.
        choices: the allowed values of a text.
        refers_to: the table whose id this column holds.
    """

    name: str
    kind: Kind
    meaning: str
    quantity: str | None = None
    lowest: float | None = None
    highest: float | None = None
    required: bool = False
    choices: tuple[str, ...] = ()
    refers_to: str | None = None


@dataclass(frozen=True)
class Table:
    """One table of the record; `id` (stable text) is its key and is not listed.

    `running` tables grow by the day (weather, nights …) and are not surveyed.
    """

    name: str
    meaning: str
    columns: tuple[Column, ...]
    shape: Shape | None = None
    running: bool = False

    @property
    def by_name(self) -> Mapping[str, Column]:
        """The columns by their name."""
        return {column.name: column for column in self.columns}


EVIDENCE: Final = ("surveyed", "drawing", "guessed")


def text(name: str, meaning: str, **more: object) -> Column:
    """A text column."""
    return Column(name, Kind.TEXT, meaning, **more)  # type: ignore[arg-type]


def number(
    name: str,
    meaning: str,
    quantity: str | None,
    lowest: float | None,
    highest: float | None,
    **more: object,
) -> Column:
    """A number with its quantity and plausible bounds."""
    return Column(name, Kind.NUMBER, meaning, quantity, lowest, highest, **more)  # type: ignore[arg-type]


def whole(name: str, meaning: str, lowest: float, highest: float, **more: object) -> Column:
    """A whole number with plausible bounds."""
    return Column(name, Kind.INTEGER, meaning, None, lowest, highest, **more)  # type: ignore[arg-type]


def choice(name: str, meaning: str, choices: tuple[str, ...], **more: object) -> Column:
    """A text out of a fixed set."""
    return Column(name, Kind.TEXT, meaning, choices=choices, **more)  # type: ignore[arg-type]


def link(name: str, meaning: str, table: str, **more: object) -> Column:
    """The id of a row of another table."""
    return Column(name, Kind.TEXT, meaning, refers_to=table, **more)  # type: ignore[arg-type]


LABEL: Final = text("label", "What people call it; may change, the id never does.")
