"""KML and KMZ: placemarks as rows, folders as a column."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from nightwater.findings import Finding, UserError, note
from nightwater.survey.archives import unpacked
from nightwater.survey.kml_out import is_record_kml
from nightwater.survey.map_layers import layer_names, read_layer
from nightwater.survey.markup import check_root
from nightwater.survey.source_files import SourceRows

KML_ENDINGS: Final = (".kml", ".kmz")
# How a globe shows a placemark; nothing of what it is.
_SHOWING: Final = (
    "timestamp",
    "begin",
    "end",
    "altitudemode",
    "tessellate",
    "extrude",
    "visibility",
    "draworder",
    "icon",
    "snippet",
)
_Frames = list[tuple[str, gpd.GeoDataFrame]]


def _documents(path: Path) -> dict[str, bytes]:
    if path.suffix.lower() == ".kml":
        return {path.name: path.read_bytes()}
    documents = unpacked(path, ".kml")
    if not documents:
        raise UserError(f"{path.name} holds no .kml file. Export it again.")
    return documents


def _folders(content: bytes, name: str) -> _Frames:
    """Every folder that holds placemarks, with its name."""
    check_root(content, "kml", name)
    frames = [
        (folder, read_layer(content, place, name, "KML"))
        for place, folder in enumerate(layer_names(content, name, "KML"))
    ]
    return [(folder, frame) for folder, frame in frames if isinstance(frame, gpd.GeoDataFrame)]


def _chosen(folders: _Frames, layer: str | None, name: str) -> _Frames:
    if layer is None:
        return [(folder, frame) for folder, frame in folders if len(frame)]
    found = [(folder, frame) for folder, frame in folders if folder == layer]
    if not found:
        known = ", ".join(dict.fromkeys(folder for folder, _ in folders))
        raise UserError(f"{name} has no folder '{layer}'. It holds {known or 'none'}.")
    return found


def _column(theirs: str) -> str:
    return theirs.lower() if theirs.lower() in ("name", "description") else theirs


def _rows(folders: _Frames) -> tuple[list[dict[str, Any]], list[str], list[Any]]:
    rows: list[dict[str, Any]] = []
    places, shapes = [], []
    for folder, frame in folders:
        known = [c for c in frame.columns if c != "geometry" and c.lower() not in _SHOWING]
        cells: Iterable[Mapping[Any, Any]] = frame[known].astype(object).to_dict("records")
        rows += [{**{_column(str(k)): v for k, v in c.items()}, "folder": folder} for c in cells]
        shapes += list(frame.geometry)
        where = f"{folder}, " if len(folders) > 1 else ""
        places += [f"{where}placemark {number}" for number in range(1, len(frame) + 1)]
    return rows, places, shapes


def _flat_where_zero(shapes: Sequence[Any]) -> list[Any]:
    """Shapes without their heights where all are 0: most globes write one though none is known."""
    flat = np.array([*shapes, None], dtype=object)[:-1]
    heights = shapely.get_coordinates(flat, include_z=True)[:, 2]
    with np.errstate(invalid="ignore"):  # a place that is no number is told where rows are read
        return list(flat if np.nan_to_num(heights).any() else shapely.force_2d(flat))


def _together(folders: _Frames, name: str) -> tuple[Finding, ...]:
    if len(folders) < 2:
        return ()
    listed = ", ".join(f"{folder} ({len(frame)})" for folder, frame in folders)
    found = note(
        "folders-together",
        f"file:{name}",
        f"{name} has {len(folders)} folders, which were read together: {listed}.",
        "Name one with --layer if only that one is meant.",
    )
    return (found,)


def _without_twin_ids(cells: pd.DataFrame, name: str) -> tuple[pd.DataFrame, tuple[Finding, ...]]:
    """Ids that a program numbered anew in each folder are nobody's ids."""
    if "id" not in cells:
        return cells, ()
    given = cells["id"].dropna()
    twice = int(given[given != ""].duplicated().sum())
    if not twice:
        return cells, ()
    found = note(
        "ids-not-unique",
        f"file:{name}",
        f"{name}: {twice} placemarks bear an id that another has; its ids were left aside.",
        "Match a column of your own ids with --column 'Theirs=id'.",
    )
    return cells.drop(columns="id"), (found,)


def kml_rows(path: Path, layer: str | None = None) -> SourceRows:
    """Placemarks of a KML or KMZ file.

    The folder, the name and the description of a placemark and its extended data are columns.
    Folders are read together unless `layer` names one. Network links are not followed.

    Raises:
        UserError: no KML, an archive that unpacks to too much, or no such folder.
    """
    folders: _Frames = []
    documents = _documents(path)
    for member, content in documents.items():
        where = path.name if member == path.name else f"{path.name} ({member})"
        folders += _folders(content, where)
    folders = _chosen(folders, layer, path.name)
    rows, places, shapes = _rows(folders)
    cells = pd.DataFrame(rows, dtype=object).dropna(axis="columns", how="all")
    cells, doubts = _without_twin_ids(cells, path.name)
    ours = all(map(is_record_kml, documents.values()))
    if ours:
        cells = cells.drop(columns=["name", "description", "folder"], errors="ignore")
    findings = (*_together(folders, path.name), *doubts)
    flat = tuple(_flat_where_zero(shapes))
    return SourceRows(cells, tuple(places), flat, "EPSG:4326", False, findings, names_tell=not ours)
