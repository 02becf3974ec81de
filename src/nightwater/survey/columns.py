"""Which of a file's columns is which of ours, and in what unit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Final

from nightwater.findings import Finding, UserError, error, note
from nightwater.ground.columns import Column, Table
from nightwater.survey.trade_names import trade_match
from nightwater.survey.unit_words import declared_unit
from nightwater.survey.unit_words import plain_name as plain_name
from nightwater.units import UNITS, unit_named

INSIDE_SUFFIX: Final = {
    "length": "m",
    "depth": "mm",
    "area": "m2",
    "flow": "l_s",
    "volume": "m3",
    "pressure": "kpa",
    "rate": "mm_h",
    "temperature": "c",
    "speed": "m_s",
    "radiation": "mj_m2",
    "irradiance": "w_m2",
    "angle": "deg",
    "share": "pct",
    "duration": "min",
    "power": "kw",
}
ID_NAMES: Final = ("id", "@id", "osm_id", "fid_1", "identifier")


@dataclass(frozen=True)
class Match:
    """One of their columns: which of ours it fills, in which unit (None: ours, or none)."""

    theirs: str
    ours: str
    unit: str | None


@dataclass(frozen=True)
class Matching:
    """All matches of a file, and what could not be matched."""

    matches: tuple[Match, ...]
    findings: tuple[Finding, ...]

    @property
    def unitless(self) -> bool:
        """Whether a column was left out because its unit is not said."""
        return any(finding.code == "unit-not-declared" for finding in self.findings)


def _base(column: Column) -> str:
    suffix = INSIDE_SUFFIX.get(column.quantity or "", "")
    return column.name.removesuffix(f"_{suffix}") if suffix else column.name


def _unit_names(column: Column) -> dict[str, str]:
    """Every declared spelling of a column: 'radius_ft' → 'ft'."""
    return {f"{_base(column)}_{plain_name(symbol)}": symbol for symbol in fitting_units(column)}


def _check_units(column: Column, theirs: str, symbol: str) -> None:
    if unit_named(symbol).quantity != column.quantity:
        raise UserError(
            f"Column '{theirs}' fills {column.name}, which cannot be in {symbol}. "
            f"Units that fit: {', '.join(fitting_units(column)) or 'none'}."
        )


def check_wishes(
    header: Sequence[str], columns: Mapping[str, str], units: Mapping[str, str], table: Table
) -> None:
    """Refuse column and unit wishes that name nothing.

    Raises:
        UserError: with the nearest known name.
    """
    for theirs in (*columns, *units):
        if theirs not in header:
            raise UserError(f"The file has no column '{theirs}'.{_near(theirs, header)}")
    known = ["id", *table.by_name]
    for ours in columns.values():
        if ours not in known:
            raise UserError(f"Table {table.name} has no column '{ours}'.{_near(ours, known)}")


def _like(theirs: str, table: Table) -> str:
    near = get_close_matches(plain_name(theirs), table.by_name, 1)
    return f" The nearest is '{near[0]}'." if near else ""


def _near(name: str, known: Iterable[str]) -> str:
    near = get_close_matches(name, list(known), 1)
    return f" Did you mean '{near[0]}'?" if near else f" Known: {', '.join(known)}."


def column_named(theirs: str, table: Table) -> tuple[Column, str | None] | None:
    """Our column of that name and the unit its name declares.

    Returns:
        The column with the symbol of its unit, None where the name is wholly ours (and the
        unit ours with it), "" where the unit is not declared; or None where no column fits.
    """
    name = plain_name(theirs)
    if name in table.by_name:
        return table.by_name[name], None
    for column in table.columns:
        if column.quantity is None:
            continue
        units = _unit_names(column)
        if name in units:
            return column, units[name]
        if name == _base(column):
            return column, ""
    return None


def fitting_units(column: Column) -> tuple[str, ...]:
    """Symbols of the units in which a column's number can be given."""
    if column.quantity is None:
        return ()
    return tuple(unit.symbol for unit in UNITS.values() if unit.quantity == column.quantity)


