"""What each repair on the course would save, the most first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
from scipy import sparse

from nightwater.desk.course import Course, Progress, silent
from nightwater.desk.dry_spots import DrySpots, Mended
from nightwater.desk.tonight_water import TonightWater, watering
from nightwater.ground.record import Ground
from nightwater.night.fix_value import Change, FixValue, Watering, fix_value
from nightwater.spray.dry_spots import GAP
from nightwater.spray.evidence import Evidence
from nightwater.spray.head_patterns import head_patterns
from nightwater.spray.matrix import picked, wetting_matrix

MOST_FIXES: Final = 60  # each is two small fits; the rest are told to be left out
MOST_NEW_HEADS: Final = 10
GAP_SCORE: Final = 0.5  # of a spot that another head is offered to; own choice
NEW_HEAD: Final = "new-head"


@dataclass(frozen=True)
class Fix:
    """One repair and what it would save.

    Attributes:
        cause: code of what is wrong.
        subject: the head as heads:id; for a gap, the head like which a new one would be.
        label: what people call that head.
        area: id of the area where most of the change lies.
        place_m: where to go, east and north.
        evidence: why.
        saved_l_night: water saved on this night at equal shortage; NaN where it cannot be told.
        saved_m3_season: over the nights of a season, as the settings have it.
        hours: of work; NaN where the settings tell none.
        relieved_l: what dry turf lacks less at tonight's own minutes.
        nozzle: id of the nozzle that it should have; "" where that is not the repair.
    """

    cause: str
    subject: str
    label: str
    area: str
    place_m: tuple[float, float]
    evidence: Evidence
    saved_l_night: float
    saved_m3_season: float
    hours: float
    relieved_l: float
    nozzle: str = ""

    @property
    def saved_m3_hour(self) -> float:
        """Water saved in a season for each hour of work; NaN where either is not known."""
        return self.saved_m3_season / self.hours


@dataclass(frozen=True)
class FixList:
    """The repairs, those that save the most first.

    Attributes:
        fixes: the repairs.
        left_out: how many more there are whose saving was not worked out.
    """

    fixes: tuple[Fix, ...]
    left_out: int


@dataclass(frozen=True)
class _Candidate:
    cause: str
    head: str
    place_m: tuple[float, float]
    evidence: Evidence
    added_mm_min: sparse.csc_array
    added_l_s: float
    relieved_l: float
    nozzle: str = ""


def _relieved_l(tonight: TonightWater, added: sparse.csc_array, run_min: float) -> float:
    """What cells lack less once a column is added, at tonight's minutes."""
    cells, gain = added.tocoo().coords[0], added.tocoo().data * run_min
    need, depth = tonight.need_mm[cells], tonight.depth_mm[cells]
    before = np.nan_to_num(np.maximum(need - depth, 0.0))
    after = np.nan_to_num(np.maximum(need - depth - gain, 0.0))
    return float((before - after).sum()) * tonight.matrix.grid.cell_m2


def _repairs(tonight: TonightWater, repairs: Sequence[Mended]) -> Iterator[_Candidate]:
    heads = tonight.ground.heads
    for one in repairs:
        nozzles = one.remedy.values.get("nozzle", pd.Series(dtype=object))
        for place, head in enumerate(one.heads):
            point = heads.geometry[head]
            added = sparse.csc_array(one.added_mm_min[:, [place]])
            yield _Candidate(
                cause=one.remedy.cause,
                head=head,
                place_m=(float(point.x), float(point.y)),
                evidence=one.remedy.evidence[head],
                added_mm_min=added,
                added_l_s=float(one.added_l_s[place]),
                relieved_l=_relieved_l(tonight, added, float(tonight.run_min[head])),
                nozzle=str(nozzles.get(head, "")),
            )


def with_head_like(ground: Ground, like: str, place_m: tuple[float, float], name: str) -> Ground:
    """The record with one more full-circle head, on the station and with the nozzle of another."""
    heads = ground.heads
    row = heads.loc[[like]].copy()
    row.index = pd.Index([name], name=heads.index.name)
    row["geometry"] = [shapely.Point(*place_m)]
    emptied = ("measured_flow_l_s", "measured_radius_m", "tilt_deg", "tilt_towards_deg")
    for column in emptied:
        row[column] = np.nan
    row["arc_deg"], row["bearing_deg"], row["condition"] = 360.0, np.nan, "good"
    return ground.with_table("heads", pd.concat([heads, row.set_crs(heads.crs)]))


