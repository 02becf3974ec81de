"""The dry spots of a night, each with its causes and the evidence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy import sparse

from nightwater.desk.aggravating import (
    RunOff,
    Told,
    aggravating_causes,
    gap_evidence,
    ground_evidence,
    run_off,
)
from nightwater.desk.course import Progress, silent
from nightwater.desk.tonight_water import TonightWater
from nightwater.ground.arcs import propose_arcs
from nightwater.ground.record import Ground
from nightwater.ground.settings import FixRules
from nightwater.night.fitted_minutes import reach_of_cells
from nightwater.spray.dry_spots import (
    MINUTES,
    SLOPE,
    SOIL,
    WIND,
    Cause,
    Dry,
    Supposed,
    causes_of,
    find_dry,
    gap_causes,
    gap_share,
    ranked,
)
from nightwater.spray.evidence import Evidence
from nightwater.spray.head_patterns import HeadPatterns, head_patterns
from nightwater.spray.matrix import WettingMatrix, wetting_matrix
from nightwater.spray.remedies import Remedy, head_remedies, remedied

BEARING_OFF_DEG: Final = 30.0  # between record and ground before an arc is doubted; own choice
LEAST_SURE: Final = 0.6  # as `propose_arcs` tells it; own choice

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Mended:
    """One kind of repair, made in the model.

    Attributes:
        remedy: the repair.
        ground: the record with all heads that want it repaired.
        patterns: their patterns then.
        heads: ids of those whose pattern changes.
        added_mm_min: what each adds to each cell while it runs, cells × heads.
        added_l_s: what each adds to its flow.
    """

    remedy: Remedy
    ground: Ground
    patterns: HeadPatterns
    heads: tuple[str, ...]
    added_mm_min: sparse.csc_array
    added_l_s: Numbers


@dataclass(frozen=True)
class DrySpots:
    """The dry spots of a night.

    Attributes:
        dry: the spots.
        causes: of each spot, ranked.
        mended: every repair in the model.
    """

    dry: Dry
    causes: tuple[tuple[Cause, ...], ...]
    mended: tuple[Mended, ...]


def doubtful_arcs(ground: Ground) -> pd.DataFrame:
    """Part circles that point far off the ground which they should wet.

    Returns:
        Index = head id; arc_deg, bearing_deg as the ground tells them, reason.
    """
    heads = ground.heads
    part = (heads["arc_deg"] < 360.0) & heads["bearing_deg"].notna()
    asked = ground.with_table("heads", heads.assign(bearing_deg=heads["bearing_deg"].mask(part)))
    rows = propose_arcs(asked)
    rows = rows[rows.index.isin(heads.index[part]) & (rows["confidence"] >= LEAST_SURE)]
    was = heads.loc[rows.index, "bearing_deg"].to_numpy(dtype=float)
    told = rows["bearing_deg"].to_numpy(dtype=float)
    off = np.abs((told - was + 180.0) % 360.0 - 180.0)
    off_rows = rows[off > BEARING_OFF_DEG]
    reasons = [
        f"points to {old:.0f}°, the ground lies towards {new:.0f}°"
        for old, new in zip(was[off > BEARING_OFF_DEG], off_rows["bearing_deg"], strict=True)
    ]
    found: pd.DataFrame = off_rows[["arc_deg", "bearing_deg"]].assign(reason=reasons)
    return found


def _with_repaired(
    changed_kpa: pd.Series[float], repaired_kpa: pd.Series[float]
) -> pd.Series[float]:
    """Pressures of the solved pipes, but of heads whose pressure is repaired."""
    still = changed_kpa.drop(repaired_kpa.index, errors="ignore")
    return pd.concat([one for one in (still, repaired_kpa) if len(one)] or [still])


def mended(tonight: TonightWater, remedy: Remedy) -> Mended:
    """One kind of repair, made in the model; only the heads that it changes are laid anew."""
    ground = remedied(tonight.ground, remedy)
    pressure = _with_repaired(tonight.changed_kpa, remedy.pressure_kpa)
    patterns = head_patterns(ground, pressure)[0]
    matrix = wetting_matrix(tonight.matrix.grid, patterns, tonight.matrix)
    old = {str(head): place for place, head in enumerate(tonight.matrix.heads)}
    chosen = [
        (str(head), place, old[str(head)])
        for place, head in enumerate(matrix.heads)
        if str(head) in old and matrix.keys[place] != tonight.matrix.keys[old[str(head)]]
    ]
    heads = tuple(head for head, _, _ in chosen)
    new = np.array([place for _, place, _ in chosen], dtype=np.int64)
    was = np.array([place for _, _, place in chosen], dtype=np.int64)
    added = sparse.csc_array(matrix.rate_mm_min[:, new] - tonight.matrix.rate_mm_min[:, was])
    flow = patterns.flow_l_s[new] - tonight.patterns.flow_l_s[was]
    return Mended(remedy, ground, patterns, heads, added, np.asarray(flow))


def _supposed(tonight: TonightWater, one: Mended) -> Supposed:
    run = tonight.run_min.reindex(list(one.heads)).to_numpy(dtype=float)
    gain = sparse.csc_array(one.added_mm_min @ sparse.diags_array(run)) if len(run) else None
    depth = tonight.depth_mm + (one.added_mm_min @ run if len(run) else 0.0)
    evidence = tuple(one.remedy.evidence[head] for head in one.heads)
    return Supposed(one.remedy.cause, depth, one.heads, gain, evidence)


def _minutes_supposed(tonight: TonightWater, reach: Numbers, full: float) -> Supposed:
    """As if every area ran as long as its evenly watered turf needs on the mean."""
    area, count = tonight.matrix.grid.area, len(tonight.matrix.grid.areas)
    known = np.isfinite(tonight.need_mm) & (reach >= full)
    need = np.bincount(area[known], tonight.need_mm[known], count)
    depth = np.bincount(area[known], tonight.depth_mm[known], count)
    with np.errstate(divide="ignore", invalid="ignore"):
        factor = np.where(depth > 0, np.maximum(need / depth, 1.0), np.where(need > 0, 1e3, 1.0))
    return Supposed(MINUTES, tonight.depth_mm * factor[area])


def _all_mended(tonight: TonightWater, repairs: Sequence[Mended]) -> tuple[Numbers, WettingMatrix]:
    """Depth and matrix once every head is repaired."""
    ground, pressures = tonight.ground, tonight.changed_kpa
    for one in repairs:
        ground = remedied(ground, one.remedy)
        pressures = _with_repaired(pressures, one.remedy.pressure_kpa)
    patterns = head_patterns(ground, pressures)[0]
    matrix = wetting_matrix(tonight.matrix.grid, patterns, tonight.matrix)
    run = tonight.run_min.reindex(matrix.heads).to_numpy(dtype=float)
    return np.asarray(matrix.rate_mm_min @ run), matrix


def _reach(tonight: TonightWater, matrix: WettingMatrix) -> Numbers:
    return reach_of_cells(sparse.csr_array(matrix.rate_mm_min), tonight.kinds)


def dry_spots(
    tonight: TonightWater,
    rules: FixRules,
    readings: pd.DataFrame | None = None,
    still_depth_mm: Numbers | None = None,
    progress: Progress = silent,
) -> DrySpots:
    """The dry spots of a night and their causes; what runs off counts as not there.

    Args:
        tonight: what falls where.
        rules: what counts as dry.
        readings: soil moisture, for spots that were measured driest.
        still_depth_mm: depth in still air, where `tonight` has it in wind; that of `tonight`
            where it is not given.
        progress: told each step.
    """
    progress("dry spots")
    off = run_off(tonight)
    tonight = replace(tonight, depth_mm=tonight.depth_mm - off.total_mm)
    reach = _reach(tonight, tonight.matrix)
    dry = find_dry(tonight.matrix.grid, tonight.depth_mm, tonight.need_mm, reach, rules)
    progress("heads that are not as they should be")
    remedies = head_remedies(
        tonight.recorded, tonight.changed_kpa, arcs=doubtful_arcs(tonight.ground)
    )
    repairs = tuple(mended(tonight, remedy) for remedy in remedies)
    if not len(dry.table):
        return DrySpots(dry, (), repairs)
    progress(f"causes of {len(dry.table)} dry spots")
    still = tonight.still_depth_mm if still_depth_mm is None else still_depth_mm
    causes = [
        *_causes(tonight, dry, repairs, rules, None if still is None else still - off.total_mm)
    ]
    told = ground_evidence(tonight, dry, off)
    causes += _of_ground(tonight, dry, off, told)
    known = {(cause.spot, cause.code) for cause in causes}
    causes += aggravating_causes(tonight, dry, readings, off=off, told=told, known=known)
    return DrySpots(dry, tuple(ranked(causes, len(dry.table))), repairs)


def _of_ground(tonight: TonightWater, dry: Dry, off: RunOff, told: Told) -> list[Cause]:
    """Slope and soil, each by the water that would soak in without it."""
    supposed = [
        Supposed(SLOPE, tonight.depth_mm + off.by_slope_mm),
        Supposed(SOIL, tonight.depth_mm + off.by_soil_mm),
    ]
    return [
        replace(cause, evidence=(told[cause.code][cause.spot], *cause.evidence))
        for cause in causes_of(dry, tonight.need_mm, supposed)
    ]


def _causes(
    tonight: TonightWater,
    dry: Dry,
    repairs: Sequence[Mended],
    rules: FixRules,
    still_depth_mm: Numbers | None,
) -> list[Cause]:
    after, matrix = _all_mended(tonight, repairs)
    reach = _reach(tonight, matrix)
    left = np.nan_to_num(np.maximum(tonight.need_mm - after, 0.0))
    supposed = [_supposed(tonight, one) for one in repairs]
    supposed.append(_minutes_supposed(tonight, reach, 1.5 * rules.gap_reach))
    if still_depth_mm is not None:
        words = (Evidence("in still air it would be wetter"),)
        supposed.append(Supposed(WIND, still_depth_mm, evidence=words))
    shares = gap_share(dry, left, reach, rules)
    return [
        *causes_of(dry, tonight.need_mm, supposed),
        *gap_causes(shares, gap_evidence(tonight, dry, reach)),
    ]