def _undeclared(theirs: str, column: Column, name: str) -> Finding:
    return error(
        "unit-not-declared",
        f"file:{name}",
        f"Column '{theirs}' of {name} does not say its unit, so {column.name} was not read.",
        f"Say it with --unit '{theirs}=…', one of {', '.join(fitting_units(column))}.",
    )


def _unknown_unit(theirs: str, table: Table, name: str) -> Finding | None:
    """A column that is ours but for a unit that nobody here knows, like flow_cfs."""
    base, _, symbol = plain_name(theirs).rpartition("_")
    for column in table.columns:
        if column.quantity is not None and base and base == _base(column):
            return error(
                "unit-unknown",
                f"file:{name}",
                f"Column '{theirs}' of {name} looks like {column.name} in '{symbol}', which is no "
                "unit known here; it was not read.",
                f"Convert it to one of {', '.join(fitting_units(column))}, and say so in its name.",
            )
    return None


def _unknown(theirs: str, table: Table, name: str) -> Finding:
    trade = trade_match(theirs, table)
    hint = _like(theirs, table) if trade is None else f" In the trade it may mean {trade[0]}."
    ours = "NAME" if trade is None else trade[0]
    return _unknown_unit(theirs, table, name) or note(
        "unknown-column",
        f"file:{name}",
        f"Column '{theirs}' of {name} is none of table {table.name}; it was left aside.{hint}",
        f"If it is one of ours, say --column '{theirs}={ours}'.",
    )


def match_columns(
    header: Sequence[str],
    table: Table,
    *,
    columns: Mapping[str, str],
    units: Mapping[str, str],
    name: str,
    ignored: Iterable[str] = (),
) -> Matching:
    """Match a file's columns with a table's.

    A person's wishes come first; then a header that is our name, or our name with a unit
    of the same quantity in place of ours ("radius_ft", "Flow [gpm]"). A column that a person
    matched may say its unit at its end ("Throw ft"). A number whose unit is not declared is
    refused, never guessed.

    Args:
        header: the file's column names.
        table: the declaration to fill.
        columns: theirs → ours, by a person.
        units: theirs → unit symbol, by a person.
        name: the file's name, for messages.
        ignored: columns already used, as coordinates are.

    Raises:
        UserError: a wish that names nothing, or a unit that cannot fit.
    """
    check_wishes(header, columns, units, table)
    matches: list[Match] = []
    doubts: list[Finding] = []
    taken = set(ignored)
    for theirs in header:
        if theirs in taken or theirs.lower() in ID_NAMES or columns.get(theirs) == "id":
            continue
        wish = columns.get(theirs)
        found = _wished(theirs, table.by_name[wish]) if wish else column_named(theirs, table)
        if found is None:
            doubts.append(_unknown(theirs, table, name))
            continue
        column, unit = found
        unit = units.get(theirs, declared_unit(theirs, column) if wish else unit)
        if unit == "" or (wish and unit is None and column.quantity and _bare(theirs, column)):
            doubts.append(_undeclared(theirs, column, name))
            continue
        if unit is not None:
            _check_units(column, theirs, unit)
        matches.append(Match(theirs, column.name, unit))
    return _without_twins(matches, doubts, name)


def _wished(theirs: str, column: Column) -> tuple[Column, str | None]:
    """A column that a person matched, with the unit at the end of their name, if any."""
    name = plain_name(theirs)
    for symbol in fitting_units(column):
        if name.endswith(f"_{plain_name(symbol)}"):
            return column, symbol
    return column, None


def _bare(theirs: str, column: Column) -> bool:
    """Whether a column that a person matched says no unit of its own."""
    return plain_name(theirs) != column.name


def _without_twins(matches: list[Match], doubts: list[Finding], name: str) -> Matching:
    kept: dict[str, Match] = {}
    for match in matches:
        first = kept.setdefault(match.ours, match)
        if first is not match:
            doubts.append(
                note(
                    "column-twice",
                    f"file:{name}",
                    f"Columns '{first.theirs}' and '{match.theirs}' of {name} both fill "
                    f"{match.ours}; '{first.theirs}' was taken.",
                    f"Rename one, or say --column '{match.theirs}={match.ours}'.",
                )
            )
    return Matching(tuple(kept.values()), tuple(doubts))
