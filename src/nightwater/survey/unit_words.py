"""Names of columns in plain form, and the unit that a header says at its end."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from nightwater.ground.columns import Column
from nightwater.units import UNITS


def plain_name(name: str) -> str:
    """A header in lower case with underscores: 'Flow [L/s]' → 'flow_l_s'."""
    return re.sub(r"[^a-z0-9]+", "_", name.strip().lower()).strip("_")


_SPELT: Final = {
    "feet": "ft",
    "foot": "ft",
    "inch": "in",
    "inches": "in",
    "metres": "m",
    "meters": "m",
    "yards": "yd",
    "lps": "L/s",
    "l_s": "L/s",
    "lpm": "L/min",
    "l_min": "L/min",
    "degrees": "deg",
    "percent": "pct",
    "sec": "s",
    "seconds": "s",
    "minutes": "min",
    "hours": "h",
    "acres": "acre",
}
UNIT_WORDS: Final[Mapping[str, str]] = {
    **{plain_name(symbol): symbol for symbol in UNITS},
    **_SPELT,
}


def parted(theirs: str) -> tuple[str, str | None]:
    """A header without the unit that it ends in, and that unit: 'Throw ft' → throw, ft.

    A header that is a unit alone ('GPM') leaves "".
    """
    words = plain_name(theirs).split("_")
    for start in range(len(words)):
        unit = UNIT_WORDS.get("_".join(words[start:]))
        if unit is not None:
            return "_".join(words[:start]), unit
    return "_".join(words), None


def declared_unit(theirs: str, column: Column) -> str | None:
    """The unit that a header ends in, where the column can be in it."""
    unit = parted(theirs)[1]
    return unit if unit is not None and UNITS[unit].quantity == column.quantity else None
