"""GPX: a walk with a receiver, waypoints as points, tracks and routes as lines or rings."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely
from pyproj import Geod

from nightwater.findings import Finding, UserError, note, warning
from nightwater.ground.columns import Shape
from nightwater.survey.map_layers import layer_names, read_layer
from nightwater.survey.markup import check_root
from nightwater.survey.source_files import SourceRows

GPX_ENDINGS: Final = (".gpx",)
_LAYERS: Final = {
    Shape.POINT: ("waypoints",),
    Shape.LINE: ("tracks", "routes"),
    Shape.POLYGON: ("tracks", "routes"),
    None: ("waypoints",),
}
_SINGULAR: Final = {"waypoints": "waypoint", "tracks": "track", "routes": "route"}
# Common practice for a hand-held receiver, no source: a walk around ends where it began to
# within its error, and what is shorter around than 30 m is no area anybody walks.
RING_GAP_M: Final = 10.0
RING_LENGTH_M: Final = 30.0
_GLOBE: Final = Geod(ellps="WGS84")


def _chosen(layer: str | None, shape: Shape | None, known: list[str], name: str) -> list[str]:
    if layer is None:
        return [wanted for wanted in _LAYERS[shape] if wanted in known]
    if layer not in known:
        raise UserError(f"{name} has no layer '{layer}'. It holds {', '.join(known)}.")
    return [layer]


def _frames(path: Path, layer: str | None, shape: Shape | None) -> dict[str, gpd.GeoDataFrame]:
    content = path.read_bytes()
    check_root(content, "gpx", path.name)
    known = layer_names(content, path.name, "GPX")
    frames = {
        chosen: read_layer(content, chosen, path.name, "GPX")
        for chosen in _chosen(layer, shape, known, path.name)
    }
    return {chosen: f for chosen, f in frames.items() if isinstance(f, gpd.GeoDataFrame)}


def _length_m(line: Any) -> float:
    points = shapely.get_coordinates(line)
    return float(_GLOBE.line_length(points[:, 0], points[:, 1]))


def _gap_m(line: Any) -> float:
    (first_lon, first_lat), (last_lon, last_lat) = shapely.get_coordinates(line)[[0, -1]]
    return float(_GLOBE.inv(first_lon, first_lat, last_lon, last_lat)[2])


def _ring(shape: Any) -> tuple[Any, float]:
    """A walk that ends where it began as a polygon, with the gap [m]; another as it is, NaN."""
    parts = [part for part in shapely.get_parts(shape) if len(part.coords) > 2]
    if len(parts) != 1 or not np.isfinite(shapely.get_coordinates(parts)).all():
        return shape, float("nan")
    gap = _gap_m(parts[0])
    if not gap <= RING_GAP_M or not _length_m(parts[0]) >= RING_LENGTH_M:
        return shape, float("nan")
    return shapely.Polygon(shapely.get_coordinates(parts[0])), gap


def _rings(shapes: list[Any], name: str) -> tuple[list[Any], tuple[Finding, ...]]:
    closed = [(shape, float("nan")) if shape is None else _ring(shape) for shape in shapes]
    gaps = [gap for _, gap in closed if gap > 0]
    rings = [shape for shape, _ in closed]
    if not gaps:
        return rings, ()
    found = warning(
        "walk-closed",
        f"file:{name}",
        f"{name}: {len(gaps)} walks end up to {max(gaps):.1f} m from where they began and were "
        f"closed with a straight line; more than {RING_GAP_M:.0f} m is not closed.",
        "Look at them on the map.",
    )
    return rings, (found,)


def _walk(frames: dict[str, gpd.GeoDataFrame], name: str) -> Finding:
    listed = ", ".join(
        f"{len(frame)} {layer} ({shapely.get_num_coordinates(frame.geometry).sum()} points)"
        for layer, frame in frames.items()
    )
    return note(
        "receiver-walk",
        f"file:{name}",
        f"{name} was walked with a receiver: {listed or 'nothing'} taken. It does not say how "
        "exact its places are; a hand-held receiver is some metres off.",
        "Give evidence with --set evidence=… (surveyed, drawing or guessed).",
    )


def _cells(frames: dict[str, gpd.GeoDataFrame]) -> pd.DataFrame:
    rows: list[dict[Any, Any]] = []
    for frame in frames.values():
        rows += frame.drop(columns="geometry").astype(object).to_dict("records")
    return pd.DataFrame(rows, dtype=object).dropna(axis="columns", how="all")


def gpx_rows(path: Path, layer: str | None, shape: Shape | None) -> SourceRows:
    """A walk as rows: waypoints for tables of points, else tracks and routes.

    For tables of areas a walk that ends within 10 m of where it began is a ring. The columns
    are the format's own (name, sym, type, desc, ele …); ele is in metres by the format but is
    not taken for a height unless a person matches it.

    Raises:
        UserError: no GPX, or no such layer.
    """
    frames = _frames(path, layer, shape)
    places = [
        f"{_SINGULAR.get(name, name)} {number}"
        for name, frame in frames.items()
        for number in range(1, len(frame) + 1)
    ]
    shapes = [shape for frame in frames.values() for shape in frame.geometry]
    findings: tuple[Finding, ...] = (_walk(frames, path.name),)
    if shape is Shape.POLYGON:
        shapes, closed = _rings(shapes, path.name)
        findings += closed
    cells = _cells(frames)
    return SourceRows(
        cells, tuple(places), tuple(shapes), "EPSG:4326", False, findings, names_tell=True
    )
