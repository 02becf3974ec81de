"""Find stations by what a person types: "fairway 7", "7-14", "green"."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from nightwater.web.places import Named
from nightwater.web.tonight.rows import StationRow

MOST_HOLES: Final = 54  # as the record allows


@dataclass(frozen=True)
class Wish:
    """What the table is asked to show; empty or None asks for everything.

    Attributes:
        text: words that must all fit.
        kind: area kind.
        hole: number of a hole.
    """

    text: str = ""
    kind: str = ""
    hole: int | None = None


def _singular(word: str, kinds: Collection[str]) -> str:
    return word[:-1] if word.endswith("s") and word[:-1] in kinds else word


def fits_word(row: Named, word: str, kinds: Collection[str], holes: Collection[int]) -> bool:
    """Whether one word fits a station.

    A kind of area means that kind; a number up to 54 means that hole, where the record has
    holes; anything else must stand in the station's or the area's name.
    """
    word = _singular(word.lower(), kinds)
    if word in kinds:
        return row.kind == word
    if word == "hole":
        return row.hole is not None
    if holes and word.isdecimal() and int(word) <= MOST_HOLES:
        return row.hole == int(word)
    return word in f"{row.label} {row.station} {row.area_label} {row.area}".lower()


def matching(
    rows: Iterable[StationRow], wish: Wish, kinds: Collection[str], holes: Collection[int]
) -> list[StationRow]:
    """The stations that fit every part of a wish, in the order given."""
    words = wish.text.split()
    return [
        row
        for row in rows
        if (not wish.kind or row.kind == wish.kind)
        and (wish.hole is None or row.hole == wish.hole)
        and all(fits_word(row, word, kinds, holes) for word in words)
    ]


_KEYS: Final[Mapping[str, Callable[[StationRow], Any]]] = {
    "start": lambda row: (row.start_min is None, row.start_min or 0),
    "station": lambda row: natural(row.label),
    "area": lambda row: natural(row.area_label),
    "hole": lambda row: (row.hole is None, row.hole or 0),
    "need": lambda row: -row.need_mm if row.need_mm == row.need_mm else 1.0,
    "minutes": lambda row: -row.run_min,
    "flow": lambda row: -row.flow_l_s if row.flow_l_s == row.flow_l_s else 1.0,
}
ORDERS = tuple(_KEYS)


def natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """A key that puts 7-2 before 7-14."""
    parts: list[str] = []
    for letter in text.lower():
        if parts and letter.isdigit() == parts[-1][-1].isdigit():
            parts[-1] += letter
        else:
            parts.append(letter)
    return tuple((0, int(p), "") if p.isdecimal() else (1, 0, p) for p in parts)


def ordered(rows: Sequence[StationRow], order: str) -> list[StationRow]:
    """Stations by one of `ORDERS`, then by name; numbers largest first, times earliest first."""
    key = _KEYS.get(order, _KEYS["start"])
    return sorted(rows, key=lambda row: (key(row), natural(row.label)))
