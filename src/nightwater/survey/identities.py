"""The rows of a survey settled against the record: the same thing again, or a new one."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely

from nightwater.ground.columns import Shape, Table
from nightwater.survey.assigning import assigned
from nightwater.survey.gates import SAME_GROUND_CLEAR
from nightwater.survey.likeness import Pairs, far_pairs, near_pairs
from nightwater.survey.read import SurveyRows, numbered_id

# A file of its own ids is a survey of the same things again from this share and count on; below,
# one new head beside an old one would be taken for it (no source).
SAME_SURVEY_SHARE: Final = 0.5
SAME_SURVEY_ROWS: Final = 3


@dataclass(frozen=True)
class Found:
    """How a row was found to be one of the record's.

    Attributes:
        distance_m: how far apart they are [m].
        shared: share of joint ground or course; 1 for points.
        beyond_gate: it lies beyond the gate, and was the only one left within a spacing.
        rival: id of another row of the record that fits nearly as well, or None.
        rival_row: where another row of the file stands that fits nearly as well, or None.
    """

    distance_m: float
    shared: float = 1.0
    beyond_gate: bool = False
    rival: str | None = None
    rival_row: str | None = None


@dataclass(frozen=True)
class Settled:
    """A survey of which every row bears the record's id, or one that the record does not use.

    Attributes:
        rows: the survey.
        found: the record's id → how its row was found by place.
        near: ids of the file's own → a row of the record within the gate, where the file as a
            whole is no second survey.
        foreign: how many rows bear ids of the file's own that the record does not know.
    """

    rows: SurveyRows
    found: Mapping[str, Found] = field(default_factory=dict)
    near: Mapping[str, tuple[str, float]] = field(default_factory=dict)
    foreign: int = 0


def _in_order(rows: pd.DataFrame) -> pd.DataFrame:
    """Rows by place, so that their order in the file decides nothing."""
    middles = shapely.centroid(rows["geometry"].to_numpy(dtype=object))
    names = np.array([str(key) for key in rows.index])
    return rows.iloc[np.lexsort((names, shapely.get_y(middles), shapely.get_x(middles)))]


def _without(rows: pd.DataFrame, ids: Collection[str]) -> pd.DataFrame:
    return rows.loc[np.array([str(key) not in ids for key in rows.index], dtype=bool)]


def _located(rows: pd.DataFrame) -> pd.DataFrame:
    shapes = rows["geometry"].to_numpy(dtype=object)
    placed = ~(shapely.is_missing(shapes) | shapely.is_empty(shapes))
    return _in_order(rows.loc[placed])


def _matches(
    pairs: Pairs, told: pd.DataFrame, known: pd.DataFrame, *, beyond_gate: bool
) -> dict[str, tuple[str, Found]]:
    """Id in the file → id of the record and how it was found."""
    mine, theirs = [str(key) for key in told.index], [str(key) for key in known.index]
    found = {}
    for choice in assigned(pairs):
        n, other = choice.pair, choice.other
        same_row = other is not None and pairs.told[other] == pairs.told[n]
        how = Found(
            float(pairs.distance_m[n]),
            float(pairs.shared[n]),
            beyond_gate,
            rival=theirs[pairs.known[other]] if other is not None and same_row else None,
            rival_row=mine[pairs.told[other]] if other is not None and not same_row else None,
        )
        found[mine[pairs.told[n]]] = (theirs[pairs.known[n]], how)
    return found


def by_place(told: pd.DataFrame, known: pd.DataFrame, table: Table) -> dict[str, tuple[str, Found]]:
    """Id in the file → the row of the record that it is, by place and attributes.

    First within the gate; then, for points, what is left over on both sides within one spacing.

    Args:
        told: rows of the survey.
        known: rows of the record that may be found.
        table: their declaration, with a shape.
    """
    told, known = _located(told), _located(known)
    if told.empty or known.empty:
        return {}
    found = _matches(near_pairs(told, known, table), told, known, beyond_gate=False)
    if table.shape is Shape.POINT:
        left = _without(told, found)
        free = _without(known, {old for old, _ in found.values()})
        found |= _matches(far_pairs(left, free), left, free, beyond_gate=True)
    return found


def _by_label(rows: pd.DataFrame, present: pd.DataFrame, table: Table) -> dict[str, str]:
    """Made-up id → the record's id of the one row with the same label; its links must agree."""
    if "label" not in rows:
        return {}
    mine, known = (frame["label"].dropna().drop_duplicates(keep=False) for frame in (rows, present))
    ids = pd.Series(known.index.astype(str), index=known.to_numpy())
    links = [c.name for c in table.columns if c.refers_to is not None and c.name in rows]
    told = dict(zip(map(str, rows.index), rows[links].to_dict("records"), strict=True))
    held = dict(zip(map(str, present.index), present[links].to_dict("records"), strict=True))
    pairs = {str(new): str(ids[label]) for new, label in mine.items() if label in ids.index}
    return {new: old for new, old in pairs.items() if _agree(told[new], held[old])}


