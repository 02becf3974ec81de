"""The record with its links worked out once, for everything that checks it."""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Final

import numpy as np
import pandas as pd
import shapely

from nightwater.ground.links import area_holes, head_area_links, head_throw_m, station_heads
from nightwater.ground.nozzle_performance import head_flow_l_s
from nightwater.ground.number_rules import NumberRules
from nightwater.ground.record import Ground
from nightwater.ground.sector_shapes import sector_shapes, shares_on
from nightwater.ground.shapes import Geometries, sound_shapes
from nightwater.ground.tables import GROUND_TABLES, TABLES, WATERED_KINDS
from nightwater.units import SECONDS_PER_HOUR

MATCHED_RATIO: Final = 1.15  # nozzles matched to their arcs water within this of each other


def rows_where(rows: pd.DataFrame, mask: Any) -> Iterator[tuple[str, dict[str, Any]]]:
    """Id and values of the rows that a mask picks, as plain Python."""
    wanted = np.asarray(mask, dtype=bool)
    if not wanted.any():
        return
    picked = rows[wanted]
    yield from zip((str(key) for key in picked.index), picked.to_dict("records"), strict=True)


def points_of(heads: pd.DataFrame) -> Geometries:
    """Heads with columns x and y as shapely points."""
    return np.asarray(shapely.points(heads[["x", "y"]].to_numpy(dtype=float)), dtype=object)


def neighbour_distance_m(heads: pd.DataFrame) -> pd.Series[float]:
    """Distance from each head to the nearest one of its area and nozzle [m].

    Heads of one nozzle in one area form the pattern whose spacing the record declares;
    the out-throw head that stands back to back with a green's head belongs to another.

    Args:
        heads: columns area, nozzle, x, y [m] as `Linked.heads` has them.

    Returns:
        Distance [m]; NaN for a head without place, area or a neighbour of its own kind.
    """
    found = pd.Series(np.nan, index=heads.index, name="neighbour_m")
    sound = heads[heads["area"].notna() & heads["nozzle"].notna() & heads["x"].notna()]
    for _, pattern in sound.groupby(["area", "nozzle"], sort=False):
        if len(pattern) < 2:
            continue
        points = points_of(pattern)
        (one, _other), distance = shapely.STRtree(points).query_nearest(
            points, exclusive=True, return_distance=True, all_matches=False
        )
        found.loc[pattern.index[one]] = distance
    return found


def mapped_shapes(ground: Ground) -> Iterator[tuple[str, pd.DataFrame, Geometries]]:
    """Name, rows and geometries, as they were surveyed, of each mapped table."""
    for name in GROUND_TABLES:
        if TABLES[name].shape is not None:
            rows: Any = ground.table(name)
            yield name, rows, np.asarray(rows.geometry, dtype=object)


