"""A GeoJSON document that this program wrote, with all tables in one collection, read again."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import pandas as pd
from pyproj import CRS
from pyproj.exceptions import CRSError
from shapely.geometry import shape

from nightwater.findings import UserError

TABLE_PROPERTY: Final = "table"
MARK: Final = "nightwater_tables"  # member of the collection: table → its columns
_HEAD_BYTES: Final = 4096  # the mark stands first in what we write
_JSON_ENDINGS: Final = (".geojson", ".json")


def is_record_geojson(path: Path) -> bool:
    """Whether a file is one of ours."""
    if path.suffix.lower() not in _JSON_ENDINGS:
        return False
    with path.open("rb") as file:
        return f'"{MARK}"'.encode() in file.read(_HEAD_BYTES)


def _refused(path: Path, reason: str) -> UserError:
    return UserError(f"{path.name} cannot be read as a map layer: {reason}.")


def _document(path: Path) -> dict[str, Any]:
    try:
        document = json.loads(path.read_bytes().decode("utf-8-sig"))
    except (ValueError, RecursionError) as problem:
        raise _refused(path, " ".join(str(problem).split())[:160]) from None
    tables = document.get(MARK) if isinstance(document, dict) else None
    if not isinstance(tables, dict) or not isinstance(document.get("features"), list):
        raise _refused(path, "it holds no features of named tables")
    return dict(document)


def _chosen(tables: Mapping[str, Any], layer: str | None, name: str) -> list[str]:
    if layer is None:
        raise UserError(
            f"{name} holds {len(tables)} layers. Name one with --layer: {', '.join(tables)}."
        )
    if layer not in tables:
        raise UserError(f"{name} has no layer '{layer}'. It holds {', '.join(tables)}.")
    columns = tables[layer]
    return [str(column) for column in columns] if isinstance(columns, list) else []


def _system(document: Mapping[str, Any], path: Path) -> CRS:
    named = document.get("crs")
    try:
        return CRS.from_user_input("EPSG:4326" if named is None else named["properties"]["name"])
    except (CRSError, KeyError, TypeError):
        raise _refused(path, "its coordinate system is not a known one") from None


def _place(geometry: Any) -> Any:
    if geometry is None:
        return None
    try:
        return shape(geometry)
    except Exception:  # a mangled geometry makes the library raise anything
        return shape({"type": "Point", "coordinates": ()})  # a place that no row can have


def _of_table(document: Mapping[str, Any], layer: str | None) -> list[tuple[int, Any, Any]]:
    """Number, properties and geometry of the features of one table."""
    found = []
    for number, feature in enumerate(document["features"], 1):
        properties = feature.get("properties") if isinstance(feature, dict) else None
        if isinstance(properties, dict) and properties.get(TABLE_PROPERTY) == layer:
            found.append((number, properties, feature.get("geometry")))
    return found


def record_geojson_cells(
    path: Path, layer: str | None
) -> tuple[pd.DataFrame, tuple[str, ...], tuple[Any, ...], CRS]:
    """One table of a document of ours: cells, where they stand, shapes, coordinate system.

    Args:
        path: a file of which `is_record_geojson` holds.
        layer: the table.

    Raises:
        UserError: broken JSON, no layer named, or none of that name.
    """
    document = _document(path)
    columns = _chosen(document[MARK], layer, path.name)
    features = _of_table(document, layer)
    rows = [[properties.get(column) for column in columns] for _, properties, _ in features]
    places = tuple(f"feature {number}" for number, _, _ in features)
    shapes = tuple(_place(geometry) for _, _, geometry in features)
    cells = pd.DataFrame(rows, columns=columns, dtype=object)
    return cells, places, shapes, _system(document, path)
