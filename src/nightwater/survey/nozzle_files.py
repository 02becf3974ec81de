"""Nozzle tables: several rows a nozzle, one for each pressure, or one for each can of a leg."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import pandas as pd

from nightwater.findings import Finding, error
from nightwater.ground.columns import Column, Table, number
from nightwater.survey.cells import BadCellError, cell_value, is_missing
from nightwater.survey.columns import Match, Matching
from nightwater.survey.source_files import SourceRows, bad_row

NOZZLES: Final = "nozzles"
NOZZLE_ID_NAMES: Final = ("nozzle", "nozzle_id")
_CURVE: Final = ("pressure_kpa", "flow_l_s", "radius_m")
_LEG: Final = ("distance_m", "rate_mm_h")
_LEG_COLUMNS: Final = (
    number("distance_m", "How far a can of a measured leg stood.", "length", 0, 60, required=True),
    number("rate_mm_h", "Rate in that can.", "rate", 0, 500, required=True),
)


def with_leg_columns(table: Table) -> Table:
    """The table of nozzles with the columns of a leg file; any other table as it is."""
    if table.name != NOZZLES:
        return table
    return replace(table, columns=(*table.columns, *_LEG_COLUMNS))


@dataclass(frozen=True)
class Gathered:
    """A nozzle file with one row a nozzle.

    Attributes:
        rows: the first row of each nozzle, with what the others add.
        matches: of its columns, those of the leg's cans replaced by the leg.
        findings: rows that cannot be read, or that contradict one another.
    """

    rows: SourceRows
    matches: tuple[Match, ...]
    findings: tuple[Finding, ...]


@dataclass
class _Curve:
    """Points of one nozzle, by their first number."""

    points: dict[float, tuple[float, ...]] = field(default_factory=dict)

    def adds(self, point: tuple[float, ...]) -> bool:
        """Take a point; False where another of the same place says otherwise."""
        return self.points.setdefault(point[0], point) == point

    def words(self, skipped: int) -> str | None:
        """The points as the record writes them, without the first few."""
        entries = [":".join(f"{part:.6g}" for part in point) for point in self.points.values()]
        return " ".join(entries[skipped:]) or None


@dataclass
class _Nozzle:
    """What the rows of one nozzle say together."""

    first: int
    curve: _Curve = field(default_factory=_Curve)
    leg: _Curve = field(default_factory=_Curve)


class _Reader:
    """Reads the curves of a nozzle file's rows."""

    def __init__(self, rows: SourceRows, table: Table, matches: Sequence[Match], name: str) -> None:
        self._rows, self._declared, self.name = rows, table.by_name, name
        self._by_ours = {match.ours: match for match in matches}
        self._records = rows.cells.to_dict("records")
        self.findings: list[Finding] = []
        self.nozzles: dict[str, _Nozzle] = {}
        self._refused: dict[str, list[tuple[int, Finding]]] = {}

    def has(self, ours: Sequence[str]) -> bool:
        """Whether the file fills all of these columns."""
        return all(name in self._by_ours for name in ours)

    def _value(self, position: int, column: Column) -> Any:
        match = self._by_ours[column.name]
        cell = self._records[position][match.theirs]
        return cell_value(cell, column, match.unit, decimal_comma=self._rows.decimal_comma)

    def _point(self, position: int, names: Sequence[str]) -> tuple[float, ...]:
        """Numbers of a row, in the record's units; raises BadCellError."""
        return tuple(float(self._value(position, self._declared[name])) for name in names)

    def take(self, position: int, identity: str) -> None:
        """Add one row to its nozzle."""
        place = self._rows.places[position]
        try:
            points = {
                names: self._point(position, names) for names in (_CURVE, _LEG) if self.has(names)
            }
        except BadCellError as reason:
            doubt = bad_row(self.name, f"{place} ({identity})", str(reason))
            self._refused.setdefault(identity, []).append((position, doubt))
            return
        nozzle = self.nozzles.setdefault(identity, _Nozzle(position))
        for names, point in points.items():
            curve = nozzle.curve if names == _CURVE else nozzle.leg
            if not curve.adds(point):
                what = f"{names[0]} {point[0]:.6g}"
                self._contradicts(identity, place, what, nozzle.first)
        for ours, match in self._by_ours.items():
            if ours not in (*_CURVE, *_LEG) and self._differs(position, nozzle.first, match):
                self._contradicts(identity, place, ours, nozzle.first)

    def close(self) -> list[int]:
        """Tell of the rows that could not be read; of a nozzle that has none but such, the first
        stays in the file, so that the nozzle does not seem to be gone."""
        stay = []
        for identity, doubts in self._refused.items():
            gone = identity not in self.nozzles
            stay += [doubts[0][0]] if gone else []
            told_later = gone and not self.has(_LEG)  # as any row that cannot be read
            self.findings += [doubt for _, doubt in doubts[1 if told_later else 0 :]]
        return stay

    def _differs(self, position: int, first: int, match: Match) -> bool:
        here, there = (self._records[row][match.theirs] for row in (position, first))
        return not is_missing(here) and not is_missing(there) and here != there

    def _contradicts(self, identity: str, place: str, what: str, first: int) -> None:
        self.findings.append(
            error(
                "nozzle-rows-contradict",
                f"file:{self.name}",
                f"{self.name}, {place}: nozzle '{identity}' says something else of {what} than "
                f"an earlier of its rows, from {self._rows.places[first]} on; the earlier was "
                "taken.",
                "Keep one row for each pressure or can, and give different nozzles their own ids.",
            )
        )


