"""How each operation is written: its keys, and which of them name rows."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from nightwater.ground.edits import reading


@dataclass(frozen=True)
class Form:
    """How an operation is written.

    Attributes:
        needed, more: key → how its value is read; the second may be left away.
        names: key → table of the rows that it names; "" where the operation says the table.
        makes: whether it makes rows.
    """

    needed: Mapping[str, reading.Reader]
    more: Mapping[str, reading.Reader] = field(default_factory=dict)
    names: Mapping[str, str] = field(default_factory=dict)
    makes: bool = False

    @property
    def keys(self) -> Mapping[str, reading.Reader]:
        """Every key that the operation may have."""
        return {**self.needed, **self.more}


_TABLE: Final = {"table": reading.text}
_IDS: Final = {"ids": reading.texts}
FORMS: Final[Mapping[str, Form]] = {
    "add": Form(
        {**_TABLE, "values": reading.named_values},
        {"id": reading.text_or_none, "geometry": reading.geometry_or_none},
        makes=True,
    ),
    "set": Form({**_TABLE, **_IDS, "values": reading.named_values}, names={"ids": ""}),
    "move": Form(
        {**_TABLE, **_IDS, "dx_m": reading.number, "dy_m": reading.number}, names={"ids": ""}
    ),
    "reshape": Form({**_TABLE, "id": reading.text, "geometry": reading.geometry}, names={"id": ""}),
    "remove": Form({**_TABLE, **_IDS}, names={"ids": ""}),
    "split": Form(
        {**_TABLE, "id": reading.text, "line": reading.points}, names={"id": ""}, makes=True
    ),
    "merge": Form({**_TABLE, **_IDS}, names={"ids": ""}),
    "copy_arc": Form({"from": reading.text, **_IDS}, names={"from": "heads", "ids": "heads"}),
    "turn": Form(
        _IDS,
        {"bearing_deg": reading.number_or_none, "by_deg": reading.number_or_none},
        names={"ids": "heads"},
    ),
    "assign": Form(
        {**_IDS, "station": reading.text_or_none},
        names={"ids": "heads", "station": "stations"},
    ),
    "place_along": Form(
        {"line": reading.points, "spacing_m": reading.number, "like": reading.text},
        names={"like": "heads"},
        makes=True,
    ),
    "renumber": Form(
        {"hole": reading.text},
        {"heads": reading.texts, "stations": reading.texts},
        names={"heads": "heads", "stations": "stations"},
    ),
}
