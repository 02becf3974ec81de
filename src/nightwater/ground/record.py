"""The record of what is in the ground, as one frozen bundle of tables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import geopandas as gpd
import pandas as pd

from nightwater.ground.columns import Kind, Table
from nightwater.ground.tables import GROUND_TABLES, TABLES

_DTYPES: Mapping[Kind, str] = {
    Kind.TEXT: "object",
    Kind.INTEGER: "Int64",
    Kind.NUMBER: "float64",
    Kind.YES_NO: "boolean",
    Kind.DATE: "object",
    Kind.INSTANT: "object",
    Kind.DOCUMENT: "object",
}


def conform(rows: pd.DataFrame, table: Table, crs: str) -> pd.DataFrame:
    """Rows with every column of their table, in its order and type.

    The index is the id (text, named "id"). Missing columns come as missing values;
    text that is missing is None. A table with a shape comes as a GeoDataFrame.

    Args:
        rows: the columns that are known, index = id.
        table: the declaration.
        crs: the record's projected coordinate system, as "EPSG:n" or WKT.
    """
    data: dict[str, Any] = {}
    for column in table.columns:
        values = rows.get(column.name)
        series = pd.Series(values, index=rows.index, dtype="object")
        if _DTYPES[column.kind] == "object":
            data[column.name] = series.where(series.notna(), None)
        else:
            missing = pd.NA if column.kind is not Kind.NUMBER else float("nan")
            data[column.name] = series.where(series.notna(), missing).astype(_DTYPES[column.kind])
    frame = pd.DataFrame(data, index=pd.Index(rows.index.astype("object"), name="id"))
    if table.shape is None:
        return frame
    geometry = rows["geometry"].to_numpy() if "geometry" in rows else [None] * len(rows)
    return gpd.GeoDataFrame(frame, geometry=gpd.GeoSeries(geometry, index=frame.index, crs=crs))


def empty(table: Table, crs: str) -> pd.DataFrame:
    """A table with its columns and no rows."""
    return conform(pd.DataFrame(index=pd.Index([], dtype="object", name="id")), table, crs)


@dataclass(frozen=True)
class Ground:
    """Every surveyed table of a course; index = id, columns as `TABLES` declares.

    Geometry is in metres of the projected system `crs`. Tables are not changed in
    place: an edit makes a new `Ground`.
    """

    crs: str
    areas: gpd.GeoDataFrame
    holes: gpd.GeoDataFrame
    heads: gpd.GeoDataFrame
    nozzles: pd.DataFrame
    stations: pd.DataFrame
    controllers: pd.DataFrame
    pipes: gpd.GeoDataFrame
    valves: gpd.GeoDataFrame
    pumps: gpd.GeoDataFrame
    sources: gpd.GeoDataFrame
    meters: gpd.GeoDataFrame
    gauges: gpd.GeoDataFrame
    images: pd.DataFrame

    def table(self, name: str) -> pd.DataFrame:
        """One table by its name in `TABLES`."""
        frame: pd.DataFrame = getattr(self, name)
        return frame

    def with_table(self, name: str, rows: pd.DataFrame) -> Ground:
        """The same ground with one table exchanged (and conformed)."""
        return replace(self, **{name: conform(rows, TABLES[name], self.crs)})


def ground_from(crs: str, tables: Mapping[str, pd.DataFrame]) -> Ground:
    """A ground from the tables that are known; the others are empty."""
    bundle = {
        name: conform(tables[name], TABLES[name], crs)
        if name in tables
        else empty(TABLES[name], crs)
        for name in GROUND_TABLES
    }
    return Ground(crs=crs, **bundle)  # type: ignore[arg-type]
