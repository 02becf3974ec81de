"""Sector and direction of heads near an edge, proposed from the ground inside their throw."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
import shapely
from numpy.typing import NDArray

from nightwater.ground.arc_rules import GROUNDS, OPEN, ArcRules
from nightwater.ground.linked import Linked
from nightwater.ground.overlaps import own_shapes
from nightwater.ground.record import Ground
from nightwater.ground.sectors import (
    RAYS,
    RINGS,
    STEP_DEG,
    area_share,
    best_window,
    longest_run,
    middle_deg,
    samples_on,
)
from nightwater.ground.shapes import Geometries, sound_shapes
from nightwater.ground.tables import WATERED_KINDS

BACK_TO_BACK_M: Final = 2.0
MOST_LEFT_DRY: Final = 0.3  # ground on two sides, as on a strip, needs a full circle
COLUMNS: Final = ("area", "kind", "share", "arc_deg", "bearing_deg", "confidence", "reasons")


def _lacking(ground: Ground) -> pd.Series[bool]:
    """Heads without an arc, and part circles without a bearing."""
    arc, bearing = ground.heads["arc_deg"], ground.heads["bearing_deg"]
    lacking: pd.Series[bool] = arc.isna() | ((arc < 360.0) & bearing.isna())
    return lacking


def _neighbours(heads: pd.DataFrame) -> pd.Series[Any]:
    """The one head that stands within 2 m of each, or None."""
    points = np.asarray(shapely.points(heads[["x", "y"]].to_numpy(dtype=float)), dtype=object)
    one, other = shapely.STRtree(points).query(points, "dwithin", distance=BACK_TO_BACK_M)
    pairs = pd.DataFrame({"one": heads.index[one], "other": heads.index[other]})
    pairs = pairs[pairs["one"] != pairs["other"]]
    alone = pairs.drop_duplicates("one", keep=False).set_index("one")["other"]
    return alone.reindex(heads.index).astype(object)


def _green_side(ground: Ground, heads: pd.DataFrame, partner: pd.Series[Any]) -> pd.DataFrame:
    """Of two heads in one spot that water one area beside a green, the nearer waters the green."""
    greens = ground.areas[ground.areas["kind"] == "green"]
    lost = heads["lacks"] & (heads["how"] != "declared") & partner.notna()
    if greens.empty or not lost.any():
        return heads
    rows = heads[lost]
    points = np.asarray(shapely.points(rows[["x", "y"]].to_numpy(dtype=float)), dtype=object)
    (row, green), gap = shapely.STRtree(sound_shapes(greens, "areas")).query_nearest(
        points, return_distance=True, all_matches=False
    )
    near = pd.DataFrame({"green": greens.index[green], "gap": gap}, index=rows.index[row])
    other = near["gap"].reindex(partner[near.index]).to_numpy()
    same = heads["area"].reindex(partner[near.index]).to_numpy() == rows["area"][near.index]
    throw = rows["throw_m"][near.index]
    inner = near[same & (near["gap"] < other) & (near["gap"] <= throw / 2.0)]
    moved = heads.copy()
    moved.loc[inner.index, "area"] = inner["green"]
    moved.loc[inner.index, "kind"] = "green"
    return moved


def _wetted(kind: str, ground: Ground, own: Geometries, rules: ArcRules) -> tuple[Geometries, bool]:
    """The ground that heads of a kind should wet; or, where open ground counts, should not."""
    kinds, wetted = ground.areas["kind"].to_numpy(), rules.wetted_by(kind)
    stays_dry = OPEN in wetted
    named = [name for name in GROUNDS if (name in wetted) != stays_dry]
    grounds = own[np.isin(kinds, named) & ~shapely.is_empty(own)]
    if kind == "green" and not stays_dry:
        grounds = shapely.buffer(grounds, rules.collar_m)
    return np.asarray(grounds, dtype=object), stays_dry


def _samples(ground: Ground, heads: pd.DataFrame, rules: ArcRules) -> NDArray[np.float64]:
    own, found = own_shapes(ground), np.zeros((len(heads), RAYS, RINGS))
    for kind, rows in heads.assign(at=range(len(heads))).groupby("kind"):
        grounds, stays_dry = _wetted(str(kind), ground, own, rules)
        x, y, throw = (rows[name].to_numpy(dtype=float) for name in ("x", "y", "throw_m"))
        there = samples_on(x, y, throw, grounds)
        found[rows["at"]] = 1.0 - there if stays_dry else there
    return found


def _sector(
    shares: NDArray[np.float64], whole: float, rules: ArcRules
) -> tuple[float, float, float, str]:
    """Arc, bearing, confidence and reason of one head from its rays."""
    if whole >= rules.full_share:
        sure = 0.6 + 0.39 * (whole - rules.full_share) / max(1.0 - rules.full_share, 1e-9)
        return 360.0, np.nan, sure, f"{whole:.0%} of the throw lies on its ground"
    first, rays = longest_run(shares >= rules.ray_share, rules.gap_deg)
    if not rays:
        return np.nan, np.nan, 0.0, "none of the throw lies on its ground"
    if rays * STEP_DEG > rules.widest_deg:
        return 360.0, np.nan, 0.4, f"{whole:.0%} on its ground, but hardly a side is free of it"
    inside = np.isin(np.arange(RAYS), (first + np.arange(rays)) % RAYS)
    wet = np.where(shares >= rules.ray_share, shares, 0.0)
    left_dry = float(wet[~inside].sum() / wet.sum())
    if left_dry > MOST_LEFT_DRY:
        return 360.0, np.nan, 0.3, f"one sector would leave {left_dry:.0%} of its ground dry"
    clear = float(shares[inside].mean() - shares[~inside].mean())
    why = f"{shares[inside].mean():.0%} on its ground inside the arc, "
    why += f"{shares[~inside].mean():.0%} outside"
    return rays * STEP_DEG, middle_deg(first, rays), min(max(clear, 0.0), 0.99), why


def _aimed(shares: NDArray[np.float64], arc_deg: float) -> tuple[float, float, float, str]:
    rays = min(max(round(arc_deg / STEP_DEG), 1), RAYS - 1)
    first, clear = best_window(shares, rays)
    bearing = middle_deg(first, rays)
    return arc_deg, bearing, min(max(clear, 0.0), 0.99), "its arc turned to the most ground"


def _backs(rows: pd.DataFrame, partner: pd.Series[Any]) -> pd.DataFrame:
    """A head back to back with a green's head throws the other way, over what is left."""
    mate = partner.reindex(rows.index)
    inner = rows.reindex(mate.to_numpy())
    turned = (
        (inner["kind"] == "green").to_numpy()
        & (rows["kind"] != "green").to_numpy()
        & (inner["arc_deg"] < 360.0).to_numpy()
        & (rows["arc_now"].isna()).to_numpy()
    )
    left = np.minimum(rows["arc_deg"].to_numpy(), 360.0 - inner["arc_deg"].to_numpy())
    away = (inner["bearing_deg"].to_numpy() + 180.0) % 360.0
    changed = rows.copy()
    changed.loc[turned, "arc_deg"] = left[turned]
    changed.loc[turned, "bearing_deg"] = away[turned]
    changed.loc[turned, "confidence"] = inner["confidence"].to_numpy()[turned] * 0.8
    changed.loc[turned, "reasons"] += "; back to back with a green's head"
    return changed


