"""A nozzle's flow and throw against pressure, and what each head of the record so lets through."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from nightwater.findings import UserError

FLOW_EXPONENT: Final = 0.5  # an orifice: flow goes with the square root of pressure

Numbers = NDArray[np.float64]


def pairs(words: str, parts: int, what: str) -> Numbers:
    """Numbers of a text like '1:12.5 2:13', shape (n, parts), in rising order of the first.

    Args:
        words: entries parted by spaces or semicolons, numbers of an entry by colons.
        parts: numbers in one entry.
        what: for the message, like "Nozzle N1's leg".

    Raises:
        UserError: an entry with another count of numbers, or what is no number.
    """
    rows = []
    for entry in words.replace(";", " ").split():
        try:
            row = [float(word) for word in entry.split(":")]
        except ValueError:
            row = []
        if len(row) != parts or not np.isfinite(row).all():
            form = ":".join(["number"] * parts)
            raise UserError(
                f"{what} holds '{entry}'; write each entry as {form}, parted by spaces."
            )
        rows.append(row)
    return np.array(sorted(rows), dtype=float).reshape(-1, parts)


def nozzle_performance(nozzle: str, row: Mapping[str, Any]) -> Numbers:
    """Pressure [kPa], flow [L/s] and throw [m] of a nozzle, rising in pressure, shape (n, 3).

    Its reference point and those of its `performance`; a point at the reference pressure in
    the latter takes the former's place.

    Raises:
        UserError: a performance that is not triples of numbers above 0, or names a pressure twice.
    """
    reference = [float(row[name]) for name in ("pressure_kpa", "flow_l_s", "radius_m")]
    stated = row.get("performance")
    words = stated if isinstance(stated, str) else ""
    what = f"The performance of nozzle {nozzle}"
    points = pairs(words, 3, what)
    if (points <= 0).any() or len(np.unique(points[:, 0])) < len(points):
        raise UserError(
            f"{what} holds a number of 0 or less, or a pressure twice. Correct 'performance'."
        )
    if not np.isin(reference[0], points[:, 0]):
        points = np.vstack([points, reference])
    return points[np.argsort(points[:, 0])]


def flow_and_radius(
    points: Numbers, pressure_kpa: Numbers, exponent: float = FLOW_EXPONENT
) -> tuple[Numbers, Numbers]:
    """Flow [L/s] and throw [m] of a nozzle at pressures.

    Between two points of the table the coefficient K = q / p^x and the throw are
    interpolated straight over pressure; outside it K stays that of the nearest
    point, and the throw stays level above and goes with √p below: no table tells more.

    Args:
        points: as `nozzle_performance` gives them.
        pressure_kpa: pressures [kPa], any shape.
        exponent: x, 0.5 for an orifice.

    Returns:
        The two, in the shape of the pressures; NaN for a missing or negative one.

    Reference: orifice equation; the √p of the throw below the table is a choice of ours.
    """
    table_p, table_q, table_r = points.T
    pressure = np.where(np.asarray(pressure_kpa) >= 0, pressure_kpa, np.nan)
    first = table_p[0]  # K is carried as the flow at this pressure, so that one point stays exact
    at_first = np.interp(pressure, table_p, table_q * (first / table_p) ** exponent)
    flow = at_first * (pressure / first) ** exponent
    below = np.sqrt(np.minimum(pressure / table_p[0], 1.0))
    return flow, np.interp(pressure, table_p, table_r) * below


def _points_or_reference(nozzle: str, row: Mapping[str, Any]) -> Numbers:
    """A nozzle's table; its reference point alone where the table cannot be read."""
    try:
        return nozzle_performance(nozzle, row)
    except UserError:
        return nozzle_performance(nozzle, {**row, "performance": ""})


def nozzle_flow_l_s(nozzle: str, row: Mapping[str, Any], pressure_kpa: ArrayLike) -> Numbers:
    """Flow of a nozzle at pressures, by its table and exponent.

    A table that cannot be read does not count: flow then follows the reference point, and a
    finding of `spray.nozzle_tables.read_nozzles` tells what is wrong with the table.

    Args:
        nozzle: its id, for messages.
        row: columns pressure_kpa, flow_l_s, radius_m; performance and flow_exponent as far as
            they are known.
        pressure_kpa: any shape; NaN runs at the nozzle's reference pressure.

    Returns:
        Flow [L/s], in the shape of the pressures.
    """
    power = row.get("flow_exponent")
    exponent = FLOW_EXPONENT if power is None or pd.isna(power) else float(power)
    points = _points_or_reference(nozzle, row)
    pressure = np.asarray(pressure_kpa, dtype=float)
    asked = np.where(np.isnan(pressure), float(row["pressure_kpa"]), pressure)
    return flow_and_radius(points, asked, exponent)[0]


def head_flow_l_s(heads: pd.DataFrame, nozzles: pd.DataFrame) -> pd.Series[float]:
    """Flow of each head: measured where it was measured, else its nozzle's at its pressure.

    A head without a pressure runs at its nozzle's reference pressure. The same curve as the
    heads' patterns have (`flow_and_radius`), so minutes, pipes and maps speak of one flow.

    Args:
        heads: the record's heads; columns nozzle, pressure_kpa, measured_flow_l_s.
        nozzles: the record's nozzles.

    Returns:
        Flow [L/s], index = head id; NaN where neither nozzle nor measurement is known.
    """
    names = heads["nozzle"].to_numpy(dtype=object)
    pressure = heads["pressure_kpa"].to_numpy(dtype=float)
    flow = np.full(len(heads), np.nan)
    for nozzle, row in zip(nozzles.index, nozzles.to_dict("records"), strict=True):
        mine = names == nozzle
        if mine.any():
            fields = {str(key): value for key, value in row.items()}
            flow[mine] = nozzle_flow_l_s(str(nozzle), fields, pressure[mine])
    measured = heads["measured_flow_l_s"].to_numpy(dtype=float)
    flow = np.where(np.isnan(measured), flow, measured)
    return pd.Series(flow, index=heads.index, name="flow_l_s")
