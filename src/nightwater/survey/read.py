"""Read somebody's file as rows of one of our tables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from itertools import count
from pathlib import Path
from typing import Any

import geopandas as gpd
import pandas as pd

from nightwater.findings import Finding, UserError, error, note
from nightwater.ground.columns import Table
from nightwater.survey.cells import BadCellError, cell_value, is_missing
from nightwater.survey.columns import ID_NAMES, Match, match_columns
from nightwater.survey.golf_tags import in_our_words, is_tagged, within_outline
from nightwater.survey.shapes import (
    PLACED,
    Reshaping,
    flattened_note,
    record_shape,
    repair_note,
    reshaping,
    source_crs,
)
from nightwater.survey.source_files import SourceRows, bad_row, coordinate_columns, read_source


@dataclass(frozen=True)
class ReadOptions:
    """What a person says of a file.

    Attributes:
        crs: coordinate system, where the file does not say.
        layer: which layer of a file that holds several.
        columns: theirs → ours.
        units: theirs → unit symbol.
        within: name or id of the outline that bounds what is taken.
        fixed: ours → the value that every row of the file has, where it has no such column
            (a file of greens only: kind → green).
    """

    crs: str | None = None
    layer: str | None = None
    columns: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    within: str | None = None
    fixed: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class SurveyRows:
    """What a file says of one table.

    Attributes:
        rows: only the columns that the file fills; index = id; with geometry where it has one.
        places: where each id stands in the file.
        generated: ids that were made up because the file has none.
        refused: ids of rows that stand in the file but could not be read.
        findings: bad rows and other doubts.
        source: the file's name.
    """

    rows: pd.DataFrame
    places: Mapping[str, str]
    generated: frozenset[str]
    refused: frozenset[str]
    findings: tuple[Finding, ...]
    source: str


@dataclass(frozen=True)
class _Reading:
    """Everything that turns one source row into one record row."""

    table: Table
    matches: tuple[Match, ...]
    way: Reshaping | None
    name: str
    coordinates: frozenset[str] = frozenset()


def _id_column(rows: SourceRows, options: ReadOptions) -> str | None:
    for theirs, ours in options.columns.items():
        if ours == "id":
            return theirs
    by_name = {str(column).lower(): str(column) for column in rows.cells.columns}
    return next((by_name[name] for name in ID_NAMES if name in by_name), None)


def _identity(cell: Any) -> str | None:
    if is_missing(cell):
        return None
    whole = isinstance(cell, float) and cell.is_integer()
    return str(int(cell)) if whole else str(cell).strip()


def numbered_id(table: str, number: int) -> str:
    """The id made up for a row that has none, by its place in the file."""
    return f"{table.removesuffix('s')}-{number:04d}"


def _identities(rows: SourceRows, table: Table, column: str | None) -> tuple[list[str], set[str]]:
    cells = rows.cells[column] if column is not None else [None] * len(rows.cells)
    given = [_identity(cell) for cell in cells]
    taken = {identity for identity in given if identity is not None}
    generated: set[str] = set()
    identities = []
    for number, identity in enumerate(given, 1):
        if identity is None:
            # A number that some row bears already is passed over, past the end of the file.
            free = (numbered_id(table.name, n) for n in count(number, len(given) + 1))
            identity = next(name for name in free if name not in taken | generated)  # noqa: PLW2901
            generated.add(identity)
        identities.append(identity)
    return identities, generated


def _row(cells: Mapping[str, Any], rows: SourceRows, reading: _Reading) -> dict[str, Any]:
    declared = reading.table.by_name
    return {
        match.ours: cell_value(
            cells[match.theirs], declared[match.ours], match.unit, decimal_comma=rows.decimal_comma
        )
        for match in reading.matches
    }


@dataclass
class _Sorted:
    """Rows as they are read: good ones with their place, refused ids, doubts."""

    good: dict[str, dict[str, Any]] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)
    refused: set[str] = field(default_factory=set)
    doubts: list[Finding] = field(default_factory=list)


def _read_rows(rows: SourceRows, identities: list[str], reading: _Reading) -> _Sorted:
    read = _Sorted()
    records = rows.cells.to_dict("records")
    for position, (identity, cells) in enumerate(zip(identities, records, strict=True)):
        place = rows.places[position]
        if identity in read.places:
            read.doubts.append(_duplicate(reading.name, identity, read.places[identity], place))
            continue
        read.places[identity] = place
        try:
            values = _row({str(k): v for k, v in cells.items()}, rows, reading)
            if reading.way is not None and rows.shapes is not None:
                given = rows.shapes[position]
                if given is None and _may_lack_place(cells, reading):
                    read.good[identity] = {**values, "geometry": None}
                    continue
                shape, repaired = record_shape(given, reading.way)
                values["geometry"] = shape
                read.doubts += [repair_note(reading.name, place, repaired)] if repaired else []
        except BadCellError as reason:
            read.doubts.append(bad_row(reading.name, f"{place} ({identity})", str(reason)))
            read.refused.add(identity)
            continue
        read.good[identity] = values
    return read


def _may_lack_place(cells: Mapping[Any, Any], reading: _Reading) -> bool:
    """Whether a row says no place, and is of a table that can do without one."""
    silent = all(is_missing(cells[column]) for column in reading.coordinates)
    return reading.table.name not in PLACED and silent


def _duplicate(name: str, identity: str, first: str, again: str) -> Finding:
    return error(
        "duplicate-id",
        f"file:{name}",
        f"{name}: id '{identity}' stands at {first} and again at {again}; the first was taken.",
        "Give each row its own id and survey the file again.",
    )


def _generated_note(number: int, name: str) -> tuple[Finding, ...]:
    if not number:
        return ()
    found = note(
        "ids-made-up",
        f"file:{name}",
        f"{name}: {number} rows have no id; ids were made up by their order in the file.",
        "Keep an id column in the file, so that a later survey finds the same rows again.",
    )
    return (found,)


def _way(rows: SourceRows, table: Table, crs: str, options: ReadOptions, name: str) -> Any:
    if table.shape is None or rows.shapes is None:
        return None
    return reshaping(source_crs(rows, options.crs, name), crs, table.shape)


def _chosen_rows(path: Path, table: Table, options: ReadOptions) -> SourceRows:
    rows = read_source(path, options.layer)
    if options.within is not None:
        if rows.shapes is None:
            raise UserError(f"{path.name} has no geometry, so nothing lies within an outline.")
        rows = within_outline(rows, options.within, path.name)
    rows = in_our_words(rows, table, path.name) if is_tagged(rows) else rows
    return _with_fixed(rows, table, options.fixed)


def _with_fixed(rows: SourceRows, table: Table, fixed: Mapping[str, str]) -> SourceRows:
    for ours, value in fixed.items():
        if ours not in table.by_name:
            near = get_close_matches(ours, table.by_name, 1)
            hint = f" Did you mean '{near[0]}'?" if near else ""
            raise UserError(f"Table {table.name} has no column '{ours}'.{hint}")
        if ours in rows.cells:
            raise UserError(f"The file has a column '{ours}' of its own; it cannot be fixed too.")
        try:
            cell_value(value, table.by_name[ours], None, decimal_comma=False)
        except BadCellError as reason:
            raise UserError(f"'{value}' cannot be fixed for every row: {reason}.") from None
    return replace(rows, cells=rows.cells.assign(**fixed))


def read_table(path: Path, table: Table, crs: str, options: ReadOptions) -> SurveyRows:
    """Read a file as rows of a table. Bad rows are findings; the good ones are kept.

    Args:
        path: GeoJSON, GeoPackage, Shapefile (also zipped) or CSV.
        table: the declaration to fill.
        crs: the record's system.
        options: what a person says of the file.

    Raises:
        UserError: a file that cannot be read at all, or an option that names nothing.
    """
    name = path.name
    rows = _chosen_rows(path, table, options)
    used = coordinate_columns(rows.cells) if rows.shapes is not None else set()
    header = [str(column) for column in rows.cells.columns]
    matching = match_columns(
        header, table, columns=options.columns, units=options.units, name=name, ignored=used
    )
    identity = _id_column(rows, options)
    identities, generated = _identities(rows, table, identity)
    way = _way(rows, table, crs, options, name)
    reading = _Reading(table, matching.matches, way, name, frozenset(used))
    read = _read_rows(rows, identities, reading)
    made = frozenset(generated & set(read.good))
    findings = [*rows.findings, *matching.findings, *read.doubts]
    findings += _generated_note(len(made), name)
    if reading.way is not None:
        findings += flattened_note(rows, name)
    frame = _frame(read.good, crs, reading)
    refused = frozenset(read.refused)
    return SurveyRows(frame, read.places, made, refused, tuple(findings), name)


def _frame(good: dict[str, dict[str, Any]], crs: str, reading: _Reading) -> pd.DataFrame:
    names = [match.ours for match in reading.matches]
    names += ["geometry"] if reading.way is not None else []
    index = pd.Index(list(good), name="id", dtype=object)
    data = {name: [row[name] for row in good.values()] for name in names}
    frame = pd.DataFrame(data, index=index, dtype=object)
    if reading.way is None:
        return frame
    shapes = gpd.GeoSeries(list(frame["geometry"]), index=index, crs=crs)
    located: pd.DataFrame = gpd.GeoDataFrame(frame, geometry=shapes)
    return located
