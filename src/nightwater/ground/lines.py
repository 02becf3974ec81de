"""Lines of play, proposed where nobody drew them: tees, middle of the fairway, green."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import networkx as nx
import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment

from nightwater.ground.medial import medial_points
from nightwater.ground.play import area_holes
from nightwater.ground.record import Ground
from nightwater.ground.shapes import Geometries, sound_shapes

FAIRWAY_TO_GREEN_M: Final = 80.0
TEE_TO_FAIRWAY_M: Final = 230.0  # a carry longer than this is not played
SHORT_HOLE_M: Final = (50.0, 240.0)  # tee to green of a hole without a fairway
TEES_TOGETHER_M: Final = 25.0
BEHIND_SHARE: Final = 0.8  # a tee is about as far from its green as the fairway's far end
_NO_FAIRWAY_COST_M: Final = 100.0
_NEVER: Final = 1e6
_DECLARED_SURE: Final = 0.6
_GUESSED_SURE: Final = 0.3
COLUMNS: Final = ("label", "number", "evidence", "geometry", "confidence", "reasons")


@dataclass(frozen=True)
class _Parts:
    """What a hole is made of: a name where one is declared, and places of its areas."""

    name: str | None
    green: int
    tees: tuple[int, ...]
    fairways: tuple[int, ...]


def _declared(ground: Ground, kinds: NDArray[np.object_]) -> Iterator[_Parts]:
    """Holes that areas name and the record does not have."""
    hole = ground.areas["hole"].reset_index(drop=True)
    named = hole[hole.notna() & ~hole.isin(ground.holes.index)]
    for name, places in named.groupby(named, sort=True):
        by_kind = {
            kind: tuple(int(at) for at in places.index if kinds[at] == kind)
            for kind in ("green", "tee", "fairway")
        }
        if by_kind["green"] and (by_kind["tee"] or by_kind["fairway"]):
            yield _Parts(str(name), by_kind["green"][0], by_kind["tee"], by_kind["fairway"])


def _assigned(cost: NDArray[np.float64]) -> dict[int, int]:
    """Rows to columns at the least sum, those that may be."""
    rows, columns = linear_sum_assignment(np.minimum(cost, _NEVER))
    pairs = zip(rows.tolist(), columns.tolist(), strict=True)
    return {row: column for row, column in pairs if cost[row, column] < _NEVER}


def _apart_m(one: Geometries, other: Geometries) -> NDArray[np.float64]:
    return np.asarray(shapely.distance(one[:, None], other[None, :]), dtype=float)


def _clusters(tees: Geometries) -> list[tuple[int, ...]]:
    """Tees that stand together, as places."""
    graph: nx.Graph[int] = nx.Graph()
    graph.add_nodes_from(range(len(tees)))
    near = np.nonzero(_apart_m(tees, tees) <= TEES_TOGETHER_M)
    graph.add_edges_from(zip(near[0].tolist(), near[1].tolist(), strict=True))
    return sorted(tuple(sorted(members)) for members in nx.connected_components(graph))


def _far_end(fairway: Any, green: Any) -> Any:
    """The point of a fairway's edge farthest from its green."""
    points = np.asarray(shapely.points(shapely.get_coordinates(fairway)), dtype=object)
    return points[int(np.argmax(shapely.distance(points, green)))]


def _tee_costs_m(
    greens: Geometries, fairways: dict[int, Any], blocks: Geometries
) -> NDArray[np.float64]:
    """How far each block of tees stands from where each hole begins, shape (greens, blocks) [m].

    A hole with a fairway begins at its far end; one without counts from the green, at a
    price. What cannot be played is `_NEVER`.
    """
    cost = np.full((len(greens), len(blocks)), _NEVER)
    for row, green in enumerate(greens):
        if row in fairways:
            start = _far_end(fairways[row], green)
            away, back = shapely.distance(start, blocks), shapely.distance(green, blocks)
            behind = back >= BEHIND_SHARE * shapely.distance(green, start)
            cost[row] = np.where(behind & (away <= TEE_TO_FAIRWAY_M), away, _NEVER)
        else:
            away = shapely.distance(green, blocks)
            played = (away >= SHORT_HOLE_M[0]) & (away <= SHORT_HOLE_M[1])
            cost[row] = np.where(played, away + _NO_FAIRWAY_COST_M, _NEVER)
    return cost


