"""The record as a workbook: a sheet for each table, and one that explains the columns."""

from __future__ import annotations

import io
from collections.abc import Sequence
from datetime import date
from typing import Any, Final

import openpyxl
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font

from nightwater.findings import UserError
from nightwater.ground.columns import Column, Kind
from nightwater.ground.record import Ground
from nightwater.survey.csv_out import SHAPE_COLUMN, exact_wkt
from nightwater.survey.export_rows import (
    ExportTable,
    check_for_markup,
    export_tables,
    inside_unit,
)

MAX_CELL_TEXT: Final = 32_767  # characters, by ECMA-376
EXPLAINING_SHEET: Final = "about"
_FORMATS: Final = {Kind.INTEGER: "0", Kind.DATE: "yyyy-mm-dd"}
_FIRST_DAY: Final = date(1900, 3, 1)  # before it programs count days in two ways
_ABOUT: Final = ("table", "column", "value", "unit", "meaning")


def _cell(sheet: Any, value: Any, column: Column | None) -> Any:
    kind = Kind.TEXT if column is None else column.kind
    if kind is Kind.DATE and value is not None and date.fromisoformat(value) >= _FIRST_DAY:
        value = date.fromisoformat(value)
    cell = WriteOnlyCell(sheet, value)
    if isinstance(value, str):
        cell.data_type = "s"  # "=7" and "007" are labels, no formula and no number
        cell.number_format = "@"
    elif kind in _FORMATS:
        cell.number_format = _FORMATS[kind]
    return cell


def _pieces(shape: Any) -> list[str]:
    """The text of a shape, cut where a cell is full."""
    text = exact_wkt(shape) or ""
    return [text[at : at + MAX_CELL_TEXT] for at in range(0, len(text), MAX_CELL_TEXT)]


def shape_columns(number: int) -> list[str]:
    """Names of the columns that hold a long shape in pieces: wkt, wkt_2 …"""
    return [SHAPE_COLUMN, *(f"{SHAPE_COLUMN}_{piece}" for piece in range(2, number + 1))]


def _headed(book: Any, title: str, header: Sequence[str], widths: Sequence[int]) -> Any:
    sheet = book.create_sheet(title)
    sheet.freeze_panes = "B2"
    for number, width in enumerate(widths, 1):
        letter = openpyxl.utils.get_column_letter(number)
        sheet.column_dimensions[letter].width = width
    cells = [WriteOnlyCell(sheet, name) for name in header]
    for cell in cells:
        cell.font = Font(bold=True)
    sheet.append(cells)
    return sheet


def _write_table(book: Any, each: ExportTable) -> None:
    shapes = [_pieces(shape) for shape in each.shapes or ()]
    extra = shape_columns(max(map(len, shapes), default=1)) if each.shapes is not None else []
    header = [*each.header, *extra]
    sheet = _headed(book, each.table.name, header, [max(9, len(name) + 2) for name in header])
    declared = each.table.by_name
    for number, row in enumerate(each.rows):
        cells = [_cell(sheet, row[name], declared.get(name)) for name in each.header]
        pieces = shapes[number] if shapes else []
        sheet.append([*cells, *(_cell(sheet, piece, None) for piece in pieces)])


def _write_about(book: Any, tables: Sequence[ExportTable], crs: str) -> None:
    sheet = _headed(book, EXPLAINING_SHEET, _ABOUT, (12, 24, 10, 8, 70))
    sheet.append(["", SHAPE_COLUMN, "text", "m", f"Where it is, in {crs}: survey with --crs {crs}"])
    for each in tables:
        for column in each.table.columns:
            row = (each.table.name, column.name, column.kind.value, inside_unit(column))
            sheet.append([*row, column.meaning])


def _check_lengths(tables: Sequence[ExportTable]) -> None:
    for each in tables:
        for row in each.rows:
            for name, value in row.items():
                if isinstance(value, str) and len(value) > MAX_CELL_TEXT:
                    raise UserError(
                        f"{name} of {each.table.name}:{row['id']} has {len(value):,} characters; a "
                        f"cell holds {MAX_CELL_TEXT:,}. Write .gpkg, .geojson or .zip instead."
                    )


def workbook_bytes(ground: Ground) -> bytes:
    """Every table as a sheet of its name; ids and labels stay text, dates are dates.

    A shape that is longer than a cell can hold goes on in `wkt_2`, `wkt_3` ….

    Raises:
        UserError: a text that no cell can hold.
    """
    tables = export_tables(ground)
    check_for_markup(tables, ".xlsx")
    _check_lengths(tables)
    book = openpyxl.Workbook(write_only=True)
    for each in tables:
        _write_table(book, each)
    _write_about(book, tables, ground.crs)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
