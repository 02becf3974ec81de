"""Somebody's file as rows of cells with their place, before any meaning is given to them."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import pandas as pd
import shapely

from nightwater.findings import Finding, UserError, error, note
from nightwater.survey.beginnings import check_beginning, zipped_shapefile
from nightwater.survey.map_layers import layer_names, read_layer
from nightwater.survey.record_geojson import is_record_geojson, record_geojson_cells
from nightwater.survey.text_archive import is_text_archive, system_beside, unpacked_table

MAX_BYTES: Final = 200 * 1024 * 1024
TEXT_ENDINGS: Final = (".csv", ".tsv", ".txt")
GEO_ENDINGS: Final = (".geojson", ".json", ".gpkg", ".shp", ".zip", ".fgb", ".gml")
_JSON_ENDINGS: Final = (".geojson", ".json")
_MAP: Final = "a map layer"
_DELIMITERS: Final = (",", ";", "\t")
_COORDINATES: Final = (
    ("longitude", "latitude", "EPSG:4326"),
    ("lon", "lat", "EPSG:4326"),
    ("lng", "lat", "EPSG:4326"),
    ("easting", "northing", None),
    ("x", "y", None),
)
_WKT_NAMES: Final = ("wkt", "geometry", "geom")
_NUMBER: Final = re.compile(r"[+-]?(\d+[.,]?\d*|[.,]\d+)([eE][+-]?\d+)?", re.ASCII)


@dataclass(frozen=True)
class SourceRows:
    """What a file holds.

    Attributes:
        cells: columns as the file names them, values as it gives them.
        places: where each row stands: "line 3" or "feature 7".
        shapes: a geometry per row, or None for a plain table.
        crs: coordinate system the file declares, or None.
        crs_assumed: whether `crs` is only the usual meaning of the column names.
        decimal_comma: whether numbers are written with a comma.
        findings: doubts about the file as such.
        names_tell: whether names are all that says what a shape is, as in a KML.
        holes_by_number: whether `hole` holds numbers on the card.
        own: columns that no person named, not worth a note where they fill nothing.
    """

    cells: pd.DataFrame
    places: tuple[str, ...]
    shapes: tuple[Any, ...] | None
    crs: Any
    decimal_comma: bool
    findings: tuple[Finding, ...]
    crs_assumed: bool = False
    names_tell: bool = False
    holes_by_number: bool = False
    own: frozenset[str] = frozenset()


def bad_row(name: str, place: str, reason: str) -> Finding:
    """A row that was not read, with its place and the reason."""
    return error(
        "bad-row",
        f"file:{name}",
        f"{name}, {place}: not read, because {reason}.",
        "Put it right in the file and survey it again; the other rows are not held up.",
    )


def _decoded(path: Path) -> tuple[str, list[Finding]]:
    content = path.read_bytes()
    try:
        if content.startswith((b"\xff\xfe", b"\xfe\xff")):
            return content.decode("utf-16"), []
        return content.decode("utf-8-sig"), []
    except UnicodeDecodeError:
        doubt = note(
            "not-utf-8",
            f"file:{path.name}",
            f"{path.name} is not UTF-8; it was read as Latin-1.",
            "Look at names with accents; save the file as UTF-8 if they are wrong.",
        )
        return content.decode("latin-1"), [doubt]


def _split(text: str, name: str) -> tuple[list[str], list[list[str]], list[int], str]:
    first = text.partition("\n")[0]
    delimiter = max(_DELIMITERS, key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    rows, lines = [], []
    try:
        header = [cell.strip() for cell in next(reader)]
        start = reader.line_num + 1
        for row in reader:
            if any(cell.strip() for cell in row):
                rows.append(row)
                lines.append(start)
            start = reader.line_num + 1
    except StopIteration:
        raise UserError(f"{name} is empty; a header line and rows are wanted.") from None
    except csv.Error as problem:
        raise UserError(f"{name}, line {reader.line_num}: not a table ({problem}).") from None
    return header, rows, lines, delimiter


def check_header(header: Sequence[str], name: str) -> None:
    """Refuse a header that names a column twice, or none.

    Raises:
        UserError: with the name.
    """
    twice = sorted({cell for cell in header if cell and header.count(cell) > 1})
    if twice:
        raise UserError(f"{name} has two columns named '{twice[0]}'. Rename one of them.")
    if not any(header):
        raise UserError(f"{name} has no header line; the first line must name the columns.")


def _even_rows(
    header: Sequence[str], rows: list[list[str]], lines: list[int], name: str
) -> tuple[pd.DataFrame, list[str], list[Finding]]:
    width = len(header)
    kept, places, doubts = [], [], []
    for row, line in zip(rows, lines, strict=True):
        if any(cell.strip() for cell in row[width:]):
            doubts.append(bad_row(name, f"line {line}", f"it has {len(row)} cells, not {width}"))
            continue
        kept.append([*row[:width], *[""] * (width - len(row))])
        places.append(f"line {line}")
    return pd.DataFrame(kept, columns=list(header), dtype=object), places, doubts


def _text_rows(path: Path) -> SourceRows:
    text, doubts = _decoded(path)
    if "\x00" in text:
        raise UserError(f"{path.name} is not a text table: it holds zero bytes.")
    header, rows, lines, delimiter = _split(text, path.name)
    check_header(header, path.name)
    cells, places, uneven = _even_rows(header, rows, lines, path.name)
    cells = cells.loc[:, [bool(column) for column in cells.columns]]
    comma = delimiter == ";"
    shapes, crs = text_shapes(cells, decimal_comma=comma)
    findings = (*doubts, *uneven)
    return SourceRows(cells, tuple(places), shapes, crs, comma, findings, crs is not None)


def _placed_text_rows(path: Path) -> SourceRows:
    """A text table, in the system that a file beside it says."""
    rows = _text_rows(path)
    if rows.shapes is None or rows.crs is not None:
        return rows
    return replace(rows, crs=system_beside(path))


def _record_rows(path: Path, layer: str | None) -> SourceRows:
    cells, places, shapes, crs = record_geojson_cells(path, layer)
    return SourceRows(cells, places, shapes, crs, False, ())


def written_number(text: str, *, decimal_comma: bool) -> float:
    """A number as a person or a program writes it.

    A comma is a decimal sign only in a file that parts its columns otherwise, and never
    beside a point: "1.234,5" is not guessed at.

    Raises:
        ValueError: no number, or one that could be read in two ways.
    """
    bare = text.strip()
    if not _NUMBER.fullmatch(bare) or ("," in bare and ("." in bare or not decimal_comma)):
        raise ValueError(text)
    return float(bare.replace(",", "."))


def _coordinate(text: Any, *, decimal_comma: bool) -> float:
    try:
        return written_number(str(text), decimal_comma=decimal_comma)
    except ValueError:
        return float("nan")


def _point(x: float, y: float) -> Any:
    return shapely.Point(x, y) if abs(x) < 1e9 and abs(y) < 1e9 else None


def _from_wkt(text: Any) -> Any:
    try:
        return shapely.from_wkt(str(text))
    except shapely.errors.ShapelyError:
        return None


def text_shapes(
    cells: pd.DataFrame, *, decimal_comma: bool
) -> tuple[tuple[Any, ...] | None, str | None]:
    """Geometry of a table's rows from its coordinate or WKT columns, and the system they mean."""
    by_name = {str(column).strip().lower(): column for column in cells.columns}
    for across, up, crs in _COORDINATES:
        if across in by_name and up in by_name:
            xs, ys = (
                [_coordinate(cell, decimal_comma=decimal_comma) for cell in cells[by_name[name]]]
                for name in (across, up)
            )
            return tuple(map(_point, xs, ys)), crs
    for name in _WKT_NAMES:
        if name in by_name:
            return tuple(_from_wkt(text) for text in cells[by_name[name]]), None
    return None, None


