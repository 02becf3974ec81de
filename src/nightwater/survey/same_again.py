"""What a second survey of the same things says as a whole: found again, gone, shifted."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely

from nightwater.findings import Finding, note, warning
from nightwater.ground.changes import GEOMETRY, RowChange
from nightwater.ground.columns import Table
from nightwater.survey.gates import gate_m, widest_gate_m
from nightwater.survey.identities import (
    SAME_SURVEY_ROWS,
    SAME_SURVEY_SHARE,
    Settled,
    by_place,
)
from nightwater.survey.read import SurveyRows

_SHOWN: Final = 6
SHIFT_M: Final = 0.5  # a common shift below this is lost in a receiver's own error
_SHIFT_ROWS: Final = 10
_OVER_SCATTER: Final = 2.0  # a shift is common to all where it is twice what is left without it
_WINDS: Final = ("north", "north-east", "east", "south-east", "south", "south-west", "west",
                 "north-west")  # fmt: skip


def _some(ids: Iterable[str]) -> str:
    names = list(ids)
    more = len(names) - _SHOWN
    return ", ".join(names[:_SHOWN]) + (f" and {more} more" if more > 0 else "")


def moved_m(change: RowChange) -> float:
    """How far a row's place moves [m]: its middle; 0 where the place stays or is new."""
    here, there = (change.before or {}).get(GEOMETRY), (change.after or {}).get(GEOMETRY)
    if here is None or there is None or here is there:
        return 0.0
    return float(shapely.distance(shapely.centroid(here), shapely.centroid(there)))


def _within(present: pd.DataFrame, rows: pd.DataFrame, table: Table) -> list[str]:
    """Ids of the record's rows whose middle lies on the surveyed ground."""
    if table.shape is None or GEOMETRY not in rows:
        return [str(key) for key in present.index]
    shapes = [shape for shape in rows[GEOMETRY] if shape is not None]
    ground = shapely.convex_hull(shapely.geometrycollections(shapes)).buffer(widest_gate_m(table))
    located = present[present[GEOMETRY].notna()]
    middles = shapely.centroid(located[GEOMETRY].to_numpy(dtype=object))
    inside = shapely.intersects(middles, ground)
    return [str(key) for key in located.index[inside]]


def gone_ids(
    present: pd.DataFrame, rows: SurveyRows, named: Collection[str], table: Table
) -> list[str]:
    """Ids of the record that stand on the surveyed ground and that the file does not name.

    The surveyed ground is the convex hull of the file's rows and the gate around it. None,
    where the file names less than half of what stands there: it is no survey of the whole.

    Args:
        present: the record's table.
        rows: the settled survey.
        named: ids that the file names.
        table: their declaration.
    """
    if rows.rows.empty:
        return []
    there = _within(present, rows.rows, table)
    gone = [key for key in there if key not in named]
    found = len(there) - len(gone)
    whole = found >= max(SAME_SURVEY_ROWS, SAME_SURVEY_SHARE * len(there))
    return gone if whole and not rows.unreadable else []


def gone_note(gone: Collection[str], table: Table, source: str) -> tuple[Finding, ...]:
    """A note of what the file does not name, where it stays in the record."""
    if not gone:
        return ()
    found = note(
        "not-in-survey",
        f"file:{source}",
        f"{source} does not name {len(gone)} {table.name} that the record has on the same "
        f"ground: {_some(gone)}. They stay.",
        "If they are gone, survey with --complete, where the file lists all rows.",
    )
    return (found,)


def removal_doubt(change: RowChange, unreadable: int, source: str) -> Finding:
    """A row that seems to be gone, while rows of the file could not be read."""
    return warning(
        "removal-doubtful",
        f"{change.table}:{change.id}",
        f"{source} does not name {change.id}, but {unreadable} of its rows without an id could "
        "not be read; it may be one of them.",
        "Put those rows right and survey again; or accept it with --with-doubtful.",
    )


def found_note(settled: Settled, table: Table) -> tuple[Finding, ...]:
    """A note of how many rows were found again by place, and how well."""
    if not settled.found:
        return ()
    apart = np.array([how.distance_m for how in settled.found.values()])
    source = settled.rows.source
    ids = "whose ids the record does not know" if settled.foreign else "without an id"
    told = note(
        "found-by-place",
        f"file:{source}",
        f"{source}: {len(apart)} {table.name} {ids} were found again by place and attributes: half "
        f"within {np.median(apart):.2f} m, the farthest {apart.max():.1f} m. They keep the "
        "record's ids.",
        "Look at those that moved far; keep the record's ids in the file to be sure.",
    )
    return (told,)