def _agree(one: Mapping[Any, Any], other: Mapping[Any, Any]) -> bool:
    return all(
        pd.isna(value) or pd.isna(other[name]) or str(value) == str(other[name])
        for name, value in one.items()
    )


def _renamed(
    made: Iterable[str], same: Mapping[str, str], taken: set[str], table: str
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


def _nameless(rows: SurveyRows, present: pd.DataFrame, *, own_ids: bool) -> tuple[set[str], bool]:
    """Ids of the rows to be found by place, and whether that is because the file's are its own."""
    ids = {str(key) for key in rows.rows.index}
    given = (ids - rows.generated) | rows.refused
    known = given & {str(key) for key in present.index}
    foreign = bool(given) and (own_ids or not known)
    return (ids, True) if foreign else (ids & rows.generated, False)


def _is_same_survey(found: Mapping[str, Any], rows: pd.DataFrame) -> bool:
    return len(found) >= max(SAME_SURVEY_ROWS, SAME_SURVEY_SHARE * len(rows))


def settled(
    rows: SurveyRows, present: pd.DataFrame, table: Table, *, own_ids: bool = False
) -> Settled:
    """The survey with every row settled: the record's id, or one that nothing else bears.

    A row whose id the record knows is that row. One without an id, or each where the record
    knows none of the file's ids, is found again by place and attributes (without geometry: by
    its label). Any other takes an id that the record does not use, so that it never overwrites
    a stranger.

    Args:
        rows: the survey.
        present: the record's table, index = id.
        table: its declaration.
        own_ids: the file's ids are its own, even where the record uses the same ones.
    """
    nameless, foreign = _nameless(rows, present, own_ids=own_ids)
    if not nameless:
        return Settled(rows)
    rows = _unidentified(rows) if foreign else rows
    named = {str(key) for key in rows.rows.index} - nameless
    unnamed = _without(rows.rows, named)
    free = _without(present, named | rows.refused)
    same, found, near = _same_things(unnamed, free, table, foreign=foreign and not own_ids)
    known = {str(key) for key in present.index}
    names = _renamed(map(str, unnamed.index), same, named | known, table.name)
    renamed = replace(
        rows,
        rows=rows.rows.rename(index=names),
        places={names.get(key, key): place for key, place in rows.places.items()},
        generated=frozenset(names.get(key, key) for key in rows.generated),
        far=frozenset(names.get(key, key) for key in rows.far),
    )
    found = {old: _with_rival_place(how, rows.places) for old, how in found.items()}
    return Settled(renamed, found, near, len(nameless) if foreign else 0)


def _unidentified(rows: SurveyRows) -> SurveyRows:
    """The same, where ids tell nothing of which rows could not be read."""
    lost = rows.unreadable + len(rows.refused)
    return replace(rows, refused=frozenset(), unreadable=lost)


def _with_rival_place(how: Found, places: Mapping[str, str]) -> Found:
    return how if how.rival_row is None else replace(how, rival_row=places.get(how.rival_row))


def _same_things(
    unnamed: pd.DataFrame, present: pd.DataFrame, table: Table, *, foreign: bool
) -> tuple[dict[str, str], dict[str, Found], dict[str, tuple[str, float]]]:
    """Id in the file → the record's id; how each was found; and who only stands near."""
    if table.shape is None or "geometry" not in unnamed:
        return ({} if foreign else _by_label(unnamed, present, table)), {}, {}
    pairs = by_place(unnamed, present, table)
    if foreign and not _is_same_survey(pairs, unnamed):
        near = {new: (old, how.distance_m) for new, (old, how) in pairs.items()}
        return {}, {}, {new: near[new] for new, (_, how) in pairs.items() if not how.beyond_gate}
    same = {new: old for new, (old, _) in pairs.items()}
    return same, dict(pairs.values()), {}


def is_clear(how: Found) -> bool:
    """Whether nobody need look at the match as such."""
    sure = not how.beyond_gate and how.shared >= SAME_GROUND_CLEAR
    return sure and how.rival is None and how.rival_row is None
