"""Paths and buildings of open map data: which are taken, and how a line becomes an area."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from pyproj import CRS
from shapely.affinity import scale

from nightwater.findings import Finding, UserError, note
from nightwater.survey.cells import is_missing
from nightwater.survey.far_rows import in_degrees
from nightwater.survey.source_files import SourceRows
from nightwater.units import M_PER_FT, MM_PER_INCH, to_si, unit_named

PATH_GOLF: Final = ("path", "cartpath")
PATH_HIGHWAYS: Final = ("path", "footway", "pedestrian", "steps", "cycleway", "track")
REACH_M: Final = 40.0  # no head throws farther, so what lies beyond it matters to none
WIDEST_M: Final = 20.0  # a wider one is a square or a mistake
# Length of a degree on a ball of the Earth's mean radius, 6371.0088 km: right within 0.6 %,
# which is 2 cm of a path 3 m wide.
_M_PER_DEGREE: Final = 6_371_008.8 * np.pi / 180.0
_MM_PER_M: Final = 1000.0
_METRES: Final = re.compile(r"(\d+(?:[.,]\d+)?)\s*m?")
_FEET: Final = re.compile(r"(\d+(?:\.\d+)?)\s*(?:ft|')\s*(?:(\d+(?:\.\d+)?)\s*\")?")
_TOLD: Final = re.compile(r"(\d+(?:[.,]\d+)?)\s*([a-z-]+)")
_NO: Final = ("no", "false", "0")


def tagged_width_m(cell: Any) -> float | None:
    """A width as the open tagging writes it [m], None where it says none that a path has.

    A bare number is metres by that tagging's own rule; feet and inches stand as 8' or 7'6"
    (from memory of its page on units).
    """
    said = "" if is_missing(cell) else str(cell).strip()
    metres, feet = _METRES.fullmatch(said), _FEET.fullmatch(said)
    if metres is not None:
        width = float(metres[1].replace(",", "."))
    elif feet is not None:
        width = float(feet[1]) * M_PER_FT + float(feet[2] or 0.0) * MM_PER_INCH / _MM_PER_M
    else:
        return None
    return width if 0.0 < width <= WIDEST_M else None


def told_width_m(words: str) -> float:
    """A width as a person says it, with its unit: "2.4m", "8 ft" [m].

    Raises:
        UserError: no number with a unit of length, or wider than any path.
    """
    found = _TOLD.fullmatch(words.strip().lower())
    if found is None or unit_named(found[2]).quantity != "length":
        raise UserError(f"'{words}' is no width. Write a number and its unit: 2.4m, or 8ft.")
    width = float(to_si(float(found[1].replace(",", ".")), found[2]))
    if not 0.0 < width <= WIDEST_M:
        raise UserError(f"A path {words} wide is none; a width up to {WIDEST_M:g} m is wanted.")
    return width


def _said(cells: pd.DataFrame, key: str) -> NDArray[np.object_]:
    if key not in cells:
        return np.full(len(cells), "", dtype=object)
    return np.array(["" if is_missing(c) else str(c).lower() for c in cells[key]], dtype=object)


def hard_kinds(cells: pd.DataFrame) -> pd.Series[Any]:
    """ "path" or "building" of each feature by its tags, None for what is neither."""
    golf, highway, building = (_said(cells, key) for key in ("golf", "highway", "building"))
    path = np.isin(golf, PATH_GOLF) | ((golf == "") & np.isin(highway, PATH_HIGHWAYS))
    built = np.isin(golf, ("", "clubhouse")) & (building != "") & ~np.isin(building, _NO)
    kinds = np.full(len(cells), None, dtype=object)
    kinds[built], kinds[path] = "building", "path"
    return pd.Series(kinds, cells.index, dtype=object)


def _scale(rows: SourceRows, shape: Any) -> tuple[float, float]:
    """Metres that one unit east and one north are long where a shape lies.

    Raises:
        UserError: a system that says no length.
    """
    crs = CRS.from_user_input(rows.crs)
    if in_degrees(crs):
        north = float(np.radians(shapely.get_coordinates(shape)[:, 1].mean()))
        return _M_PER_DEGREE * float(np.cos(north)), _M_PER_DEGREE
    if not crs.is_projected:
        raise UserError(f"Widths cannot be drawn in '{crs.name}', which says no length.")
    unit = float(crs.axis_info[0].unit_conversion_factor)
    return unit, unit


def _widened(rows: SourceRows, line: Any, width_m: float) -> Any:
    """The ground of a path along its line, ends cut off flat."""
    east, north = _scale(rows, line)
    metres = scale(line, east, north, origin=(0, 0))
    return scale(
        shapely.buffer(metres, width_m / 2.0, cap_style="flat"), 1 / east, 1 / north, origin=(0, 0)
    )


def _is_ground(shape: Any) -> bool:
    return shape is not None and shape.geom_type.endswith("Polygon")


def _is_line(shape: Any) -> bool:
    return shape is not None and shape.geom_type.endswith("LineString")


def _near_golf(rows: SourceRows) -> NDArray[np.bool_]:
    """Whether each feature lies within `REACH_M` of one that bears a golf tag."""
    shapes = np.array([*(rows.shapes or ()), None], dtype=object)[:-1]
    near = _said(rows.cells, "golf") != ""
    drawn = ~(shapely.is_missing(shapes) | shapely.is_empty(shapes))
    golf = np.flatnonzero(near & drawn)
    asked = np.flatnonzero(~near & drawn & hard_kinds(rows.cells).notna().to_numpy())
    if not len(golf) or not len(asked) or rows.crs is None:
        return np.asarray(near)
    tree = shapely.STRtree(shapes[golf])
    for row in asked:
        east, north = _scale(rows, shapes[row])
        west, south, far, top = shapely.bounds(shapes[row])
        window = shapely.box(
            west - REACH_M / east,
            south - REACH_M / north,
            far + REACH_M / east,
            top + REACH_M / north,
        )
        own = scale(shapes[row], east, north, origin=(0, 0))
        near[row] = any(
            shapely.dwithin(own, scale(shapes[golf[hit]], east, north, origin=(0, 0)), REACH_M)
            for hit in tree.query(window)
        )
    return np.asarray(near)


def _ring(shape: Any, tags: str) -> Any:
    """A path as it is meant: a closed one that is not tagged as an area runs around something."""
    if _is_ground(shape) and tags != "yes":
        return shapely.boundary(shape)
    return shape


@dataclass(frozen=True)
class HardGround:
    """What of a file is a path or a building.

    Attributes:
        rows: the file, lines of paths widened to the ground they take.
        kinds: "path", "building" or None of each row; None where it is not taken.
    """

    rows: SourceRows
    kinds: pd.Series[Any]


def hard_ground(rows: SourceRows, name: str, path_width_m: float | None) -> HardGround:
    """Paths and buildings of a tagged file that lie where somebody waters.

    A path drawn as a line takes the ground of its tagged width (`width`, else `est_width`), else
    of the width that a person says; without either it is left aside and told, for a width
    cannot be seen from a line. What bears no golf tag is taken within `REACH_M` of what does.

    Args:
        rows: the file.
        name: its name, for messages.
        path_width_m: width of the paths that say none [m], or None.
    """
    kinds = hard_kinds(rows.cells).where(_near_golf(rows), None)
    widths = _widths_m(rows.cells, path_width_m)
    closed = _said(rows.cells, "area")
    shapes = list(rows.shapes or [None] * len(rows.cells))
    bare = 0
    for place, kind in enumerate(kinds):
        shape = _ring(shapes[place], closed[place]) if kind == "path" else shapes[place]
        if kind is None or _is_ground(shape):
            continue
        line = kind == "path" and _is_line(shape) and rows.crs is not None
        width = widths[place]
        bare += line and width is None
        kinds.iloc[place] = kind if line and width is not None else None
        if line and width is not None:
            shapes[place] = _widened(rows, shape, width)
    findings = (*rows.findings, *_without_width(bare, name))
    return HardGround(replace(rows, shapes=tuple(shapes), findings=findings), kinds)


def _widths_m(cells: pd.DataFrame, told_m: float | None) -> Sequence[float | None]:
    nothing = pd.Series([None] * len(cells), cells.index, dtype=object)
    pairs = zip(cells.get("width", nothing), cells.get("est_width", nothing), strict=True)
    return [tagged_width_m(width) or tagged_width_m(guess) or told_m for width, guess in pairs]


def _without_width(count: int, name: str) -> tuple[Finding, ...]:
    if not count:
        return ()
    found = note(
        "path-without-width",
        f"file:{name}",
        f"{name}: {count} paths are lines that say no width, so the ground they take is not known; "
        "they were left aside.",
        "Say how wide they are (--path-width 2.4m, or 8ft), or draw them as areas.",
    )
    return (found,)
