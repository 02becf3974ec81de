"""What may go wrong in a rehearsal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from nightwater.findings import UserError
from nightwater.ground.record import Ground
from nightwater.night.plan import Window
from nightwater.night.window import clock_minute

_TRIPPED_BEFORE_MIN: Final = 240  # pumps may be off already when the night begins
MARGIN_MIN: Final = 20  # metered before and after the night, when nothing should run


@dataclass(frozen=True)
class Faults:
    """What goes wrong in a rehearsal.

    Attributes:
        pump_trip_at: local clock "HH:MM" from which the pumps give nothing.
        pump_restart_at: local clock at which they run again, or None.
        dead_controllers: ids whose stations are logged as opened, without water.
        silent_controllers: ids whose stations neither open nor log anything.
        dead_stations: ids that are logged as opened, without water.
        half_open_stations: ids that give half their flow.
        stuck_stations: ids that stay open from their first start to the end of the series.
        leak_l_s: flow of a leak [L/s].
        leak_from: local clock at which it starts; None for the whole time.
        pump_pressure_share: what the pumps hold over their set pressure, above 0 to 1.
        meter_lost: local clocks (from, to) between which the meter writes nothing.
        log_lost: whether the command log is lost.
    """

    pump_trip_at: str | None = None
    pump_restart_at: str | None = None
    dead_controllers: tuple[str, ...] = ()
    silent_controllers: tuple[str, ...] = ()
    dead_stations: tuple[str, ...] = ()
    half_open_stations: tuple[str, ...] = ()
    stuck_stations: tuple[str, ...] = ()
    leak_l_s: float = 0.0
    leak_from: str | None = None
    pump_pressure_share: float = 1.0
    meter_lost: tuple[str, str] | None = None
    log_lost: bool = False


def check_faults(ground: Ground, faults: Faults, window: Window) -> None:
    """Refuse faults of stations and controllers that the record does not hold, or by day.

    Raises:
        UserError: the first unknown id, or a pump that would trip outside the night.
    """
    if not 0 < faults.pump_pressure_share <= 1:
        raise UserError(
            f"The pumps cannot hold {faults.pump_pressure_share:g} of their set pressure. "
            "Give a share above 0 and up to 1."
        )
    if faults.pump_trip_at is not None:
        trip = clock_minute(faults.pump_trip_at, window)
        if not -_TRIPPED_BEFORE_MIN <= trip <= window.minutes:
            raise UserError(
                f"At {faults.pump_trip_at} the pumps cannot trip: the night lasts from "
                f"{window.start:%H:%M} to {window.end:%H:%M}."
            )
    named = {
        "stations": (*faults.dead_stations, *faults.half_open_stations, *faults.stuck_stations),
        "controllers": (*faults.dead_controllers, *faults.silent_controllers),
    }
    for table, identities in named.items():
        unknown = [key for key in identities if key not in ground.table(table).index]
        if unknown:
            raise UserError(
                f"There is no {table[:-1]} '{unknown[0]}' in the record. "
                f"Name one of its {len(ground.table(table))} {table} by id."
            )