def gathered(
    rows: SourceRows,
    table: Table,
    matching: Matching,
    identities: Sequence[str | None],
    name: str,
) -> Gathered:
    """One row for each nozzle of a file that gives it several.

    The first row of a nozzle is its reference point; flow and throw at the other pressures
    become its performance, cans its leg. Rows without an id are left as they are.

    Args:
        rows: the file.
        table: nozzles, `with_leg_columns`.
        matching: of the file's columns.
        identities: id of each row as the file gives it.
        name: the file's name, for messages.
    """
    matches = matching.matches
    reader = _Reader(rows, table, matches, name)
    repeated = {one for one, count in Counter(identities).items() if one is not None and count > 1}
    legs, curves = reader.has(_LEG), reader.has(_CURVE)
    own = {match.ours for match in matches}
    left = tuple(match for match in matches if match.ours not in _LEG)
    incomplete = _incomplete(own, name)
    if matching.unitless and not legs and not curves:
        # Its points come with the unit that is asked for; till then a nozzle is its first row.
        firsts = [n for n, one in enumerate(identities) if one is None or one not in identities[:n]]
        return Gathered(_picked(rows, firsts, {}), left, ())
    if not legs and not (repeated and curves):
        return Gathered(rows, left, incomplete)
    loose = []
    for position, identity in enumerate(identities):
        if identity is not None and (legs or identity in repeated):
            reader.take(position, identity)
        else:
            loose.append(position)
    loose += reader.close()
    added = {}
    if curves and "performance" not in own:
        added["performance"] = {n.first: n.curve.words(1) for n in reader.nozzles.values()}
    if legs and "leg" not in own:
        added["leg"] = {n.first: n.leg.words(0) for n in reader.nozzles.values()}
    kept = sorted([*loose, *(nozzle.first for nozzle in reader.nozzles.values())])
    fewer = _picked(rows, kept, added)
    left += tuple(Match(_heading(ours), ours, None) for ours in added)
    return Gathered(fewer, left, (*incomplete, *reader.findings))


def _heading(ours: str) -> str:
    """A heading that no file has by chance."""
    return f"{ours} of all rows"


def _picked(
    rows: SourceRows, kept: list[int], added: Mapping[str, Mapping[int, str | None]]
) -> SourceRows:
    cells: pd.DataFrame = rows.cells.iloc[kept].copy()
    for ours, words in added.items():
        cells[_heading(ours)] = pd.Series(
            [words.get(row) for row in kept], cells.index, dtype=object
        )
    shapes = None if rows.shapes is None else tuple(rows.shapes[row] for row in kept)
    places = tuple(rows.places[row] for row in kept)
    return replace(rows, cells=cells, places=places, shapes=shapes)


def _incomplete(own: set[str], name: str) -> tuple[Finding, ...]:
    """A doubt where a leg file has distances without rates, or the other way round."""
    present = [ours for ours in _LEG if ours in own]
    if len(present) != 1:
        return ()
    (missing,) = set(_LEG) - set(present)
    found = error(
        "leg-incomplete",
        f"file:{name}",
        f"{name} has {present[0]} and no {missing}, so no leg was read.",
        f"Add the other column, or say which it is with --column 'Theirs={missing}'.",
    )
    return (found,)
