"""The record of what is in the ground, as one frozen bundle of tables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import geopandas as gpd
import pandas as pd

from nightwater.ground.columns import Kind, Table
from nightwater.ground.tables import GROUND_TABLES, TABLES


def _column_values(rows: pd.DataFrame, name: str, kind: Kind) -> pd.Series[Any]:
    known = rows[name] if name in rows else [None] * len(rows)
    series = pd.Series(list(known), index=rows.index, dtype=object)
    present = series.notna()
    if kind is Kind.NUMBER:
        return series.where(present, float("nan")).astype("float64")
    if kind is Kind.INTEGER:
        return series.where(present, pd.NA).astype("Int64")
    if kind is Kind.YES_NO:
        return series.where(present, pd.NA).astype("boolean")
    return series.where(present, None)


def conform(rows: pd.DataFrame, table: Table, crs: str) -> pd.DataFrame:
    """Rows with every column of their table, in its order and type.

    The index is the id (text, named "id"). Missing columns come as missing values;
    text that is missing is None. A table with a shape comes as a GeoDataFrame.

    Args:
        rows: the columns that are known, index = id.
        table: the declaration.
        crs: the record's projected coordinate system, as "EPSG:n" or WKT.
    """
    data = {column.name: _column_values(rows, column.name, column.kind) for column in table.columns}
    frame = pd.DataFrame(data, index=pd.Index(rows.index.astype(object), name="id"))
    if table.shape is None:
        return frame
    geometry = list(rows["geometry"]) if "geometry" in rows else [None] * len(rows)
    shapes = gpd.GeoSeries(geometry, index=frame.index, crs=crs)
    located: pd.DataFrame = gpd.GeoDataFrame(frame, geometry=shapes)
    return located


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
        changed: dict[str, Any] = {name: conform(rows, TABLES[name], self.crs)}
        return replace(self, **changed)


def ground_from(crs: str, tables: Mapping[str, pd.DataFrame]) -> Ground:
    """A ground from the tables that are known; the others are empty."""
    bundle: dict[str, Any] = {
        name: conform(tables[name], TABLES[name], crs)
        if name in tables
        else empty(TABLES[name], crs)
        for name in GROUND_TABLES
    }
    return Ground(crs=crs, **bundle)