def coordinate_columns(cells: pd.DataFrame) -> set[str]:
    """The columns that were read as coordinates."""
    names = {name for across, up, _ in _COORDINATES for name in (across, up)} | set(_WKT_NAMES)
    return {column for column in cells.columns if str(column).strip().lower() in names}


def _layer(source: Any, name: str, layer: str | None) -> str | None:
    names = layer_names(source, name, _MAP)
    if layer is None and len(names) > 1:
        raise UserError(
            f"{name} holds {len(names)} layers. Name one with --layer: {', '.join(names)}."
        )
    if layer is not None and layer not in names:
        raise UserError(f"{name} has no layer '{layer}'. It holds {', '.join(names)}.")
    return layer or (names[0] if names else None)


def _source(path: Path, layer: str | None) -> Any:
    ending = path.suffix.lower()
    if ending == ".zip":
        return f"/vsizip/{path}/{zipped_shapefile(path, layer)}"
    check_beginning(path)
    # From a path the library would leave a file of its own beside a GML, and believe one there.
    return path.read_bytes() if ending == ".gml" else path


def _geo_rows(path: Path, layer: str | None) -> SourceRows:
    source = _source(path, layer)
    # A label that looks like a date must stay the text that was written.
    more = {"DATE_AS_STRING": "YES"} if path.suffix.lower() in _JSON_ENDINGS else {}
    frame = read_layer(source, _layer(source, path.name, layer), path.name, _MAP, **more)
    # A layer beside others may be empty; a file that is nothing else holds nothing.
    if frame.empty and path.suffix.lower() != ".gpkg":
        raise UserError(f"{path.name} holds no features; nothing was read.")
    places = tuple(f"feature {number}" for number in range(1, len(frame) + 1))
    if not isinstance(frame, gpd.GeoDataFrame):
        return SourceRows(frame.astype(object), places, None, None, False, ())
    cells = pd.DataFrame(frame.drop(columns=frame.geometry.name)).astype(object)
    return SourceRows(cells, places, tuple(frame.geometry), frame.crs, False, ())


def check_file(path: Path) -> None:
    """Refuse what is no file, empty, or too large a one.

    Raises:
        UserError: with the size.
    """
    if not path.is_file():
        raise UserError(f"There is no file {path}.")
    if path.stat().st_size > MAX_BYTES:
        size = path.stat().st_size / 1e6
        raise UserError(f"{path.name} has {size:.0f} MB; files up to 200 MB are read.")
    if path.stat().st_size == 0:
        raise UserError(f"{path.name} is empty.")


def read_source(path: Path, layer: str | None = None) -> SourceRows:
    """Read a text table or a map layer.

    Raises:
        UserError: no such file, too large, of an unknown kind, or not readable at all.
    """
    check_file(path)
    if is_record_geojson(path):
        return _record_rows(path, layer)
    if is_text_archive(path):
        with unpacked_table(path, layer) as table:
            return _placed_text_rows(table)
    ending = path.suffix.lower()
    if ending in TEXT_ENDINGS:
        return _placed_text_rows(path)
    if ending in GEO_ENDINGS:
        return _geo_rows(path, layer)
    known = ", ".join((*TEXT_ENDINGS, *GEO_ENDINGS))
    raise UserError(f"{path.name}: files ending in '{ending}' are not read. Known: {known}.")