def _blocks_of(cost: NDArray[np.float64]) -> dict[int, list[int]]:
    """Blocks of tees of each hole: one for each first, then the others where they are nearest."""
    first = _assigned(cost)
    found = {row: [block] for row, block in first.items()}
    for block in sorted(set(range(cost.shape[1])) - set(first.values())):
        rows = [row for row in found if cost[row, block] < _NEVER]
        if rows:
            found[min(rows, key=lambda row: (cost[row, block], row))].append(block)
    return found


def _guessed(
    kinds: NDArray[np.object_], shapes: Geometries, free: NDArray[np.bool_]
) -> Iterator[_Parts]:
    """Greens, fairways and tees that belong to nothing, matched by where they lie."""
    green, fairway, tee = (
        np.flatnonzero(free & (kinds == kind)) for kind in ("green", "fairway", "tee")
    )
    if not len(green) or not len(tee):
        return
    gap = _apart_m(shapes[green], shapes[fairway])
    own = _assigned(np.where(gap <= FAIRWAY_TO_GREEN_M, gap, _NEVER)) if len(fairway) else {}
    clusters = _clusters(shapes[tee])
    blocks = np.array([shapely.union_all(shapes[tee[list(c)]]) for c in clusters], dtype=object)
    turf = {row: shapes[fairway[column]] for row, column in own.items()}
    for row, found in _blocks_of(_tee_costs_m(shapes[green], turf, blocks)).items():
        tees = tuple(int(tee[at]) for block in found for at in clusters[block])
        yield _Parts(None, int(green[row]), tees, (int(fairway[own[row]]),) if row in own else ())


def _drawn(parts: _Parts, shapes: Geometries) -> Any:
    """Back tee, middle of the fairway, middle of the green."""
    green = shapely.centroid(shapes[parts.green])
    tees = shapely.centroid(shapes[list(parts.tees)])
    turf = shapely.union_all(shapes[list(parts.fairways)])
    if len(tees):
        toward = green if shapely.is_empty(turf) else turf
        first = tees[int(np.argmax(shapely.distance(tees, toward)))]
    else:
        first = _far_end(turf, shapes[parts.green])
    middle = medial_points(turf, first, green)
    points = [shapely.get_coordinates(first), middle, shapely.get_coordinates(green)]
    return shapely.MultiLineString([shapely.LineString(np.concatenate(points))])


def _row(parts: _Parts, ground: Ground, shapes: Geometries) -> dict[str, Any]:
    names = ground.areas.index
    digits = parts.name.lstrip("0") if parts.name and parts.name.isdigit() else ""
    made = f"{len(parts.tees)} tees, {len(parts.fairways)} fairways and green {names[parts.green]}"
    why = f"its areas name hole {parts.name}" if parts.name else "its areas lie in a row"
    sure = _DECLARED_SURE if parts.name else _GUESSED_SURE
    return {
        "id": parts.name or f"{names[parts.green]}-line",
        "label": f"Hole {digits or parts.name}" if parts.name else None,
        "number": int(digits) if digits else None,
        "evidence": "guessed",
        "geometry": _drawn(parts, shapes),
        "confidence": round(sure if parts.tees and parts.fairways else sure * 0.7, 2),
        "reasons": f"{why}; {made}",
    }


def propose_lines(ground: Ground) -> pd.DataFrame:
    """Lines of play for greens that no line reaches.

    Areas that name a hole which the record lacks make that hole. What names none is matched:
    each green to the nearest fairway (within 80 m), each of those to a block of tees
    (within 230 m of the fairway's far end, or 50 to 240 m from a green without a fairway),
    both at the least sum of distances. The line runs from the back tee through the middle
    of the fairway to the middle of the green. Practice greens may be taken for holes.

    Returns:
        New rows of the table `holes` (id: the declared hole, else the green's with "-line"),
        evidence "guessed", with confidence (0 to 1, never high) and reasons beside them.
    """
    shapes, kinds = sound_shapes(ground.areas, "areas"), ground.areas["kind"].to_numpy()
    there = ~shapely.is_empty(shapes)
    kinds = np.where(there, kinds, "")
    known = area_holes(ground) if len(ground.holes) else ground.areas["hole"]
    found = list(_declared(ground, kinds))
    found += _guessed(kinds, shapes, known.isna().to_numpy() & there)
    rows = pd.DataFrame([_row(parts, ground, shapes) for parts in found], columns=["id", *COLUMNS])
    return rows.set_index("id")
