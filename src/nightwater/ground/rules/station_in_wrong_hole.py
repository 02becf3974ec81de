"""Stations whose label names another hole than the one their heads stand on."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

import pandas as pd

from nightwater.findings import Finding, Severity
from nightwater.ground.linked import Linked, rows_where

CODE: Final = "station-in-wrong-hole"
SEVERITY: Final = Severity.WARNING
LEAST_STATIONS: Final = 5  # so that what labels of a hole begin with is learnt, not guessed
LEAST_SHARE: Final = 0.8  # of a hole's stations that agree


def _begins_with(label: object) -> str | None:
    """What a label begins with, letters and digits; leading zeros do not count."""
    found = re.match(r"\s*([^\W_]+)[\W_]", label) if isinstance(label, str) else None
    return found[1].lstrip("0").casefold() or None if found else None


def _stations(linked: Linked) -> pd.DataFrame:
    """Hole where all placed heads of a station water, and what its label begins with."""
    heads = linked.heads.dropna(subset=["station", "area"])
    holes = linked.area_holes.reindex(heads["area"].to_numpy()).to_numpy()
    by_station = heads.assign(hole=holes).groupby("station")["hole"]
    one = by_station.first()[by_station.nunique(dropna=False) == 1].dropna()
    names = linked.ground.stations["label"].reindex(one.index).map(_begins_with)
    return pd.DataFrame({"hole": one, "begins": names}).dropna()


def _holes_by_beginning(stations: pd.DataFrame) -> dict[str, str]:
    """Beginnings that stand for one hole, where nearly all its stations have them."""
    found: dict[str, list[str]] = {}
    for hole, names in stations.groupby("hole")["begins"]:
        count = names.value_counts()
        if len(names) >= LEAST_STATIONS and count.iloc[0] >= LEAST_SHARE * len(names):
            found.setdefault(str(count.index[0]), []).append(str(hole))
    return {name: holes[0] for name, holes in found.items() if len(holes) == 1}


def find(linked: Linked) -> Iterator[Finding]:
    """Each station that is called as those of another hole are."""
    stations = _stations(linked)
    known = _holes_by_beginning(stations)
    named = stations["begins"].map(known)
    for identity, row in rows_where(
        stations.assign(named=named), named.notna() & (named != stations["hole"])
    ):
        yield Finding(
            SEVERITY,
            CODE,
            f"stations:{identity}",
            f"Station {linked.name('stations', identity)} is called as those of "
            f"{linked.name('holes', row['named'])} are; its heads water "
            f"{linked.name('holes', row['hole'])}.",
            "Run it and see where heads rise, then correct the label or the heads.",
        )
