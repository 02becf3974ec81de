"""Why a station does not run, in words."""

from __future__ import annotations

from nightwater.findings import Finding, note, warning
from nightwater.night.board import PUMP, WINDOW
from nightwater.night.bound import chain_min
from nightwater.night.document import clock
from nightwater.night.plan import LeftOut, Limits, Request, StationSum, Window
from nightwater.night.planner import Unplaced
from nightwater.units import UnitSystem, shown
from nightwater.weather.zones import zone_named


def _hours(request: Request, window: Window, timezone: str) -> str:
    """The hours in which a station may run, as the course's clock shows them."""
    zone = zone_named(timezone)
    ends = (request.earliest_min, request.latest_min)
    start, end = (clock(window, minute).astimezone(zone) for minute in ends)
    return f"{start:%H:%M} and {end:%H:%M}"


def _full(blocked_by: str, limits: Limits, units: UnitSystem) -> tuple[str, str]:
    """What is full, and how much of it a plan may use."""
    kind, _, name = blocked_by.partition(":")
    if blocked_by == PUMP:
        return "the pump", f"a plan may use {shown(limits.pump_l_s, 'l_s', units)} of it"
    if kind == "apart":
        one, _, other = name.partition("|")
        return "every minute", f"stations {one} and {other} may not run at once"
    if kind == "pipe":
        return f"pipe {name}", f"it may carry {shown(limits.pipes_l_s[name], 'l_s', units)}"
    return f"controller {name}", f"it may hold {limits.controllers_heads[name]} heads open"


def left_out_reason(
    item: Unplaced, limits: Limits, window: Window, timezone: str, units: UnitSystem
) -> str:
    """Why one request found no place, the same for all that one thing keeps out.

    Args:
        item: what the planner left out.
        limits: what one minute may carry.
        window: the night.
        timezone: of the clock times in the words.
        units: what people read.
    """
    hours = _hours(item.request, window, timezone)
    if item.blocked_by == WINDOW:
        need = chain_min(item.request)
        return f"its hours between {hours} are too short for its cycles and soaks ({need} min)"
    if ":" not in item.blocked_by and item.blocked_by != PUMP:
        return (
            f"pump, pipes and controller together leave it no gap between {hours} that is long "
            "enough for its cycles"
        )
    what, limit = _full(item.blocked_by, limits, units)
    return f"{what} is full between {hours}: {limit}"


def held_note(held: tuple[LeftOut, ...]) -> list[Finding]:
    """One note for all that holds keep out; none without any."""
    if not held:
        return []
    return [
        note(
            "stations-held",
            f"stations:{held[0].station}",
            f"{len(held)} stations are held tonight; {sum(item.owed_min for item in held)} minutes "
            "stay owed in the account.",
            "They run again when the hold ends; end it earlier if it was a mistake.",
        )
    ]


def left_out_finding(left: tuple[LeftOut, ...], sums: tuple[StationSum, ...]) -> list[Finding]:
    """One finding for all that finds no place tonight; none where everything does."""
    if not left:
        return []
    kind = {item.station: item.kind for item in sums}
    counts: dict[str, int] = {}
    for item in left:
        counts[kind[item.station]] = counts.get(kind[item.station], 0) + 1
    most_first = sorted(counts.items(), key=lambda pair: -pair[1])
    listed = ", ".join(f"{count} {name}" for name, count in most_first)
    return [
        warning(
            "left-out",
            f"stations:{left[0].station}",
            f"{len(left)} stations do not run tonight ({listed}); "
            f"{sum(item.owed_min for item in left)} minutes are owed.",
            "The account carries them over. Look at the reasons; a longer window or another "
            "priority would change which they are.",
        )
    ]
