"""Read somebody's file as rows of one of our tables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from itertools import count
from pathlib import Path
from types import MappingProxyType
from typing import Any

import geopandas as gpd
import pandas as pd

from nightwater.findings import Finding, UserError, error, note
from nightwater.ground.columns import Table
from nightwater.survey.cells import BadCellError, cell_value, is_missing
from nightwater.survey.columns import ID_NAMES, Match, column_named, match_columns
from nightwater.survey.drawing import DrawingWish
from nightwater.survey.drawing_file import OpenDrawing
from nightwater.survey.far_rows import Elsewhere, check_degrees, elsewhere
from nightwater.survey.golf_tags import in_our_words, is_tagged, within_outline
from nightwater.survey.named_shapes import named_rows
from nightwater.survey.remembered import Said, recalled, remembered_note, source_key
from nightwater.survey.shapes import (
    PLACED,
    Reshaping,
    flattened_note,
    record_shape,
    repair_note,
    reshaping,
    source_crs,
)
from nightwater.survey.source_files import SourceRows, bad_row, coordinate_columns
from nightwater.survey.sources import read_source
from nightwater.survey.wrong_table import check_table_fits


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
        near: latitude and longitude of the course, to tell rows that lie elsewhere.
        drawing_unit: what a drawing is drawn in, where it does not say or says it wrongly.
        path_width_m: how wide paths are that open map data draws as lines without a width.
    """

    crs: str | None = None
    layer: str | None = None
    columns: Mapping[str, str] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    within: str | None = None
    fixed: Mapping[str, str] = field(default_factory=dict)
    near: tuple[float, float] | None = None
    drawing_unit: str | None = None
    path_width_m: float | None = None


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
        holes_by_number: whether `hole` holds numbers on the card, to be linked to the record.
        far: ids of rows that lie far from the course.
        unreadable: how many rows without an id could not be read.
        said: what was said of its columns, now or of an earlier file with the same header.
    """

    rows: pd.DataFrame
    places: Mapping[str, str]
    generated: frozenset[str]
    refused: frozenset[str]
    findings: tuple[Finding, ...]
    source: str
    holes_by_number: bool = False
    far: frozenset[str] = frozenset()
    unreadable: int = 0
    said: Said | None = None


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


@dataclass
class _Values:
    """What one row says, and every reason why it cannot be taken."""

    values: dict[str, Any] = field(default_factory=dict)
    reasons: list[str] = field(default_factory=list)
    repaired: str | None = None


def _row(
    cells: Mapping[str, Any], shape: Any, *, decimal_comma: bool, reading: _Reading
) -> _Values:
    declared, read = reading.table.by_name, _Values()
    for match in reading.matches:
        try:
            read.values[match.ours] = cell_value(
                cells[match.theirs], declared[match.ours], match.unit, decimal_comma=decimal_comma
            )
        except BadCellError as reason:
            read.reasons.append(str(reason))
    if reading.way is not None and shape is None and _may_lack_place(cells, reading):
        read.values["geometry"] = None
    elif reading.way is not None:
        try:
            read.values["geometry"], read.repaired = record_shape(shape, reading.way)
        except BadCellError as reason:
            read.reasons.append(str(reason))
    return read


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
        shape = rows.shapes[position] if rows.shapes is not None else None
        by_name = {str(theirs): cell for theirs, cell in cells.items()}
        found = _row(by_name, shape, decimal_comma=rows.decimal_comma, reading=reading)
        if found.reasons:
            reasons = "; ".join(found.reasons)
            read.doubts.append(bad_row(reading.name, f"{place} ({identity})", reasons))
            read.refused.add(identity)
            continue
        if found.repaired:
            read.doubts.append(repair_note(reading.name, place, found.repaired))
        read.good[identity] = found.values
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


def _way(
    rows: SourceRows, table: Table, crs: str, options: ReadOptions, name: str
) -> tuple[Reshaping | None, Elsewhere]:
    if table.shape is None or rows.shapes is None:
        return None, Elsewhere(frozenset(), ())
    source = source_crs(rows, options.crs, name)
    check_degrees(rows.shapes, source, name)
    far = Elsewhere(frozenset(), ())
    if options.near is not None:
        far = elsewhere(rows.shapes, source, options.near, name)
    return reshaping(source, crs, table.shape), far


def _chosen_rows(rows: SourceRows, path: Path, table: Table, options: ReadOptions) -> SourceRows:
    if options.within is not None:
        if rows.shapes is None:
            raise UserError(f"{path.name} has no geometry, so nothing lies within an outline.")
        rows = within_outline(rows, options.within, path.name)
    if rows.names_tell:
        rows = named_rows(rows, table, path.name, _filled(rows, table, options))
    elif is_tagged(rows):
        rows = in_our_words(rows, table, path.name, options.path_width_m)
    return _with_fixed(rows, table, options.fixed)


def _filled(rows: SourceRows, table: Table, options: ReadOptions) -> set[str]:
    """Our columns that the file has, or a person says."""
    header = map(str, rows.cells.columns)
    found = [column_named(theirs, table) for theirs in header if theirs not in options.columns]
    own = {column.name for column, _ in filter(None, found)}
    return own | set(options.columns.values()) | set(options.fixed)


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


def _as_remembered(
    rows: SourceRows, table: Table, options: ReadOptions, kept: Mapping[str, Said]
) -> tuple[ReadOptions, Said, Said]:
    """The options with what is kept of such a file; what was said; what is used."""
    source = source_key(str(column) for column in rows.cells.columns)
    said = Said(source, options.columns, options.units, options.fixed)
    used = recalled(said, kept.get(source), table)
    whole = replace(options, columns=used.columns, units=used.units, fixed=used.fixed)
    return whole, said, used


def read_table(
    path: Path,
    table: Table,
    crs: str,
    options: ReadOptions,
    kept: Mapping[str, Said] = MappingProxyType({}),
) -> SurveyRows:
    """Read a file as rows of a table. Bad rows are findings; the good ones are kept.

    Args:
        path: of any kind that `sources.ENDINGS` names.
        table: the declaration to fill.
        crs: the record's system.
        options: what a person says of the file.
        kept: what was said of earlier files, by the digest of their header; it completes
            what is said now.

    Raises:
        UserError: a file that cannot be read at all, or an option that names nothing.
    """
    return table_rows(source_of(path, table, options), path, table, crs, options, kept=kept)


def source_of(
    path: Path, table: Table, options: ReadOptions, opened: OpenDrawing | None = None
) -> SourceRows:
    """A file as rows of cells, before any meaning is given to them.

    Args:
        path: the file.
        table: the declaration to fill.
        options: what a person says of the file.
        opened: the drawing, where the file is one and was opened already.

    Raises:
        UserError: a file that cannot be read at all.
    """
    wish = DrawingWish(table, unit=options.drawing_unit, crs=options.crs, opened=opened)
    return read_source(path, options.layer, table.shape, wish)


def table_rows(
    source: SourceRows,
    path: Path,
    table: Table,
    crs: str,
    options: ReadOptions,
    *,
    kept: Mapping[str, Said] = MappingProxyType({}),
) -> SurveyRows:
    """What `read_table` gives, from a file that was read already by `source_of`.

    Raises:
        UserError: rows that cannot be of the table, or an option that names nothing.
    """
    name = path.name
    options, said, used_again = _as_remembered(source, table, options, kept)
    rows = _chosen_rows(source, path, table, options)
    used = coordinate_columns(rows.cells) if rows.shapes is not None else set()
    used |= {c for c in rows.own - set(options.columns) if column_named(c, table) is None}
    header = [str(column) for column in rows.cells.columns]
    matching = match_columns(
        header, table, columns=options.columns, units=options.units, name=name, ignored=used
    )
    located = table.shape is not None and rows.shapes is not None
    seen = [theirs for theirs in header if theirs not in used]
    check_table_fits(seen, table, matching, name, located=located)
    identity = _id_column(rows, options)
    identities, generated = _identities(rows, table, identity)
    way, far = _way(rows, table, crs, options, name)
    reading = _Reading(table, matching.matches, way, name, frozenset(used))
    read = _read_rows(rows, identities, reading)
    made = frozenset(generated & set(read.good))
    findings = [*rows.findings, *far.findings, *remembered_note(said, used_again, name)]
    findings += [*matching.findings, *read.doubts]
    findings += _generated_note(len(made), name)
    if reading.way is not None:
        findings += flattened_note(rows, name)
    frame = _frame(read.good, crs, reading)
    refused = frozenset(read.refused - generated)
    return SurveyRows(
        frame,
        read.places,
        made,
        refused,
        tuple(findings),
        name,
        holes_by_number=rows.holes_by_number,
        far=frozenset(identities[row] for row in far.rows) & set(read.good),
        unreadable=len(read.refused & generated),
        said=used_again,
    )


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
