"""Which nozzle a head has, proposed from the flow that the station list states."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.ground.record import Ground

TOLERANCE: Final = 0.08  # rounding of lists and worn nozzles (common practice, no source)
COLUMNS: Final = (
    *("station", "flow_each_l_s", "nozzle", "difference", "runner_up", "confidence", "reasons"),
)

Numbers = NDArray[np.float64]


def _listed(ground: Ground) -> pd.DataFrame:
    """Heads without a nozzle whose station states a flow: station and flow left for each.

    Heads of the station that do have a nozzle take theirs off first.
    """
    heads, stations = ground.heads, ground.stations
    flow = ground.nozzles["flow_l_s"].reindex(heads["nozzle"].to_numpy()).to_numpy(dtype=float)
    rows = pd.DataFrame({"station": heads["station"].to_numpy(), "flow": flow}, heads.index)
    rows = rows[rows["station"].isin(stations.index)]
    by_station = rows.groupby("station")["flow"]
    left = stations["flow_listed_l_s"].reindex(rows["station"].to_numpy()).to_numpy(dtype=float)
    left = left - by_station.transform("sum").to_numpy()
    seen = by_station.transform("size").to_numpy()
    counted = stations["heads_listed"].reindex(rows["station"].to_numpy()).astype("Float64")
    count = counted.to_numpy(dtype=float, na_value=np.nan)
    rows["seen"], rows["listed"] = seen, np.where(np.isnan(count), seen, count)
    without = np.maximum(rows["listed"], seen) - by_station.transform("count").to_numpy()
    rows["each"] = left / without
    return rows[rows["flow"].isna() & (rows["each"] > 0)]


def _nearest(each: Numbers, flows: Numbers) -> tuple[NDArray[np.int64], Numbers, Numbers]:
    """Places of the nozzles from the nearest on, and how far the first two lie off."""
    off = np.abs(each[:, None] - flows[None, :]) / flows[None, :]
    order = np.argsort(off, axis=1, kind="stable")
    ranked = np.take_along_axis(off, order, axis=1)
    second = ranked[:, 1] if flows.size > 1 else np.full(len(each), np.inf)
    return order, ranked[:, 0], second


def propose_nozzles(ground: Ground, tolerance: float = TOLERANCE) -> pd.DataFrame:
    """The nozzle whose flow is nearest to the listed flow of each head.

    A station's listed flow, less that of its heads whose nozzle is known, is shared evenly
    among the rest of its heads, by the list's count where that is more than the record has.

    Args:
        ground: the record.
        tolerance: most difference, as a share of the nozzle's flow.

    Returns:
        Index head id, heads without a nozzle whose station states a flow: station,
        flow_each_l_s, nozzle (None beyond the tolerance), difference (share of the nearest
        nozzle's flow), runner_up (None for a single nozzle), confidence (0 to 1: by how much
        the runner-up is worse) and reasons.
    """
    rows, nozzles = _listed(ground), ground.nozzles[ground.nozzles["flow_l_s"] > 0]
    if rows.empty or nozzles.empty:
        return pd.DataFrame(columns=list(COLUMNS), index=rows.index[:0])
    each = rows["each"].to_numpy(dtype=float)
    order, off, second = _nearest(each, nozzles["flow_l_s"].to_numpy(dtype=float))
    names = nozzles.index.to_numpy(dtype=object)
    fits = off <= tolerance
    margin = 1.0 - np.divide(off, second, out=np.ones_like(off), where=second > 0)
    counted = rows["listed"].to_numpy() == rows["seen"].to_numpy()
    sure = np.where(fits, margin * np.where(counted, 0.99, 0.6), 0.0)
    fields = zip(each, off, names[order[:, 0]], counted, strict=True)
    return pd.DataFrame(
        {
            "station": rows["station"],
            "flow_each_l_s": each,
            "nozzle": pd.Series(names[order[:, 0]], rows.index, dtype=object).where(fits, None),
            "difference": off.round(4),
            "runner_up": names[order[:, 1]] if len(names) > 1 else None,
            "confidence": sure.round(2),
            "reasons": [_reason(*values) for values in fields],
        },
        index=rows.index,
    )


def _reason(each: float, off: float, nozzle: object, counted: bool) -> str:
    words = f"{each:.2f} L/s a head by the list, {off:.1%} off {nozzle}"
    return words if counted else words + "; the list counts other heads than the record"


def with_nozzles(ground: Ground, rows: pd.DataFrame) -> Ground:
    """The ground with proposed nozzles; rows without one change nothing.

    Args:
        ground: the record.
        rows: `propose_nozzles`, all or some of them.
    """
    sound = rows[rows["nozzle"].notna()]
    heads = ground.heads.copy()
    heads.loc[sound.index, "nozzle"] = sound["nozzle"]
    return ground.with_table("heads", heads)
