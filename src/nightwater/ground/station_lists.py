"""The station list against the heads' own stations: one answer, and what disagrees."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, Final

import pandas as pd

from nightwater.findings import Finding, error, warning
from nightwater.ground.record import Ground
from nightwater.ground.shapes import texts

_PARTING: Final = re.compile(r"[;,\s]+")


def named_rows(rows: pd.DataFrame) -> dict[str, str]:
    """Id of each row by its id, and by its label where that is nobody else's name."""
    labels = texts(rows, "label")
    count = Counter(label for label in labels if label)
    known = {str(key): str(key) for key in rows.index}
    for key, label in zip(rows.index, labels, strict=True):
        if label and count[label] == 1:
            known.setdefault(label, str(key))
    return known


def listed_names(text: object) -> list[str]:
    """The names in a station's list: parted by spaces, commas or semicolons."""
    return [name for name in _PARTING.split(text) if name] if isinstance(text, str) else []


def _own_stations(ground: Ground) -> pd.Series[Any]:
    """Stations that the heads name themselves; a label stands for its id."""
    known = named_rows(ground.stations)
    own = ground.heads["station"]
    resolved = [known.get(name, name) if isinstance(name, str) else None for name in own]
    return pd.Series(resolved, index=own.index, dtype=object)


@dataclass
class _Lists:
    """What the station lists say."""

    station_of: dict[str, str] = field(default_factory=dict)
    listing: set[str] = field(default_factory=set)
    findings: list[Finding] = field(default_factory=list)


def _claim(lists: _Lists, station: str, head: str) -> None:
    first = lists.station_of.setdefault(head, station)
    if first != station:
        lists.findings.append(
            warning(
                "head-on-two-lists",
                f"heads:{head}",
                f"Head {head} stands on the lists of stations {first} and {station}.",
                "Strike it from the list that is wrong; until then the first one counts.",
            )
        )


def _read_lists(ground: Ground) -> _Lists:
    known, lists = named_rows(ground.heads), _Lists()
    for station, text in ground.stations["heads"].items():
        for name in listed_names(text):
            lists.listing.add(str(station))
            if name in known:
                _claim(lists, str(station), known[name])
                continue
            lists.findings.append(
                error(
                    "listed-head-unknown",
                    f"stations:{station}",
                    f"Station {station} lists a head '{name}' that is not in the record.",
                    "Survey the head, or correct its name on the station list.",
                )
            )
    return lists


def _disagreements(own: pd.Series[Any], lists: _Lists) -> Iterator[Finding]:
    for head, station in own.items():
        if not isinstance(station, str):
            continue
        listed = lists.station_of.get(str(head))
        if listed is not None and listed != station:
            yield warning(
                "station-list-disagrees",
                f"heads:{head}",
                f"Head {head} names station {station}; the station list gives it to {listed}.",
                "Run both stations, see which one fires it, and correct the other. "
                "Until then the head's own station counts.",
            )
        elif listed is None and station in lists.listing:
            yield warning(
                "head-not-on-list",
                f"heads:{head}",
                f"Head {head} names station {station}, whose list of heads leaves it out.",
                f"Add it to the list of {station}, or correct the head's station.",
            )


def resolve_station_lists(ground: Ground) -> tuple[Ground, list[Finding]]:
    """One station per head, from the heads themselves and from the stations' lists.

    A head's own station counts first (its label stands for its id); a head without one
    takes the station that lists it. Nothing else of the record changes.

    Returns:
        The ground with `heads.station` filled, and a finding per disagreement:
        listed-head-unknown, head-on-two-lists, station-list-disagrees, head-not-on-list.
    """
    own, lists = _own_stations(ground), _read_lists(ground)
    listed = pd.Series(
        [lists.station_of.get(str(head)) for head in own.index], index=own.index, dtype=object
    )
    heads = ground.heads.assign(station=own.where(own.notna(), listed))
    findings = [*lists.findings, *_disagreements(own, lists)]
    return ground.with_table("heads", heads), findings
