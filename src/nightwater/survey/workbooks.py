"""Spreadsheets: one sheet of a workbook as a table, by the rules of a text table."""

from __future__ import annotations

import io
import itertools
import warnings
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any, Final
from xml.etree import ElementTree

import openpyxl
import pandas as pd

from nightwater.findings import Finding, UserError, warning
from nightwater.survey.archives import checked_members
from nightwater.survey.long_shapes import with_joined_shapes
from nightwater.survey.source_files import SourceRows, bad_row, check_header, text_shapes

WORKBOOK_ENDINGS: Final = (".xlsx", ".xlsm")
MAX_ROWS: Final = 1_048_576  # the format's own limits
MAX_TEXT: Final = 32_767
MAX_COLUMNS: Final = 1_000
_SHOWN: Final = 6
_NO_VALUE: Final = ("#NULL!", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#N/A")
_SHEET: Final = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"


@dataclass(frozen=True)
class _Marks:
    """What a sheet's XML says beside its values."""

    merged: tuple[str, ...]
    not_computed: tuple[str, ...]
    percentages: tuple[str, ...] = ()


def _plain(cell: Any) -> Any:
    """A cell's value as text tables know it: dates in ISO, numbers as the sheet shows them."""
    if isinstance(cell, datetime):
        return (cell.date() if cell.time() == time() else cell).isoformat()
    if isinstance(cell, (date, time)):
        return cell.isoformat()
    if isinstance(cell, timedelta):
        return str(cell)
    if isinstance(cell, bool) or cell is None:
        return cell
    if isinstance(cell, (int, float)):
        return _shown(cell)
    text = str(cell).strip()
    return None if text in _NO_VALUE else text


def _shown(number: float) -> float | str:
    """A number to the 15 digits that a sheet keeps: 0.1 + 0.2 is 0.3."""
    try:
        return number if isinstance(number, int) and abs(number) < 1e15 else float(f"{number:.15g}")
    except OverflowError:
        return str(number)[:20] + "…"


def _rows(sheet: Any, name: str) -> Iterator[tuple[int, list[Any]]]:
    """Rows that hold something, with their number."""
    sheet.reset_dimensions()  # what a sheet declares of its size need not be true
    for number, row in enumerate(sheet.iter_rows(values_only=True), 1):
        if number > MAX_ROWS or len(row) > MAX_COLUMNS:
            raise UserError(
                f"{name} has a cell in row {number:,}, column {len(row):,}; sheets of up to "
                f"{MAX_ROWS:,} rows and {MAX_COLUMNS:,} columns are read."
            )
        if any(isinstance(cell, str) and len(cell) > MAX_TEXT for cell in row):
            raise UserError(f"{name}, row {number}: a text is longer than a sheet can hold.")
        if any(cell is not None and cell != "" for cell in row):
            yield number, list(row)


def _percentages(sheet: Any) -> tuple[str, ...]:
    """Where numbers stand that the sheet shows as a percentage."""
    sheet.reset_dimensions()
    return tuple(
        str(cell.coordinate)
        for row in sheet.iter_rows()
        for cell in row
        if isinstance(cell.value, (int, float)) and "%" in str(cell.number_format)
    )


def _sheet(book: Any, layer: str | None, name: str) -> Any:
    sheets = {sheet.title: sheet for sheet in book.worksheets}
    if layer is not None:
        if layer not in sheets:
            raise UserError(f"{name} has no sheet '{layer}'. It holds {', '.join(sheets)}.")
        return sheets[layer]
    seen = [sheet for sheet in sheets.values() if sheet.sheet_state == "visible"]
    filled = [sheet for sheet in seen if next(_rows(sheet, name), None) is not None]
    if len(filled) > 1:
        listed = ", ".join(sheet.title for sheet in filled)
        raise UserError(f"{name} holds {len(filled)} sheets. Name one with --layer: {listed}.")
    if not filled:
        raise UserError(f"{name} is empty; a header row and rows are wanted.")
    return filled[0]


def _marks(content: bytes) -> _Marks:
    merged, not_computed = [], []
    for _, element in ElementTree.iterparse(io.BytesIO(content)):
        if element.tag == f"{_SHEET}mergeCell":
            merged.append(element.get("ref", "?"))
        elif element.tag == f"{_SHEET}c":
            value = element.find(f"{_SHEET}v")
            computed = value is not None and value.text not in (None, *_NO_VALUE)
            if element.get("t") == "e" or (element.find(f"{_SHEET}f") is not None and not computed):
                not_computed.append(element.get("r", "?"))
        elif element.tag == f"{_SHEET}row":
            element.clear()
    return _Marks(tuple(merged), tuple(not_computed))


def _listed(places: Sequence[str]) -> str:
    more = f" and {len(places) - _SHOWN} more" if len(places) > _SHOWN else ""
    return ", ".join(places[:_SHOWN]) + more


def _mark_doubts(marks: _Marks, name: str) -> Iterator[Finding]:
    if marks.merged:
        yield warning(
            "merged-cells",
            f"file:{name}",
            f"{name} has {len(marks.merged)} merged ranges ({_listed(marks.merged)}); only the "
            "first cell of each has a value, the others were read as empty.",
            "Take the merging off and fill every cell.",
        )
    if marks.not_computed:
        yield warning(
            "cell-without-value",
            f"file:{name}",
            f"{name}: {len(marks.not_computed)} cells have a formula without a value, or an error "
            f"in place of one ({_listed(marks.not_computed)}); they were read as empty.",
            "Open and save it in a spreadsheet program, or put the values in.",
        )
    if marks.percentages:
        yield warning(
            "shown-as-percentage",
            f"file:{name}",
            f"{name}: {len(marks.percentages)} numbers are shown as percentages "
            f"({_listed(marks.percentages)}); the file holds, and they were read as, shares: "
            "2.5 % is 0.025.",
            "Show them as plain numbers, or say --unit 'Theirs=fraction'.",
        )


def _table(
    rows: Sequence[tuple[int, list[Any]]], name: str
) -> tuple[pd.DataFrame, tuple[str, ...], list[Finding]]:
    first = rows[0][1]
    header = ["" if cell is None else str(_plain(cell)).strip() for cell in first]
    while header and not header[-1]:
        header.pop()
    check_header(header, name)
    width = len(header)
    kept, places, doubts = [], [], []
    for number, row in rows[1:]:
        if any(cell is not None and cell != "" for cell in row[width:]):
            reason = f"it has {len(row)} cells, not {width}"
            doubts.append(bad_row(name, f"row {number}", reason))
            continue
        plain = [_plain(cell) for cell in row[:width]]
        kept.append([*plain, *[None] * (width - len(plain))])
        places.append(f"row {number}")
    if doubts and not kept:
        raise UserError(
            f"{name}: row {rows[0][0]} names {width} columns, and every row below has more cells. "
            "If it is a title, delete it; the first row that is not empty must name the columns."
        )
    cells = pd.DataFrame(kept, columns=header, dtype=object)
    return cells.loc[:, [bool(column) for column in header]], tuple(places), doubts


def _opened(path: Path, layer: str | None) -> tuple[list[tuple[int, list[Any]]], _Marks]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        book = openpyxl.load_workbook(path, read_only=True, data_only=True, keep_links=False)
        with closing(book):
            sheet = _sheet(book, layer, path.name)
            rows = list(itertools.islice(_rows(sheet, path.name), MAX_ROWS))
            percentages = _percentages(sheet)
            # A sheet read row by row does not tell what is merged, nor what has a formula.
            member = str(sheet._worksheet_path)
    with zipfile.ZipFile(path) as archive:
        marks = _marks(archive.read(member))
    return rows, replace(marks, percentages=percentages)


def workbook_rows(path: Path, layer: str | None) -> SourceRows:
    """One sheet as rows; its first row that is not empty names the columns.

    Hidden and empty sheets are passed over unless `layer` names one. Values of formulas are
    those that the program which saved the file has computed.

    Raises:
        UserError: no workbook, several sheets and none named, no header, or one that would
            unpack to too much.
    """
    checked_members(path)
    try:
        rows, marks = _opened(path, layer)
    except UserError:
        raise
    except Exception as problem:  # a stranger's workbook makes the library raise anything
        reason = " ".join(str(problem).split())[:160] or type(problem).__name__
        raise UserError(f"{path.name} cannot be read as a workbook: {reason}.") from None
    if not rows:
        raise UserError(f"{path.name}: sheet '{layer}' is empty.")
    cells, places, doubts = _table(rows, path.name)
    cells = with_joined_shapes(cells)
    shapes, crs = text_shapes(cells, decimal_comma=False)
    findings = (*doubts, *_mark_doubts(marks, path.name))
    return SourceRows(cells, places, shapes, crs, False, findings, crs is not None)
