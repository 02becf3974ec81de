"""Ids that were made up, settled against the record: the same thing, or a new number."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely

from nightwater.ground.columns import Shape, Table
from nightwater.survey.read import SurveyRows, numbered_id

SAME_POINT_M: Final = 0.5
SAME_LINE_M: Final = 0.5  # greatest distance between two drawings of one line
SAME_GROUND_SHARE: Final = 0.98  # of the ground that two drawings of one area cover together


def _same_thing(one: Any, other: Any, shape: Shape) -> bool:
    if shape is Shape.POLYGON:
        together = shapely.area(shapely.union(one, other))
        return bool(shapely.area(shapely.intersection(one, other)) >= SAME_GROUND_SHARE * together)
    if shape is Shape.LINE:
        return bool(shapely.hausdorff_distance(one, other) <= SAME_LINE_M)
    return bool(shapely.distance(one, other) <= SAME_POINT_M)


def _by_place(rows: pd.DataFrame, present: pd.DataFrame, shape: Shape) -> dict[str, str]:
    """Made-up id → the record's id of what stands in the same place, nearest first."""
    known = present[present.geometry.notna()]
    if known.empty:
        return {}
    tree, ids = shapely.STRtree(known.geometry.to_numpy()), known.index.to_numpy()
    shapes = rows["geometry"].to_numpy()
    mine, theirs = tree.query(shapes, predicate="dwithin", distance=SAME_POINT_M)
    far = shapely.distance(shapes[mine], known.geometry.to_numpy()[theirs])
    found: dict[str, str] = {}
    for place in np.argsort(far, kind="stable"):
        new, old = str(rows.index[mine[place]]), str(ids[theirs[place]])
        free = new not in found and old not in found.values()
        pair = shapes[mine[place]], known.geometry.to_numpy()[theirs[place]]
        if free and _same_thing(*pair, shape):
            found[new] = old
    return found


def _by_label(rows: pd.DataFrame, present: pd.DataFrame) -> dict[str, str]:
    """Made-up id → the record's id of the one row with the same label."""
    if "label" not in rows:
        return {}
    mine, known = (frame["label"].dropna().drop_duplicates(keep=False) for frame in (rows, present))
    ids = pd.Series(known.index.astype(str), index=known.to_numpy())
    return {str(new): str(ids[label]) for new, label in mine.items() if label in ids.index}


def _renamed(
    made: list[str], same: Mapping[str, str], taken: set[str], table: str
) -> dict[str, str]:
    names = dict(same)
    number = 0
    for identity in made:
        if identity in names:
            continue
        name = identity
        while name in taken:
            number += 1
            name = numbered_id(table, number)
        names[identity] = name
        taken.add(name)
    return names


def settled(rows: SurveyRows, present: pd.DataFrame, table: Table) -> SurveyRows:
    """The survey with its made-up ids settled.

    A row without an id that stands where the record has something (or, without geometry,
    bears the label of exactly one row) is that thing and takes its id. Any other takes an id
    that the record does not use, so that it never overwrites a stranger.

    Args:
        rows: the survey.
        present: the record's table, index = id.
        table: its declaration.
    """
    made = [str(key) for key in rows.rows.index if key in rows.generated]
    if not made:
        return rows
    unnamed = rows.rows.loc[made]
    located = table.shape is not None and "geometry" in unnamed
    same = (
        _by_place(unnamed, present, table.shape)
        if located and table.shape is not None
        else _by_label(unnamed, present)
    )
    given = {str(key) for key in rows.rows.index} - set(made)
    same = {new: old for new, old in same.items() if old not in given}
    taken = given | {str(key) for key in present.index}
    names = _renamed(made, same, taken, table.name)
    return replace(
        rows,
        rows=rows.rows.rename(index=names),
        places={names.get(key, key): place for key, place in rows.places.items()},
        generated=frozenset(names[key] for key in made),
        far=frozenset(names.get(key, key) for key in rows.far),
    )
