"""Which reader a file goes to, by its ending and by what it holds."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Final

from nightwater.findings import UserError
from nightwater.ground.columns import Shape
from nightwater.survey import source_files
from nightwater.survey.drawing import DRAWING_ENDINGS, OWN_COLUMNS, DrawingWish, read_drawing
from nightwater.survey.gpx import GPX_ENDINGS, gpx_rows
from nightwater.survey.kml import KML_ENDINGS, kml_rows
from nightwater.survey.network_file import NETWORK_ENDINGS
from nightwater.survey.network_rows import network_rows
from nightwater.survey.osm import OSM_ENDINGS, answer_rows, markup_rows
from nightwater.survey.source_files import GEO_ENDINGS, TEXT_ENDINGS, SourceRows, check_file
from nightwater.survey.workbooks import WORKBOOK_ENDINGS, workbook_rows

ENDINGS: Final = (
    *TEXT_ENDINGS,
    *WORKBOOK_ENDINGS,
    *GEO_ENDINGS,
    *KML_ENDINGS,
    *GPX_ENDINGS,
    *OSM_ENDINGS,
    *DRAWING_ENDINGS,
    *NETWORK_ENDINGS,
)


def _drawing_rows(path: Path, wish: DrawingWish) -> SourceRows:
    """Rows of a drawing, or of a network of pipes."""
    if path.suffix.lower() in NETWORK_ENDINGS:
        return network_rows(path, wish.table)
    rows = read_drawing(path, wish)
    own = frozenset(OWN_COLUMNS)
    return SourceRows(rows.cells, rows.places, rows.shapes, rows.crs, False, rows.findings, own=own)


def read_source(
    path: Path,
    layer: str | None = None,
    shape: Shape | None = None,
    drawing: DrawingWish | None = None,
) -> SourceRows:
    """Read a file of any known kind.

    Args:
        path: the file.
        layer: which layer, folder or sheet of a file that holds several.
        shape: the geometry that is wanted, where a format keeps each in a layer of its own.
        drawing: what is wanted of a drawing, beside the layer.

    Raises:
        UserError: no such file, too large, of an unknown kind, or not readable at all.
    """
    check_file(path)
    ending = path.suffix.lower()
    if ending not in ENDINGS:
        known = ", ".join(ENDINGS)
        raise UserError(f"{path.name}: files ending in '{ending}' are not read. Known: {known}.")
    if ending in (*DRAWING_ENDINGS, *NETWORK_ENDINGS):
        return _drawing_rows(path, replace(drawing or DrawingWish(), layer=layer))
    if ending in KML_ENDINGS:
        return kml_rows(path, layer)
    if ending in GPX_ENDINGS:
        return gpx_rows(path, layer, shape)
    if ending in WORKBOOK_ENDINGS:
        return workbook_rows(path, layer)
    found = _open_map_data(path, ending)
    if found is None:
        return source_files.read_source(path, layer)
    if layer is not None:
        raise UserError(
            f"{path.name} has no layers. Leave --layer away; the tags tell things apart."
        )
    return found


def _open_map_data(path: Path, ending: str) -> SourceRows | None:
    """Rows of open map data; None where the file is something else."""
    if ending in OSM_ENDINGS:
        return markup_rows(path)
    return answer_rows(path) if ending == ".json" else None
