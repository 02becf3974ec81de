"""Heads, nozzles, stations and the four two-wire paths of the invented club."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from typing import Any, Final

import pandas as pd

from nightwater.demo.layout import HeadSpot
from nightwater.demo.place import elevation_m

PATH_STATIONS: Final = {"A": 212, "B": 248, "C": 251, "D": 233}
PATH_ORDER: Final = (
    *("01", "02", "03", "04", "P1", "P2"),
    *("05", "06", "07", "08", "P", "C"),
    *("09", "10", "11", "12"),
    *("13", "14", "15", "16", "17", "18"),
)
PATH_HEADS: Final = 48  # valves that one path may hold open at once
_PATH_PLACES: Final = {
    "A": "Behind the 1st green",
    "B": "Range hut",
    "C": "Clubhouse cellar",
    "D": "Beside the 15th tee",
}
NOZZLES: Final = pd.DataFrame(
    [
        ("N24", "24 gpm part circle", 70, 24.0, 58, 0.5, 180),
        ("N14", "14 gpm", 65, 14.0, 50, 0.5, 150),
        ("N27", "27.5 gpm", 70, 27.5, 66, 0.5, 180),
        ("N04", "4.5 gpm small rotor", 50, 4.5, 30, 0.5, 60),
    ],
    columns=[
        "id",
        "label",
        "pressure_psi",
        "flow_gpm",
        "radius_ft",
        "flow_exponent",
        "rotation_s",
    ],
)
_FLOW_GPM: Final = dict(zip(NOZZLES["id"], NOZZLES["flow_gpm"], strict=True))


@dataclass(frozen=True)
class StationRow:
    """One station of the list: id, tag, and the heads it drives (places in the survey)."""

    identity: str
    label: str
    heads: tuple[int, ...]


def _station_label(spot: HeadSpot) -> str:
    """A zone valve is named for its zone, every other station for its first head."""
    if spot.letter == "Z":
        return f"{spot.hole}-Z-{spot.pair + 1:02d}"
    return spot.label


def stations(heads: list[HeadSpot]) -> list[StationRow]:
    """The stations in the order of the list, which is the order of the paths."""
    place = {hole: rank for rank, hole in enumerate(PATH_ORDER)}
    order = sorted(
        range(len(heads)),
        key=lambda row: (place[heads[row].hole], heads[row].letter, heads[row].pair),
    )
    groups = groupby(order, key=lambda row: (heads[row].hole, heads[row].letter, heads[row].pair))
    rows = []
    for number, (_, members) in enumerate(groups, 1):
        driven = tuple(members)
        rows.append(StationRow(f"S{number:03d}", _station_label(heads[driven[0]]), driven))
    return rows


def _paths() -> Iterable[tuple[str, int]]:
    """Path and output of each station of the list."""
    for path, count in PATH_STATIONS.items():
        yield from ((path, output) for output in range(1, count + 1))


def head_id(place: int) -> str:
    """The asset number of a head, by its place in the survey; never used twice."""
    return f"H{place + 1:04d}"


def head_table(heads: list[HeadSpot], listed: list[StationRow]) -> pd.DataFrame:
    """Heads as the satellite survey brought them home, in US units, with x and y [m].

    The zone valves of the grounds are not written on the heads: the station list names
    their heads instead.
    """
    station = {row: item.identity for item in listed for row in item.heads}
    rows: list[dict[str, Any]] = [
        {
            "id": head_id(place),
            "label": spot.label,
            "station": None if spot.letter == "Z" else station[place],
            "nozzle": spot.nozzle,
            "arc_deg": spot.arc_deg,
            "bearing_deg": None if spot.bearing_deg is None else round(spot.bearing_deg, 1),
            "spacing_ft": round(spot.spacing_ft, 1),
            "row_ft": round(spot.row_ft, 2),
            "elevation_m": round(float(elevation_m(spot.x, spot.y)), 1),
            "condition": "good",
            "regulated": True,
            "evidence": "surveyed",
            "x": spot.x,
            "y": spot.y,
        }
        for place, spot in enumerate(heads)
    ]
    return pd.DataFrame(rows)


def station_table(heads: list[HeadSpot], listed: list[StationRow]) -> pd.DataFrame:
    """The station list as the technician keeps it, in US units."""
    rows = []
    for item, (path, output) in zip(listed, _paths(), strict=True):
        driven = [heads[row] for row in item.heads]
        is_zone = driven[0].letter == "Z"
        rows.append(
            {
                "id": item.identity,
                "label": item.label,
                "controller": path,
                "output": output,
                "heads_listed": len(driven),
                "heads": " ".join(head_id(row) for row in item.heads) if is_zone else None,
                "flow_gpm": sum(_FLOW_GPM[spot.nozzle] for spot in driven),
                "evidence": "surveyed",
            }
        )
    return pd.DataFrame(rows)


def controller_table() -> pd.DataFrame:
    """The four two-wire paths."""
    return pd.DataFrame(
        [
            {
                "id": path,
                "label": f"Path {path}",
                "max_heads_on": PATH_HEADS,
                "location": _PATH_PLACES[path],
                "evidence": "surveyed",
            }
            for path in PATH_STATIONS
        ]
    )
