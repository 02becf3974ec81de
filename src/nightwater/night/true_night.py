"""A night that the solved network can carry: place, solve, cut, and place again."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from nightwater.findings import Finding, UserError, note
from nightwater.ground.record import Ground
from nightwater.ground.settings import NightRules
from nightwater.night.cuts import NONE, Cuts, cut_limits, cut_requests, more_cuts
from nightwater.night.plan import Limits, Request
from nightwater.night.planner import Placement
from nightwater.night.waters import OpenSet, Trouble, Waters, open_sets
from nightwater.pipes.engine import Engine
from nightwater.pipes.hydraulic_network import HydraulicNetwork
from nightwater.pipes.network_build import build_hydraulic_network

MOST_ROUNDS: Final = 8

Place = Callable[[Sequence[Request], Limits, Placement | None], Placement]


@dataclass(frozen=True)
class Wet:
    """A network that the engine can solve, and the rules of its pressures and velocities."""

    network: HydraulicNetwork
    ground: Ground
    rules: NightRules
    looped: frozenset[str]


@dataclass(frozen=True)
class Outcome:
    """A placement and what the solved network says of it.

    Attributes:
        placement: the best found.
        rounds: how often the night was placed.
        cuts: limits tightened on the way.
        low_min: minutes in which a station that could have its pressure lacks it.
        fast_min: minutes in which a pipe is too fast.
        hopeless: stations that lack pressure even alone.
    """

    placement: Placement
    rounds: int
    cuts: int
    low_min: int
    fast_min: int
    hopeless: frozenset[str]


def wet_network(ground: Ground) -> HydraulicNetwork | None:
    """The network for the engine; None where the record does not say enough to solve it."""
    try:
        network, _ = build_hydraulic_network(ground)
    except UserError:
        return None
    return network if network.heads and network.feeds else None


@dataclass(frozen=True)
class _Judged:
    """What is wrong with a placement.

    Attributes:
        troubles: the sets with trouble.
        low_min, fast_min: minutes in which a station is low that need not be, and a pipe fast.
        hopeless: stations that lack pressure even alone.
    """

    troubles: dict[OpenSet, Trouble]
    low_min: int
    fast_min: int
    hopeless: frozenset[str]


def _judged(
    placement: Placement, waters: Waters, hopeless: frozenset[str], minutes: int
) -> _Judged:
    """Solve every set of a placement; hopeless stations found on the way join those known."""
    sets = open_sets(placement.runs, minutes)
    known = waters.troubles(list(sets))
    low = sorted({station for trouble in known.values() for station in trouble.low})
    hopeless = hopeless | waters.hopeless(low)
    return _Judged(
        {one: trouble for one, trouble in known.items() if trouble.any},
        sum(sets[one] for one, trouble in known.items() if set(trouble.low) - hopeless),
        sum(sets[one] for one, trouble in known.items() if trouble.fast),
        hopeless,
    )


def true_placement(
    wet: Wet, requests: Sequence[Request], limits: Limits, minutes: int, place: Place
) -> Outcome:
    """Place the night, solve every different open set of it, cut what is wrong, and again.

    Args:
        wet: the network and its rules.
        requests: what the stations ask.
        limits: linear limits to begin with.
        minutes: of the night.
        place: places requests within limits; told the placement before, if any.

    Returns:
        The first night without trouble, else the one of least trouble in eight rounds.
    """
    by_station = {request.station: request for request in requests}
    cuts, best = NONE, None
    hopeless: frozenset[str] = frozenset()
    placement: Placement | None = None
    with Engine(wet.network) as engine:
        waters = Waters(engine, wet.ground, wet.rules)
        for number in range(1, MOST_ROUNDS + 1):
            tighter = cut_limits(limits, cuts, by_station)
            placement = place(cut_requests(requests, cuts, tighter), tighter, placement)
            judged = _judged(placement, waters, hopeless, minutes)
            hopeless = judged.hopeless
            found = Outcome(placement, number, len(cuts), judged.low_min, judged.fast_min, hopeless)
            if best is None or _rank(found) < _rank(best):
                best = found
            more = more_cuts(cuts, judged.troubles, by_station, hopeless, wet.looped)
            if not found.low_min + found.fast_min or _same(more, cuts):
                break
            cuts = more
    assert best is not None  # at least one round
    return best


def pipes_say(wet: Wet, placement: Placement, minutes: int) -> Outcome:
    """What the solved network says of a placement as it is; nothing is moved."""
    with Engine(wet.network) as engine:
        waters = Waters(engine, wet.ground, wet.rules)
        judged = _judged(placement, waters, frozenset(), minutes)
    return Outcome(placement, 1, 0, judged.low_min, judged.fast_min, judged.hopeless)


def _same(one: Cuts, other: Cuts) -> bool:
    return one.pipes_l_s == other.pipes_l_s and one.beside_l_s == other.beside_l_s


def _rank(outcome: Outcome) -> tuple[int, int, int]:
    trouble = outcome.low_min + outcome.fast_min
    return trouble, len(outcome.placement.unplaced), outcome.placement.finish_min


def water_notes(outcome: Outcome) -> list[Finding]:
    """What the solved network has changed, and what it could not mend."""
    clean = not outcome.low_min + outcome.fast_min
    result = (
        "every minute keeps pressures and velocities"
        if clean
        else f"{outcome.low_min} min with a pressure too low and {outcome.fast_min} min with a "
        "pipe too fast are left; the referee names them"
    )
    alone = (
        f" {len(outcome.hopeless)} stations lack pressure even when they run alone."
        if outcome.hopeless
        else ""
    )
    return [
        note(
            "night-solved",
            "pipes:*",
            f"The night was placed {outcome.rounds} times against the solved network, with "
            f"{outcome.cuts} limits tightened: {result}.{alone}",
            "Look at elevations, pump pressure and pipe sizes where pressures lack.",
        )
    ]
