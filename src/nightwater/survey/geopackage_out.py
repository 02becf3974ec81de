"""The record as a plain GeoPackage, a layer for each table; no course file."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import pandas as pd
import pyogrio

from nightwater.ground.columns import Kind
from nightwater.ground.record import Ground
from nightwater.survey.export_rows import ExportTable, export_tables

_TYPES: Final = {Kind.NUMBER: "float64", Kind.INTEGER: "Int64", Kind.YES_NO: "boolean"}


def _frame(each: ExportTable, crs: str) -> pd.DataFrame:
    columns: dict[str, Any] = {"id": pd.Series([row["id"] for row in each.rows], dtype=object)}
    for column in each.table.columns:
        values = [row[column.name] for row in each.rows]
        columns[column.name] = pd.Series(values, dtype=_TYPES.get(column.kind, object))
    frame = pd.DataFrame(columns)
    if each.shapes is None:
        return frame
    located: pd.DataFrame = gpd.GeoDataFrame(frame, geometry=list(each.shapes), crs=crs)
    return located


def _write_layer(path: Path, each: ExportTable, crs: str) -> None:
    shape = each.table.shape
    pyogrio.write_dataframe(
        _frame(each, crs),
        path,
        layer=each.table.name,
        driver="GPKG",
        geometry_type=None if shape is None else shape.value,
        append=path.exists(),
        layer_options={"IDENTIFIER": each.table.name, "DESCRIPTION": each.table.meaning},
    )


def geopackage_bytes(ground: Ground) -> bytes:
    """Every table as a layer of its name, in metres of the record; tables without shapes too."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "record.gpkg"
        for each in export_tables(ground):
            _write_layer(path, each, ground.crs)
        return path.read_bytes()
