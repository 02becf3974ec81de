"""What belongs to one hole: its grounds, heads, valves, pipes and stations."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from nightwater.findings import NotFoundError, UserError
from nightwater.ground.linked import Linked
from nightwater.ground.record import Ground

NEAR_M: Final = 15.0  # a valve this near to a hole's ground is looked for there; chosen here
_ALONG_PLAY_M: Final = 40.0  # where a hole has no areas: so far to both sides of its line
_MARGIN_M: Final = 6.0


def _natural(text: str) -> list[Any]:
    """A key that puts 2 before 10."""
    parts: list[str] = []
    for character in text:
        if parts and parts[-1][-1].isdigit() == character.isdigit():
            parts[-1] += character
        else:
            parts.append(character)
    return [(0, int(part), "") if part.isdecimal() else (1, 0, part) for part in parts]


def hole_order(ground: Ground) -> list[str]:
    """Ids of the holes as on the card, those without a number last."""
    numbers = ground.holes["number"].astype("float64")
    order = np.lexsort((ground.holes.index.astype(str), numbers.fillna(np.inf)))
    return [str(ground.holes.index[place]) for place in order]


def hole_named(ground: Ground, wanted: str) -> str:
    """The id of the hole that a person means: by number on the card, label or id.

    Raises:
        NotFoundError: no such hole, or two.
    """
    text = wanted.strip()
    if text in ground.holes.index:
        return text
    number = int(text) if text.isdecimal() else None
    meant = ground.holes["label"].eq(text) | ground.holes["number"].eq(number).fillna(False)
    found = [str(key) for key in ground.holes.index[meant.fillna(False).to_numpy(dtype=bool)]]
    if len(found) == 1:
        return found[0]
    known = ", ".join(hole_order(ground)) or "none yet; survey lines of play as holes first"
    what = "is the number or name of two holes" if found else "is no hole of this course"
    raise NotFoundError(f"'{wanted}' {what}. Known ids: {known}.")


@dataclass(frozen=True)
class HoleParts:
    """One hole of a record.

    Attributes:
        linked: the record with its links.
        hole: its id.
    """

    linked: Linked
    hole: str

    @property
    def ground(self) -> Ground:
        """The record."""
        return self.linked.ground

    @cached_property
    def areas(self) -> gpd.GeoDataFrame:
        """Its areas."""
        own = self.linked.area_holes.eq(self.hole).fillna(False).to_numpy(dtype=bool)
        return self.ground.areas[own]

    @cached_property
    def heads(self) -> gpd.GeoDataFrame:
        """Its heads, in the order of their labels; with `throw_m`."""
        linked = self.linked.heads
        own = linked["area"].isin(self.areas.index).to_numpy(dtype=bool)
        heads = self.ground.heads[own].assign(throw_m=linked["throw_m"][own])
        return heads.loc[sorted(heads.index, key=lambda key: _natural(self.name("heads", key)))]

    @cached_property
    def zone(self) -> Any:
        """The hole's own ground, in metres.

        Raises:
            UserError: nothing of the hole has a place.
        """
        shapes = [s for s in (*self.areas.geometry, *self.heads.geometry) if s is not None]
        line = self.ground.holes.geometry[self.hole]
        if not shapes and line is None:
            raise UserError(
                f"Hole {self.hole} has no line of play, no area and no head with a place, so there "
                "is nothing to draw. Survey one of them."
            )
        shapes = shapes or [shapely.buffer(line, _ALONG_PLAY_M)]
        return shapely.union_all(shapely.make_valid(np.array(shapes, dtype=object)))

    @cached_property
    def valves(self) -> gpd.GeoDataFrame:
        """Valves on or within 15 m of its ground, in the order of their labels."""
        valves = self.ground.valves[self.ground.valves.geometry.notna()]
        near = shapely.dwithin(valves.geometry.to_numpy(), self.zone, NEAR_M)
        valves = valves[near]
        return valves.loc[sorted(valves.index, key=lambda key: _natural(self.name("valves", key)))]

    @cached_property
    def stations(self) -> pd.DataFrame:
        """The stations of its heads, by controller and output."""
        wanted = self.ground.stations.index.isin(self.heads["station"].dropna())
        stations = self.ground.stations[wanted]
        order = sorted(
            stations.index,
            key=lambda key: (
                _natural(str(stations.loc[key, "controller"] or "")),
                float(pd.Series([stations.loc[key, "output"]]).fillna(np.inf).iloc[0]),
                _natural(self.name("stations", key)),
            ),
        )
        return stations.loc[order]

    @cached_property
    def extent(self) -> tuple[float, float, float, float]:
        """Left, bottom, right and top of what is to be drawn [m]."""
        near = [shapely.buffer(self.zone, _MARGIN_M), *self.valves.geometry]
        left, bottom, right, top = shapely.total_bounds(np.array(near, dtype=object))
        return float(left), float(bottom), float(right), float(top)

    def name(self, table: str, identity: Any) -> str:
        """What people call a row."""
        return self.linked.name(table, identity)