@dataclass(frozen=True)
class _Shift:
    east_m: float
    north_m: float
    scatter_m: float

    @property
    def length_m(self) -> float:
        return float(np.hypot(self.east_m, self.north_m))

    @property
    def wind(self) -> str:
        turn = np.degrees(np.arctan2(self.east_m, self.north_m)) % 360.0
        return _WINDS[int((turn + 22.5) // 45.0) % 8]


def _common_shift(changes: Iterable[RowChange]) -> _Shift | None:
    pairs = [
        (change.before[GEOMETRY], change.after[GEOMETRY])
        for change in changes
        if change.before
        and change.after
        and change.before.get(GEOMETRY) is not None
        and change.after.get(GEOMETRY) is not None
    ]
    if len(pairs) < _SHIFT_ROWS:
        return None
    before, after = (
        shapely.get_coordinates(shapely.centroid(np.array(side, dtype=object)))
        for side in zip(*pairs, strict=True)
    )
    moves = after - before
    shift = np.median(moves, axis=0)
    left = np.median(np.hypot(*(moves - shift).T))
    return _Shift(float(shift[0]), float(shift[1]), float(left))


def shift_doubt(changes: Iterable[RowChange], source: str) -> tuple[Finding, ...]:
    """A warning where nearly everything lies off by the same way, as after a change of datum."""
    shift = _common_shift(changes)
    if shift is None or shift.length_m < max(SHIFT_M, _OVER_SCATTER * shift.scatter_m):
        return ()
    found = warning(
        "all-shifted",
        f"file:{source}",
        f"{source} has everything some {shift.length_m:.1f} m to the {shift.wind} of the record; "
        f"without that, half agrees within {shift.scatter_m:.1f} m.",
        "Look for another datum or a receiver's base point before accepting.",
    )
    return (found,)


def own_ids_doubt(rows: SurveyRows, present: pd.DataFrame, table: Table) -> tuple[Finding, ...]:
    """A warning where known ids stand at the places of others: the file has numbers of its own."""
    if table.shape is None or GEOMETRY not in rows.rows:
        return ()
    known = rows.rows.loc[[key for key in rows.rows.index if key in present.index]]
    known = known[known[GEOMETRY].notna()]
    strangers = _far_from_their_ids(known, present, table)
    if len(strangers) < max(SAME_SURVEY_ROWS, SAME_SURVEY_SHARE * len(known)):
        return ()
    elsewhere = by_place(known.loc[strangers], present, table)
    others = [new for new, (old, how) in elsewhere.items() if old != new and not how.beyond_gate]
    if len(others) < SAME_SURVEY_SHARE * len(strangers):
        return ()
    found = warning(
        "ids-of-its-own",
        f"file:{rows.source}",
        f"{rows.source} puts {len(others)} of {len(known)} known ids where the record has others "
        f"({_some(others)}); its ids seem to be numbers of its own.",
        "If they are, survey with --own-ids: rows are then found by their place.",
    )
    return (found,)


def _far_from_their_ids(known: pd.DataFrame, present: pd.DataFrame, table: Table) -> list[Any]:
    there = present.reindex(known.index)
    told = known["evidence"] if "evidence" in known else [None] * len(known)
    rows = zip(known.index, known[GEOMETRY], told, there[GEOMETRY], there["evidence"], strict=True)
    return [
        key
        for key, shape, says, here, knows in rows
        if here is not None
        and shapely.distance(shapely.centroid(here), shapely.centroid(shape))
        > gate_m(table.name, knows, says)
    ]


def by_distance(changes: Mapping[str, RowChange]) -> dict[str, RowChange]:
    """Moved rows, the farthest first."""
    order = sorted(changes, key=lambda key: (-moved_m(changes[key]), key))
    return {key: changes[key] for key in order}


def is_moved(change: RowChange, table: Table) -> bool:
    """Whether a known row's place or outline becomes another."""
    if table.shape is None or change.before is None or change.after is None:
        return False
    here, there = change.before.get(GEOMETRY), change.after.get(GEOMETRY)
    return here is not None and here is not there
