"""What each station waters: its heads' flow, ground and soil as one row a station."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.findings import Finding, error
from nightwater.ground.links import area_holes, head_areas
from nightwater.ground.nozzle_performance import head_flow_l_s
from nightwater.ground.record import Ground
from nightwater.ground.settings import MinuteRules
from nightwater.soil.defaults import area_defaults
from nightwater.spray.rate import FULL_CIRCLE_DEG, wetted_area_m2
from nightwater.spray.uniformity import run_time_multiplier

_ENTER: Final = "Enter it in the record; until then tonight's plan leaves the station out."
_CORRECT: Final = "Correct it in the record; until then tonight's plan leaves the station out."
_OF_AREA: Final = [
    "kind", "need_mm", "multiplier", "du_lq", "intake_mm_h", "surface_storage_mm", "slope_pct",
]  # fmt: skip
_MEANS: Final = ("need_mm", "multiplier", "du_lq")  # weighted by flow
# Code, column of the head table that must be known, what is wrong, and what to do.
_FAULTS: Final = (
    ("minutes-no-flow", "flow_l_s", "has neither a nozzle with a flow nor a measured flow", _ENTER),
    ("minutes-no-spacing", "wetted_m2", "has no sound spacing, so its rate is not known", _ENTER),
    ("minutes-no-area", "area", "waters no area", _ENTER),
    ("minutes-no-need", "need_mm", "waters {area}, which is no watered area", _CORRECT),
    (
        "minutes-no-uniformity",
        "multiplier",
        "waters {area}, whose uniformity or efficiency does not lie between 0 and 1",
        _CORRECT,
    ),
    ("minutes-no-intake", "intake_mm_h", "waters {area}, whose soil takes no water", _CORRECT),
)
_POSITIVE: Final = ("flow_l_s", "wetted_m2", "intake_mm_h")


def _area_values(ground: Ground, need_mm: pd.Series[float], rules: MinuteRules) -> pd.DataFrame:
    areas = area_defaults(ground.areas)
    multiplier = run_time_multiplier(
        rules.run_time_multiplier, areas["du_lq"].astype(float), areas["efficiency"].astype(float)
    )
    return areas.assign(multiplier=multiplier, need_mm=need_mm.reindex(areas.index))


def head_table(ground: Ground, need_mm: pd.Series[float], rules: MinuteRules) -> pd.DataFrame:
    """One row per head that has a station: its flow, ground, area and that area's values.

    Args:
        ground: the record, with heads linked to stations.
        need_mm: net need by area id.
        rules: multiplier and the rotation time of nozzles that state none.

    Returns:
        Index = head id, in the record's order; columns station, flow_l_s, wetted_m2, turn_s
        (time of one sweep of its sector), area and the area's need_mm, multiplier, du_lq,
        kind, intake_mm_h, surface_storage_mm and slope_pct. NaN where a value is not known.

    Raises:
        UserError: an unknown run-time multiplier.
    """
    heads = pd.DataFrame(ground.heads)[["station", "arc_deg", "spacing_m", "row_m", "nozzle"]]
    arc = heads["arc_deg"].fillna(FULL_CIRCLE_DEG)
    rotation = ground.nozzles["rotation_s"].reindex(heads["nozzle"].to_numpy()).to_numpy(float)
    turn = np.where(np.isnan(rotation), rules.default_rotation_s, rotation)
    table = heads.assign(
        flow_l_s=head_flow_l_s(ground.heads, ground.nozzles),
        wetted_m2=wetted_area_m2(heads["spacing_m"], heads["row_m"], arc),
        # A part-circle head sweeps its sector there and back: one turn per arc, not per circle.
        turn_s=turn * arc.to_numpy(dtype=float) / FULL_CIRCLE_DEG,
        area=head_areas(ground),
    )
    joined = table.join(_area_values(ground, need_mm, rules)[_OF_AREA], on="area")
    return joined[joined["station"].isin(ground.stations.index)]


def _unusable(values: pd.Series[Any]) -> pd.Series[bool]:
    """Missing; a flow, a stretch of ground and an intake must be more than nothing besides."""
    if values.name in _POSITIVE:
        return ~(values > 0)
    return values.isna()


def station_faults(heads: pd.DataFrame) -> dict[str, Finding]:
    """Why the minutes of a station cannot be worked out, by station; its first fault only."""
    faults: dict[str, Finding] = {}
    for code, column, words, fix in _FAULTS:
        first = heads[_unusable(heads[column])].drop_duplicates("station")
        for head, station, area in zip(first.index, first["station"], first["area"], strict=True):
            what = words.format(area=area)
            message = f"Station {station}: head {head} {what}."
            faults.setdefault(station, error(code, f"stations:{station}", message, fix))
    return faults


def _main_areas(heads: pd.DataFrame) -> pd.DataFrame:
    """Area and kind with the most of each station's flow; of equals, the first by id."""
    shares = heads.groupby(["station", "area"], sort=False, as_index=False).agg(
        flow_l_s=("flow_l_s", "sum"), kind=("kind", "first")
    )
    ranked = shares.sort_values(["flow_l_s", "area"], ascending=[False, True], kind="stable")
    return ranked.drop_duplicates("station").set_index("station")[["area", "kind"]]


def _means(heads: pd.DataFrame, flow_l_s: pd.Series[float]) -> pd.DataFrame:
    """Means over each station's heads, weighted by their flow."""
    weighted = heads[list(_MEANS)].mul(heads["flow_l_s"], axis=0)
    sums = weighted.groupby(heads["station"], sort=False).sum()
    return sums.div(flow_l_s, axis=0)


def _longest_run_min(ground: Ground, stations: pd.Index, unlimited_min: int) -> NDArray[np.int64]:
    limits = ground.stations["max_run_min"].reindex(stations).fillna(unlimited_min)
    return limits.to_numpy(dtype=np.int64)


def station_table(ground: Ground, heads: pd.DataFrame, unlimited_min: int) -> pd.DataFrame:
    """One row per station whose heads are all known, in the record's order.

    Need, uniformity and multiplier are means over its heads, weighted by flow; intake and
    surface storage are the least, slope and turning time the greatest, of its heads.

    Args:
        ground: the record.
        heads: as `head_table` makes it, without stations that have a fault.
        unlimited_min: longest run of a station that states no limit of its own.

    Returns:
        Index = station id; columns area, kind, hole, flow_l_s, heads, wetted_m2, need_mm,
        multiplier, du_lq, turn_s, intake_mm_h, surface_storage_mm, slope_pct, longest_run_min.
    """
    table = heads.groupby("station", sort=False).agg(
        flow_l_s=("flow_l_s", "sum"),
        heads=("flow_l_s", "size"),
        wetted_m2=("wetted_m2", "sum"),
        turn_s=("turn_s", "max"),
        intake_mm_h=("intake_mm_h", "min"),
        surface_storage_mm=("surface_storage_mm", "min"),
        slope_pct=("slope_pct", "max"),
    )
    table = table.join(_means(heads, table["flow_l_s"])).join(_main_areas(heads))
    ordered = table.loc[ground.stations.index[ground.stations.index.isin(table.index)]]
    hole = area_holes(ground).reindex(ordered["area"].to_numpy()).to_numpy()
    longest = _longest_run_min(ground, ordered.index, unlimited_min)
    return ordered.assign(hole=hole, longest_run_min=longest)
