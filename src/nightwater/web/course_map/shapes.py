"""The record as the map element draws it: plain coordinates in the course's own metres.

The map has no background: shapes lie in the projected system of the record. The document's
form is declared in `frontend/src/map/documents.ts`.
"""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np
import shapely

from nightwater.ground.links import head_throw_m
from nightwater.ground.record import Ground
from nightwater.web.figures import text_or
from nightwater.web.places import Places

Document = dict[str, Any]
_DECIMALS: Final = 2
POINT_TABLES: Final = ("pumps", "valves", "sources", "meters", "gauges")


def _number(value: Any) -> float | None:
    return None if value is None or math.isnan(value) else round(float(value), _DECIMALS)


def _places(ring: Any) -> list[list[float]]:
    listed: list[list[float]] = np.round(shapely.get_coordinates(ring), _DECIMALS).tolist()
    return listed


def _drawn(rows: Any) -> list[tuple[str, Any, Any]]:
    """Id, row and shape of every row that has a shape."""
    shapes = rows.geometry
    listed = [
        (str(name), row, shape) for (name, row), shape in zip(rows.iterrows(), shapes, strict=True)
    ]
    return [(n, row, shape) for n, row, shape in listed if shape is not None and not shape.is_empty]


def _polygons(shape: Any) -> list[list[list[list[float]]]]:
    return [
        [_places(part.exterior), *(_places(hole) for hole in part.interiors)]
        for part in shapely.get_parts(shape)
    ]


def _areas(ground: Ground) -> list[Document]:
    return [
        {
            "id": n,
            "label": text_or(row["label"], n),
            "kind": row["kind"],
            "polygons": _polygons(shape),
        }
        for n, row, shape in _drawn(ground.areas)
    ]


def _lines(shape: Any) -> list[list[list[float]]]:
    return [_places(part) for part in shapely.get_parts(shape)]


def _holes(ground: Ground) -> list[Document]:
    return [
        {"id": n, "label": str(int(row["number"])), "lines": _lines(shape)}
        for n, row, shape in _drawn(ground.holes)
    ]


def _pipes(ground: Ground) -> list[Document]:
    return [
        {
            "id": n,
            "label": text_or(row["label"], n),
            "lines": _lines(shape),
            "width_mm": _number(row["diameter_mm"]),
        }
        for n, row, shape in _drawn(ground.pipes)
    ]


def _heads(ground: Ground) -> list[Document]:
    throw_m = head_throw_m(ground)
    return [
        {
            "id": n,
            "label": text_or(row["label"], n),
            "x": _number(shape.x),
            "y": _number(shape.y),
            "throw_m": _number(throw_m[n]),
            "arc_deg": _number(row["arc_deg"]),
            "bearing_deg": _number(row["bearing_deg"]),
            "station": row["station"],
        }
        for n, row, shape in _drawn(ground.heads)
    ]


def _points(ground: Ground) -> list[Document]:
    return [
        {"id": n, "table": table, "label": text_or(row["label"], n), "x": shape.x, "y": shape.y}
        for table in POINT_TABLES
        for n, row, shape in _drawn(ground.table(table))
    ]


def map_document(ground: Ground) -> Document:
    """Every shape that the map draws."""
    return {
        "areas": _areas(ground),
        "holes": _holes(ground),
        "pipes": _pipes(ground),
        "heads": _heads(ground),
        "points": _points(ground),
    }


def subject_texts(ground: Ground, places: Places) -> dict[str, str]:
    """What the map says of an area or station before anything is planned."""
    areas = {
        f"areas:{name}": f"{places.area_label[str(name)]}, {kind}"
        for name, kind in ground.areas["kind"].items()
    }
    stations = {
        f"stations:{name}": f"Station {label}, {len(places.station_heads.get(name, []))} heads"
        for name, label in places.station_label.items()
    }
    return areas | stations
