"""The record with its links worked out once, for everything that checks it."""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.ground.links import area_holes, head_area_links, head_throw_m, station_heads
from nightwater.ground.record import Ground

_ORIFICE_EXPONENT: Final = 0.5


def rows_where(rows: pd.DataFrame, mask: Any) -> Iterator[tuple[str, dict[str, Any]]]:
    """Id and values of the rows that a mask picks, as plain Python."""
    picked = rows[np.asarray(mask, dtype=bool)]
    yield from zip((str(key) for key in picked.index), picked.to_dict("records"), strict=True)


@dataclass(frozen=True)
class Linked:
    """A ground, and what follows from it; each link is computed when first asked for."""

    ground: Ground

    @cached_property
    def heads(self) -> pd.DataFrame:
        """Heads with the columns that checks compare, index = head id.

        station, nozzle, arc_deg (360 where missing), spacing_m, row_m, flow_l_s,
        throw_m, area, how (see `head_area_links`), kind, x, y [m].
        """
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
                "flow_l_s": self._flow_l_s,
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
    def _flow_l_s(self) -> NDArray[np.float64]:
        """Measured flow, else the nozzle's at the head's pressure; NaN where unknown [L/s]."""
        heads = self.ground.heads
        nozzle = self.ground.nozzles.reindex(heads["nozzle"].to_numpy())
        pressure = heads["pressure_kpa"].to_numpy(dtype=float)
        reference = nozzle["pressure_kpa"].to_numpy(dtype=float)
        exponent = nozzle["flow_exponent"].fillna(_ORIFICE_EXPONENT).to_numpy(dtype=float)
        share = np.where(np.isnan(pressure) | np.isnan(reference), 1.0, pressure / reference)
        rated = nozzle["flow_l_s"].to_numpy(dtype=float) * share**exponent
        measured = heads["measured_flow_l_s"].to_numpy(dtype=float)
        return np.asarray(np.where(np.isnan(measured), rated, measured))

    @cached_property
    def station_heads(self) -> pd.Series[Any]:
        """Ids of the heads of each station."""
        return station_heads(self.ground)

    @cached_property
    def area_holes(self) -> pd.Series[Any]:
        """Hole of each area, declared or by geometry."""
        return area_holes(self.ground)

    def name(self, table: str, identity: Hashable) -> str:
        """What people call a row: its label, else its id."""
        label = self.ground.table(table)["label"].get(identity)
        return label if isinstance(label, str) and label else str(identity)
