"""Put heads on a station."""

from __future__ import annotations

from collections.abc import Sequence

from nightwater.ground.edits.lists import listed_by, struck_off
from nightwater.ground.edits.rows import check_there, with_values
from nightwater.ground.record import Ground


def assign(ground: Ground, ids: Sequence[str], station: str | None) -> Ground:
    """The ground with heads on a station, or on none.

    The stations' lists follow: a list that named a head is corrected, and the new station's
    own list names it, where it has one. The count that the list gave stays as it was.

    Raises:
        UserError: unknown heads or station.
    """
    check_there(ground, "heads", ids)
    if station is not None:
        check_there(ground, "stations", [station])
    ground = with_values(ground, "heads", {head: {"station": station} for head in ids})
    ground = struck_off(ground, ids, but=station)
    return ground if station is None else listed_by(ground, ids, station)