@dataclass(frozen=True)
class Linked:
    """A ground, and what follows from it; each link is computed when first asked for.

    Attributes:
        ground: the record.
        number_rules: how the club numbers heads and stations.
        known_heads, known_area_holes: what `heads` and `area_holes` are, where it is known
            already.
    """

    ground: Ground
    number_rules: NumberRules = field(default_factory=NumberRules)
    known_heads: pd.DataFrame | None = None
    known_area_holes: pd.Series[Any] | None = None

    @cached_property
    def heads(self) -> pd.DataFrame:
        """Heads with the columns that checks compare, index = head id.

        station, nozzle, arc_deg (360 where missing), spacing_m, row_m, flow_l_s,
        throw_m, area, how (see `head_area_links`), kind, x, y [m].
        """
        if self.known_heads is not None:
            return self.known_heads
        heads, links = self.ground.heads, head_area_links(self.ground)
        places = heads.geometry
        return pd.DataFrame(
            {
                "station": heads["station"],
                "nozzle": heads["nozzle"],
                "arc_deg": heads["arc_deg"].fillna(360.0).astype(float),
                "bearing_deg": heads["bearing_deg"].astype(float),
                "spacing_m": heads["spacing_m"].astype(float),
                "row_m": heads["row_m"].astype(float),
                "flow_l_s": head_flow_l_s(heads, self.ground.nozzles),
                "throw_m": head_throw_m(self.ground),
                "area": links["area"],
                "how": links["how"],
                "kind": self.ground.areas["kind"].reindex(links["area"].to_numpy()).to_numpy(),
                "x": np.where(places.is_empty | places.isna(), np.nan, places.x),
                "y": np.where(places.is_empty | places.isna(), np.nan, places.y),
            },
            index=heads.index,
        )

    @property
    def cell_m2(self) -> pd.Series[float]:
        """Ground that each head answers for: spacing times row, by its arc [m²]."""
        heads = self.heads
        return heads["spacing_m"] * heads["row_m"] * heads["arc_deg"] / 360.0

    @property
    def rate_mm_h(self) -> pd.Series[float]:
        """Each head's flow over the ground it answers for; NaN where unknown [mm/h]."""
        return self.heads["flow_l_s"] / self.cell_m2 * SECONDS_PER_HOUR

    @cached_property
    def station_heads(self) -> pd.Series[Any]:
        """Ids of the heads of each station."""
        return station_heads(self.ground)

    @cached_property
    def area_holes(self) -> pd.Series[Any]:
        """Hole of each area, declared or by geometry."""
        return area_holes(self.ground) if self.known_area_holes is None else self.known_area_holes

    @cached_property
    def sectors(self) -> Geometries:
        """The ground that each head throws on, in the order of `heads`; see `sector_shapes`."""
        return sector_shapes(self.heads)

    def thrown_on(self, kind: str, over_share: float) -> Iterator[tuple[str, float]]:
        """Heads of which more than a share of the sector lies on a kind of ground, and how much."""
        areas = self.ground.areas
        shapes = sound_shapes(areas[areas["kind"] == kind], "areas")
        share = shares_on(self.sectors, shapely.get_parts(shapely.union_all(shapes)))
        for row in np.flatnonzero(share > over_share).tolist():
            yield str(self.heads.index[row]), float(share[row])

    def holes_without(self, kind: str) -> list[str]:
        """Ids of the holes that no area of a kind belongs to; none where the record has none."""
        of_kind = self.ground.areas["kind"] == kind
        if not of_kind.any():
            return []
        served = set(self.area_holes[of_kind].dropna())
        return [str(hole) for hole in self.ground.holes.index if hole not in served]

    def mixed(self, column: str) -> Iterator[tuple[str, list[Any]]]:
        """Stations whose heads differ in a column of `heads`, and its values, sorted."""
        known = self.heads.dropna(subset=["station"]).groupby("station")[column]
        count = known.nunique()
        for station in count.index[count > 1]:
            yield str(station), sorted(known.get_group(station).dropna().unique())

    def watered_without(self, column: str) -> tuple[list[str], bool]:
        """Ids of the watered areas that lack a value, and whether all of several do."""
        areas = self.ground.areas
        watered = areas[areas["kind"].isin(WATERED_KINDS)]
        lacking = [str(area) for area in watered.index[watered[column].isna()]]
        return lacking, len(lacking) == len(watered) > 1

    def unmatched(self, column: str) -> Iterator[tuple[str, list[Any], str]]:
        """Stations of `mixed` whose heads are not known to water alike, with their rates in words.

        The words are empty where a rate is unknown.
        """
        for station, values in self.mixed(column):
            slowest, fastest = self._station_rates_mm_h(station)
            if fastest <= MATCHED_RATIO * slowest:
                continue
            known = not np.isnan(fastest)
            yield (
                station,
                values,
                f" They water {slowest:.1f} to {fastest:.1f} mm/h." if known else "",
            )

    def _station_rates_mm_h(self, station: str) -> tuple[float, float]:
        """Slowest and fastest rate of a station's heads [mm/h]; NaN where one is unknown."""
        rates = self.rate_mm_h[(self.heads["station"] == station).to_numpy()].to_numpy(dtype=float)
        return float(rates.min()), float(rates.max())

    def name(self, table: str, identity: Hashable) -> str:
        """What people call a row: its label, else its id."""
        label = self.ground.table(table)["label"].get(identity)
        return label if isinstance(label, str) and label else str(identity)