def _new_heads(tonight: TonightWater, found: DrySpots) -> Iterator[_Candidate]:
    """One more head in the middle of each of the largest gaps, like the nearest one that runs."""
    runs = tonight.run_min.reindex(tonight.patterns.ids).to_numpy(dtype=float) > 0
    if not runs.any():
        return
    usable = picked(tonight.patterns, runs)
    firsts = [causes[0] for causes in found.causes if causes]
    gaps = [one for one in firsts if one.code == GAP and one.score >= GAP_SCORE]
    for cause in gaps[:MOST_NEW_HEADS]:
        row = found.dry.table.iloc[cause.spot]
        x_m, y_m = float(row["x_m"]), float(row["y_m"])
        like = str(usable.ids[np.hypot(usable.x_m - x_m, usable.y_m - y_m).argmin()])
        ground = with_head_like(tonight.ground, like, (x_m, y_m), NEW_HEAD)
        only = ground.with_table("heads", ground.heads.loc[[NEW_HEAD]])
        pattern = head_patterns(only)[0]
        added = wetting_matrix(tonight.matrix.grid, pattern).rate_mm_min
        yield _Candidate(
            cause=GAP,
            head=like,
            place_m=(x_m, y_m),
            evidence=cause.evidence[0],
            added_mm_min=added,
            added_l_s=float(pattern.flow_l_s[0]),
            relieved_l=_relieved_l(tonight, added, float(tonight.run_min[like])),
        )


def _valued(
    course: Course, tonight: TonightWater, whole: Watering, one: _Candidate
) -> FixValue | None:
    station: Any = tonight.ground.heads["station"].get(one.head)
    names = list(whole.stations.index)
    if station not in names or whole.stations["longest_min"][station] <= 0:
        return None
    change = Change(names.index(station), one.added_mm_min, one.added_l_s)
    return fix_value(whole, change, course.settings.minutes)


def _fix(course: Course, tonight: TonightWater, one: _Candidate, value: FixValue | None) -> Fix:
    rules, label = course.settings.fixes, tonight.ground.heads["label"].get(one.head)
    saved = np.nan if value is None else value.saved_l
    changed = one.added_mm_min.tocoo()
    grid = tonight.matrix.grid
    weight = np.bincount(
        grid.area[changed.coords[0]], np.abs(changed.data), minlength=len(grid.areas)
    )
    return Fix(
        cause=one.cause,
        subject=f"heads:{one.head}",
        label=one.head if pd.isna(label) else str(label),
        area=grid.areas[int(weight.argmax())],
        place_m=one.place_m,
        evidence=one.evidence,
        saved_l_night=saved,
        saved_m3_season=saved * rules.season_nights / 1000.0,
        hours=rules.hours.get(one.cause, np.nan),
        relieved_l=one.relieved_l,
        nozzle=one.nozzle,
    )


def fix_list(
    course: Course, tonight: TonightWater, found: DrySpots, progress: Progress = silent
) -> FixList:
    """What each repair would save, the most first.

    Args:
        course: the course, for its settings.
        tonight: what falls where.
        found: its dry spots and the repairs in the model.
        progress: told each step.
    """
    candidates = sorted(_repairs(tonight, found.mended), key=lambda one: -one.relieved_l)
    left_out = max(len(candidates) - MOST_FIXES, 0)
    chosen = [*candidates[:MOST_FIXES], *_new_heads(tonight, found)]
    whole = watering(tonight)
    fixes = []
    for place, one in enumerate(chosen):
        if place % 5 == 0:
            progress(f"what repairs save: {place} of {len(chosen)}")
        fixes.append(_fix(course, tonight, one, _valued(course, tonight, whole, one)))
    fixes.sort(key=lambda fix: -np.nan_to_num(fix.saved_l_night, nan=-np.inf))
    return FixList(tuple(fixes), left_out)
