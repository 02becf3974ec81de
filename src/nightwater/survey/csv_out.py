"""The record as text tables, one for each table; shapes as WKT in metres of the record."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Mapping
from typing import Any, Final

import shapely
from pyproj import CRS

from nightwater.ground.record import Ground
from nightwater.survey.export_rows import ExportTable, export_tables

SHAPE_COLUMN: Final = "wkt"
_FIRST_DAY: Final = (1980, 1, 1, 0, 0, 0)  # the earliest an archive can write; we tell no time


def exact_wkt(shape: Any) -> str | None:
    """A shape as text that gives the same numbers back; None without a shape."""
    text: str | None = None
    if shape is not None:
        text = shapely.to_wkt(shape, rounding_precision=-1)
    return text


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return repr(value) if isinstance(value, float) else str(value)


def _text_table(each: ExportTable) -> bytes:
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    located = each.shapes is not None
    writer.writerow([*each.header, SHAPE_COLUMN] if located else each.header)
    for row, shape in each.located:
        cells = [_cell(row[name]) for name in each.header]
        writer.writerow([*cells, exact_wkt(shape) or ""] if located else cells)
    return out.getvalue().encode()


def csv_files(ground: Ground) -> dict[str, bytes]:
    """File name → content: a `.csv` in UTF-8 for each table.

    Beside each table with shapes lies a `.prj` of the same name that says their coordinate
    system (well-known text), as map programs look for it and `read_table` does.
    """
    system = CRS.from_user_input(ground.crs).to_wkt("WKT1_GDAL").encode()
    files = {}
    for each in export_tables(ground):
        files[f"{each.table.name}.csv"] = _text_table(each)
        if each.shapes is not None:
            files[f"{each.table.name}.prj"] = system
    return files


def zipped(files: Mapping[str, bytes]) -> bytes:
    """Files as one archive; the same files give the same bytes."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(zipfile.ZipInfo(name, _FIRST_DAY), content, zipfile.ZIP_DEFLATED)
    return out.getvalue()