def propose_arcs(ground: Ground, rules: ArcRules | None = None) -> pd.DataFrame:
    """Arc and bearing of the heads that lack them, from the ground inside their throw.

    Directions in which half the throw lies on ground that a head of its kind should wet
    count; the longest run of them is the arc. A head that has an arc keeps it and is only
    turned to the most ground. Wind, slope and trees are left out.

    Args:
        ground: the record; a throw comes from the nozzle, else the spacing.
        rules: which ground each kind should wet, and when a circle is full.

    Returns:
        Index head id: area, kind, share (of the circle on its ground, 0 to 1), arc_deg in
        steps of 5 (NaN where none of the throw lies on it), bearing_deg (the middle,
        clockwise from north; NaN for a full circle), confidence (0 to 1: how clear-cut the
        edge is) and reasons. Heads without place, throw or area are left out.
    """
    rules = rules or ArcRules()
    heads = Linked(ground).heads.assign(lacks=_lacking(ground), arc_now=ground.heads["arc_deg"])
    heads = heads[heads["x"].notna()]
    partner = _neighbours(heads)
    heads = _green_side(ground, heads, partner)
    sound = heads["lacks"] & heads["kind"].isin(WATERED_KINDS) & (heads["throw_m"] > 0)
    rows = heads[sound]
    samples = _samples(ground, rows, rules)
    shares, whole = samples.mean(axis=2), area_share(samples)
    found = [
        _sector(ray, share, rules) if np.isnan(arc) else _aimed(ray, float(arc))
        for ray, share, arc in zip(shares, whole, rows["arc_now"], strict=True)
    ]
    table = pd.DataFrame(
        found, columns=["arc_deg", "bearing_deg", "confidence", "reasons"], index=rows.index
    )
    table = table.assign(share=whole, area=rows["area"], kind=rows["kind"], arc_now=rows["arc_now"])
    return _backs(table, partner)[list(COLUMNS)].round({"share": 3, "confidence": 2})


def with_arcs(ground: Ground, rows: pd.DataFrame) -> Ground:
    """The ground with proposed arcs and bearings; rows without an arc change nothing.

    Args:
        ground: the record.
        rows: `propose_arcs`, all or some of them.
    """
    sound = rows[rows["arc_deg"].notna()]
    heads = ground.heads.copy()
    heads.loc[sound.index, ["arc_deg", "bearing_deg"]] = sound[["arc_deg", "bearing_deg"]]
    return ground.with_table("heads", heads)
