"""Where things are and what they are called: the record as pages name it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd

from nightwater.ground.links import head_areas, station_heads
from nightwater.ground.play import area_holes
from nightwater.ground.record import Ground
from nightwater.web.figures import text_or


@dataclass(frozen=True)
class Places:
    """Names and links of the record, looked up once for a page.

    Attributes:
        area_label: area id → what people call it.
        area_hole: area id → number of its hole, where it has one.
        station_label: station id → what people call it.
        head_label: head id → what people call it.
        station_heads: station id → ids of its heads.
        head_area: head id → id of the area it waters, or None.
        holes: numbers of the course's holes, in order.
    """

    area_label: dict[str, str]
    area_hole: dict[str, int]
    station_label: dict[str, str]
    head_label: dict[str, str]
    station_heads: dict[str, list[str]]
    head_area: dict[str, str | None]
    holes: tuple[int, ...]

    def named(self, station: str, area: str, kind: str) -> Named:
        """A station with the names of everything around it."""
        return Named(
            station=station,
            label=self.station_label.get(station, station),
            area=area,
            area_label=self.area_label.get(area, area),
            kind=kind,
            hole=self.area_hole.get(area),
        )

    def station_called(self, name: str) -> str:
        """The id of a station by its id or label; the name itself where none is called so."""
        if name in self.station_label:
            return name
        called = [station for station, label in self.station_label.items() if label == name]
        return called[0] if len(called) == 1 else name

    def hole_of(self, area: str) -> int | None:
        """Number of an area's hole, or None."""
        return self.area_hole.get(area)


@dataclass(frozen=True)
class Named:
    """A station as tables name it: itself and what it waters most.

    Attributes:
        station, label: its id and what people call it.
        area, area_label, kind: of the area.
        hole: number of the area's hole, where it has one.
    """

    station: str
    label: str
    area: str
    area_label: str
    kind: str
    hole: int | None


def labels(rows: pd.DataFrame) -> dict[str, str]:
    """What people call each row; its id where it has no label."""
    return {str(name): text_or(label, str(name)) for name, label in rows["label"].items()}


def _present(series: pd.Series[Any]) -> dict[str, Any]:
    return {str(key): value for key, value in series.items() if value is not None}


def places_of(ground: Ground) -> Places:
    """Names and links of a record."""
    numbers = {str(name): int(number) for name, number in ground.holes["number"].items()}
    holes = {area: numbers[h] for area, h in _present(area_holes(ground)).items() if h in numbers}
    return Places(
        area_label=labels(ground.areas),
        area_hole=holes,
        station_label=labels(ground.stations),
        head_label=labels(ground.heads),
        station_heads={str(key): list(value) for key, value in station_heads(ground).items()},
        head_area={str(key): value for key, value in head_areas(ground).items()},
        holes=tuple(sorted(set(numbers.values()))),
    )
