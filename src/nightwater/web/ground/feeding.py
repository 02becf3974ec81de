"""What feeds a head: its station and controller, and the pipes and valves back to the pump."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

import pandas as pd
import shapely

from nightwater.ground.record import Ground
from nightwater.pipes.network import Network
from nightwater.units import UnitSystem
from nightwater.web.figures import quantity, text_or

VALVE_REACH_M: Final = 1.0  # a valve this near to a pipe stands on it


@dataclass(frozen=True)
class Feeder:
    """One link of the chain, as subject and words."""

    subject: str
    words: str


def _row(ground: Ground, table: str, name: str) -> pd.Series[Any]:
    row: pd.Series[Any] = ground.table(table).loc[[name]].iloc[0]
    return row


def _control(ground: Ground, station: object) -> Iterator[Feeder]:
    if not isinstance(station, str) or station not in ground.stations.index:
        return
    row = _row(ground, "stations", station)
    yield Feeder(f"stations:{station}", f"station {text_or(row['label'], station)}")
    controller = row["controller"]
    if isinstance(controller, str) and controller in ground.controllers.index:
        label = text_or(_row(ground, "controllers", controller)["label"], controller)
        output = row["output"]
        at = f", output {int(output)}" if pd.notna(output) else ""
        yield Feeder(f"controllers:{controller}", f"{label}{at}")


def _valves_on(ground: Ground, pipe: str) -> Iterator[Feeder]:
    line = ground.pipes.geometry.loc[pipe]
    if line is None or ground.valves.empty:
        return
    near = shapely.dwithin(ground.valves.geometry.to_numpy(), line, VALVE_REACH_M)
    for name in ground.valves.index[near]:
        row = _row(ground, "valves", str(name))
        kind = text_or(row.get("kind"), "valve").replace("_", " ")
        yield Feeder(f"valves:{name}", f"{kind} {text_or(row['label'], str(name))}")


def _pipes(ground: Ground, route: tuple[str, ...], units: UnitSystem) -> Iterator[Feeder]:
    told: set[str] = set()
    for pipe in route:
        row = _row(ground, "pipes", pipe)
        bore = quantity(float(row["diameter_mm"]), "mm", units)
        kind = text_or(row["kind"], "pipe")
        yield Feeder(f"pipes:{pipe}", f"{kind} {text_or(row['label'], pipe)}, {bore}")
        for valve in _valves_on(ground, pipe):
            if valve.subject not in told:
                told.add(valve.subject)
                yield valve


def feeders(ground: Ground, network: Network, head: str, units: UnitSystem) -> list[Feeder]:
    """What feeds a head, from its station to the pump.

    Args:
        ground: the record.
        network: its pipes; the way of least resistance is told where water has several.
        head: id of a head of the record.
        units: what the reader reads.
    """
    station = _row(ground, "heads", head)["station"]
    chain = [*_control(ground, station), *_pipes(ground, network.routes.get(head, ()), units)]
    if chain and head in network.routes:
        chain += [Feeder(f"pumps:{name}", f"pump {name}") for name in network.feeds]
    return chain
