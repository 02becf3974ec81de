"""Station lists kept in step with edits: names by id, heads struck off and added."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection
from typing import Any, Final

from nightwater.ground.edits.rows import with_values
from nightwater.ground.record import Ground
from nightwater.ground.shapes import texts
from nightwater.ground.station_lists import listed_names, named_rows

_SEPARATOR: Final = re.compile(r"[;,]")


def _joined(names: list[str], before: str) -> str | None:
    found = _SEPARATOR.search(before)
    return (f"{found.group()} " if found else " ").join(names) or None


def _with_lists(ground: Ground, changed: Callable[[str, list[str]], list[str]]) -> Ground:
    """The ground with every station's list of heads put through a function."""
    values: dict[str, dict[str, Any]] = {}
    for station, text in zip(ground.stations.index, texts(ground.stations, "heads"), strict=True):
        names = listed_names(text)
        wanted = changed(str(station), names)
        if wanted != names:
            values[str(station)] = {"heads": _joined(wanted, text or "")}
    return with_values(ground, "stations", values) if values else ground


def named_by_id(ground: Ground) -> Ground:
    """The ground with heads on lists, and stations on heads, named by id instead of label.

    Labels may change afterwards without another head slipping into a station. A name that
    is nobody's, or that several bear, stays as it is.
    """
    heads, stations = named_rows(ground.heads), named_rows(ground.stations)
    ground = _with_lists(ground, lambda _, names: [heads.get(name, name) for name in names])
    own = zip(ground.heads.index, texts(ground.heads, "station"), strict=True)
    named = {
        str(head): {"station": stations[name]}
        for head, name in own
        if name is not None and stations.get(name, name) != name
    }
    return with_values(ground, "heads", named) if named else ground


def struck_off(ground: Ground, heads: Collection[str], but: str | None = None) -> Ground:
    """The ground with heads struck off every station's list, except that of one station."""
    known, gone = named_rows(ground.heads), set(heads)
    return _with_lists(
        ground,
        lambda station, names: [n for n in names if station == but or known.get(n) not in gone],
    )


def listed_by(ground: Ground, heads: Collection[str], station: str) -> Ground:
    """The ground with heads added to a station's list, where it has one."""
    known = named_rows(ground.heads)

    def completed(owner: str, names: list[str]) -> list[str]:
        if owner != station or not names:
            return names
        there = {known.get(name) for name in names}
        return [*names, *(head for head in dict.fromkeys(heads) if head not in there)]

    return _with_lists(ground, completed)
