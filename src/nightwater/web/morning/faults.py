"""What a person wants to go wrong in a rehearsal."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, BeforeValidator, Field

from nightwater.findings import UserError
from nightwater.night.rehearsal import Faults
from nightwater.units import UnitSystem, to_si


def _none_if_blank(value: object) -> object:
    return None if isinstance(value, str) and not value.strip() else value


Clock = Annotated[str | None, BeforeValidator(_none_if_blank)]


class FaultsForm(BaseModel):
    """The rehearsal form; what is left empty does not go wrong."""

    night_id: str
    pump_trip_at: Clock = None
    pump_restart_at: Clock = None
    dead_controller: str = ""
    dead_stations: Annotated[str, Field(max_length=500)] = ""
    stuck_stations: Annotated[str, Field(max_length=500)] = ""
    pump_percent: Annotated[float | None, BeforeValidator(_none_if_blank)] = None
    leak: Annotated[float | None, BeforeValidator(_none_if_blank)] = None


def _stations(text: str, by_name: dict[str, str]) -> tuple[str, ...]:
    """The stations that a person wrote, by id or label."""
    named = text.replace(",", " ").split()
    unknown = [name for name in named if name not in by_name]
    if unknown:
        raise UserError(f"There is no station '{unknown[0]}'. Write labels as in the table.")
    return tuple(by_name[name] for name in named)


def faults_of(form: FaultsForm, station_labels: dict[str, str], units: UnitSystem) -> Faults:
    """The faults that a form describes.

    Args:
        form: what was filled in; the leak is in the reader's unit of flow.
        station_labels: station id → label; the form may name either.
        units: the reader's units.

    Raises:
        UserError: a station that the record does not have, or a negative leak.
    """
    by_name = {label: name for name, label in station_labels.items()}
    by_name |= {name: name for name in station_labels}
    leak = form.leak or 0.0
    if leak < 0:
        raise UserError(f"The leak is {leak:g}; a flow is zero or more.")
    return Faults(
        pump_trip_at=form.pump_trip_at,
        pump_restart_at=form.pump_restart_at,
        dead_controllers=(form.dead_controller,) if form.dead_controller else (),
        dead_stations=_stations(form.dead_stations, by_name),
        stuck_stations=_stations(form.stuck_stations, by_name),
        pump_pressure_share=1.0 if form.pump_percent is None else form.pump_percent / 100,
        leak_l_s=float(to_si(leak, "gpm" if units is UnitSystem.US else "L/s")),
    )
