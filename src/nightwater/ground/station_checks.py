"""Doubts about stations: empty, mixed, far apart, or at odds with the station list."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import pandas as pd
import shapely

from nightwater.findings import Finding, note, warning
from nightwater.ground.linked import Linked, rows_where
from nightwater.ground.spacing import points_of

FLOW_SHARE: Final = 0.10
APART_SHARE: Final = 2.2  # of the declared spacing: a pair stands one apart
APART_M: Final = 50.0  # where no spacing is declared


def without_heads(linked: Linked) -> Iterator[Finding]:
    """Stations that fire nothing the record knows."""
    for identity, heads in linked.station_heads.items():
        if not heads:
            yield warning(
                "station-without-heads",
                f"stations:{identity}",
                f"Station {linked.name('stations', identity)} has no head, so no plan runs it.",
                "Name the station on its heads, or list its heads.",
            )


def head_count_differs(linked: Linked) -> Iterator[Finding]:
    """Stations whose list says another number of heads than the record."""
    listed = linked.ground.stations["heads_listed"]
    for (identity, heads), count in zip(linked.station_heads.items(), listed, strict=True):
        if pd.notna(count) and heads and int(count) != len(heads):
            yield warning(
                "station-head-count",
                f"stations:{identity}",
                f"Station {linked.name('stations', identity)} lists {int(count)} heads; the record "
                f"has {len(heads)}: {', '.join(heads)}.",
                "Run it, count the heads that rise, and correct the list or the heads.",
            )


def flow_differs(linked: Linked) -> Iterator[Finding]:
    """Stations whose listed flow is not the sum of their heads."""
    known = linked.heads.dropna(subset=["station"])
    total = known.groupby("station")["flow_l_s"].agg(lambda flows: flows.sum(skipna=False))
    listed = linked.ground.stations["flow_listed_l_s"].astype(float)
    share = total.reindex(listed.index) / listed - 1.0
    flows = pd.DataFrame({"listed": listed, "total": total, "share": share}, index=listed.index)
    for identity, row in rows_where(flows, share.abs() > FLOW_SHARE):
        yield warning(
            "station-flow-differs",
            f"stations:{identity}",
            f"Station {linked.name('stations', identity)} lists {row['listed']:.2f} L/s; its heads "
            f"add to {row['total']:.2f} L/s ({row['share']:+.0%}).",
            "Check its nozzles and the number of its heads; the heads' flow counts meanwhile.",
        )


_MIXES: Final = (
    ("kind", "station-mixes-kinds", "kinds of ground", warning),
    ("nozzle", "station-mixes-nozzles", "nozzles", warning),
    ("arc_deg", "station-mixes-arcs", "arcs", note),
)


def mixed(linked: Linked) -> Iterator[Finding]:
    """Stations whose heads differ in kind of ground, nozzle or arc."""
    known = linked.heads.dropna(subset=["station"]).groupby("station")
    for column, code, words, severity in _MIXES:
        count = known[column].nunique()
        for identity in count.index[count > 1]:
            values = known.get_group(identity)[column].dropna()
            shown = " and ".join(sorted({f"{v:g}°" if column == "arc_deg" else v for v in values}))
            yield severity(
                code,
                f"stations:{identity}",
                f"Station {linked.name('stations', str(identity))} has heads of several {words}: "
                f"{shown}.",
                "One run time cannot suit them all; split the station or correct the heads.",
            )


def _loneliest(heads: pd.DataFrame) -> tuple[float, float]:
    """Largest distance of a head to the nearest one of its station, and the limit [m]."""
    spots = points_of(heads)
    away = shapely.distance(spots[:, None], spots[None, :])
    np.fill_diagonal(away, np.inf)
    spacing = float(heads["spacing_m"].max())
    return float(away.min(axis=1).max()), APART_M if np.isnan(spacing) else APART_SHARE * spacing


def far_apart(linked: Linked) -> Iterator[Finding]:
    """Stations with a head far from all their others."""
    placed = linked.heads.dropna(subset=["station", "x"])
    for identity, heads in placed.groupby("station"):
        if len(heads) < 2:
            continue
        distance, limit = _loneliest(heads)
        if distance > limit:
            yield warning(
                "station-heads-far-apart",
                f"stations:{identity}",
                f"A head of station {linked.name('stations', str(identity))} stands "
                f"{distance:.0f} m from its others; {limit:.0f} m is the most expected.",
                "Run it and see which heads rise; one may belong to another station.",
            )


def outputs_twice(linked: Linked) -> Iterator[Finding]:
    """Stations that share one output of one controller, or name none."""
    rows = linked.ground.stations
    known = rows.dropna(subset=["controller", "output"])
    for (controller, output), same in known.groupby(["controller", "output"]):
        if len(same) > 1:
            first, *others = (str(identity) for identity in same.index)
            yield warning(
                "output-twice",
                f"stations:{first}",
                f"Output {output} of {controller} switches {len(same)} stations: "
                f"{', '.join([first, *others])}.",
                "Read the output on the controller and correct the list.",
            )
    for identity in rows.index[rows["controller"].isna()]:
        yield note(
            "station-without-controller",
            f"stations:{identity}",
            f"Station {linked.name('stations', identity)} names no controller or path.",
            "Enter it; until then its heads count against no limit.",
        )
