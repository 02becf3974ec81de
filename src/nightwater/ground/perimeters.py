"""Collars and surrounds, drawn by offsetting greens."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
import shapely

from nightwater.findings import Finding, UserError, note
from nightwater.ground.columns import Table
from nightwater.ground.play import area_holes
from nightwater.ground.record import Ground, conform
from nightwater.ground.shapes import Geometries, sound_shapes
from nightwater.ground.tables import TABLES, WATERED_KINDS

AREAS: Final[Table] = TABLES["areas"]
FARTHEST_M: Final = 60.0  # beyond this it is no perimeter of a green
LEAST_M2: Final = 1.0
KEPT_KINDS: Final = ("rough", "native", "grounds")  # a perimeter is drawn upon these
NAME: Final = "perimeter"


def _rings(greens: Geometries, inner_m: float, outer_m: float) -> Geometries:
    inner = shapely.buffer(greens, inner_m) if inner_m else greens
    return np.asarray(shapely.difference(shapely.buffer(greens, outer_m), inner), dtype=object)


def _without(rings: Geometries, taken: Geometries) -> Geometries:
    """Each ring without what lies on it: other turf, sand, water."""
    left = rings.copy()
    ring, other = shapely.STRtree(taken).query(rings, predicate="intersects")
    for place in np.unique(ring):
        left[place] = shapely.difference(
            left[place], shapely.union_all(taken[other[ring == place]])
        )
    return left


def _shared_out(rings: Geometries) -> Geometries:
    """Ground that two rings cover goes to the earlier green only."""
    left = rings.copy()
    one, other = shapely.STRtree(rings).query(rings, predicate="intersects")
    for place in np.unique(one[other < one]):
        earlier = rings[other[(one == place) & (other < place)]]
        left[place] = shapely.difference(left[place], shapely.union_all(earlier))
    return left


def _check_distances(inner_m: float, outer_m: float, kind: str) -> None:
    if not 0.0 <= inner_m < outer_m <= FARTHEST_M:
        raise UserError(
            f"A perimeter from {inner_m:g} m to {outer_m:g} m cannot be drawn. Give an inner "
            f"distance of 0 m or more and an outer one beyond it, up to {FARTHEST_M:g} m."
        )
    if kind not in WATERED_KINDS:
        raise UserError(f"A perimeter is turf; '{kind}' is none of {', '.join(WATERED_KINDS)}.")


def _new_id(green: str, known: set[str]) -> str:
    name, number = f"{green}-{NAME}", 1
    while name in known:
        number += 1
        name = f"{green}-{NAME}-{number}"
    known.add(name)
    return name


def propose_perimeters(
    ground: Ground, inner_m: float, outer_m: float, kind: str = "approach"
) -> tuple[pd.DataFrame, list[Finding]]:
    """A ring around each green, without the other turf, sand and water that it meets.

    Rough, native ground and grounds lie under it and are not subtracted. Where two rings meet
    the green that stands earlier in the record keeps the ground.

    Args:
        ground: the record.
        inner_m, outer_m: distances from the edge of the green [m].
        kind: what kind of turf the ring is.

    Returns:
        New rows of the table `areas` (id, label, kind, hole, evidence "guessed", polygon),
        and a finding for each green that has no room for one.

    Raises:
        UserError: distances out of order, or a kind that is not watered.
    """
    _check_distances(inner_m, outer_m, kind)
    kinds, shapes = ground.areas["kind"], sound_shapes(ground.areas, "areas")
    is_green = (kinds == "green").to_numpy() & ~shapely.is_empty(shapes)
    greens, rows = shapes[is_green], ground.areas[is_green]
    taken = shapes[~kinds.isin(KEPT_KINDS).to_numpy() & ~shapely.is_empty(shapes)]
    rings = _shared_out(_without(_rings(greens, inner_m, outer_m), taken))
    room = shapely.area(rings) >= LEAST_M2
    known = {str(area) for area in ground.areas.index}
    labels = rows["label"].where(rows["label"].notna(), rows.index.to_series())
    found = pd.DataFrame(
        {
            "label": [f"{label} {NAME}" for label in labels],
            "kind": kind,
            "hole": area_holes(ground).reindex(rows.index).to_numpy(),
            "evidence": "guessed",
            "geometry": rings,
        },
        index=[_new_id(str(green), known) for green in rows.index],
    )
    return conform(found[room], AREAS, ground.crs), _no_room(rows.index[~room], outer_m)


def _no_room(greens: pd.Index[Any], outer_m: float) -> list[Finding]:
    return [
        note(
            "perimeter-without-room",
            f"areas:{green}",
            f"Within {outer_m:g} m of green {green} all ground is other turf, sand or water.",
            "Nothing need be done: a perimeter is drawn there already.",
        )
        for green in greens
    ]


def with_new(ground: Ground, table: str, rows: pd.DataFrame) -> Ground:
    """The ground with new rows behind those that a table has.

    Args:
        ground: the record.
        table: "areas" for `propose_perimeters`, "holes" for `lines.propose_lines`.
        rows: the proposed rows, all or some of them; columns the table lacks are left out.

    Raises:
        UserError: an id is in the table already.
    """
    here = ground.table(table)
    twice = [str(name) for name in rows.index if name in here.index]
    if twice:
        raise UserError(
            f"{', '.join(twice[:5])} is in {table} already. The record has changed: propose again."
        )
    joined = pd.concat([here.astype(object), rows.astype(object)])
    return ground.with_table(table, joined)
