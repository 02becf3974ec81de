"""The capacity study in words and as one page."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any, Final

import typst

from nightwater.desk.capacity import Outcome, Study
from nightwater.ground.settings import Settings
from nightwater.units import UnitSystem, shown

LEAST_GAIN_SHARE: Final = 0.001  # of what is asked; a smaller gain is no gain
METHOD: Final = (
    "Need of a rainless peak day that began at its target; minutes, hours, pumps, pipes and paths "
    "as for any night, without holds and trims. What changes buy is by velocity limits; pressure "
    "is looked at in the night as it is. “Placed” is what the planner finds; “no plan more than” "
    "is a linear bound, which leaves soaks and whole minutes out, so the truth lies between."
)


def _share(part: float, whole: float) -> str:
    return f"{part / whole:.0%}" if whole > 0 else "100%"


def verdict(done: Study, units: UnitSystem) -> str:
    """The answer in one or two sentences."""
    asked, now = shown(done.asked_m3, "m3", units), done.now
    if not done.stations:
        return "Nothing asks for water on this day, so there is nothing to measure."
    if done.fits:
        spare = done.minutes - now.finish_min
        return f"Yes: all {asked} are placed, with {spare} of {done.minutes} minutes to spare."
    placed = f"{shown(now.planned_m3, 'm3', units)} ({_share(now.planned_m3, done.asked_m3)})"
    if done.ceiling.share >= 1 - LEAST_GAIN_SHARE:
        return (
            f"Not by this planner: it places {placed} of {asked}. The linear bound would allow "
            "all of it, so soaks and single long runs are what is in the way."
        )
    return (
        f"No: {placed} of {asked} are placed, and no plan delivers more than "
        f"{shown(now.most_m3, 'm3', units)} ({_share(now.most_m3, done.asked_m3)})."
    )


def binding_words(done: Study) -> str:
    """What binds first."""
    if not done.loads:
        return "Nothing with a limit is used."
    first = done.loads[0]
    words = done.words[first.resource]
    told = (
        f"First {words}: {first.least_min:.0f} minutes of work in {first.hours_min} "
        f"({first.share:.0%})."
    )
    over = [load for load in done.loads[1:] if load.share > 1]
    if over:
        told += f" Over their hours too: {', '.join(done.words[load.resource] for load in over)}."
    elif len(done.loads) > 1:
        second = done.loads[1]
        told += f" Next {done.words[second.resource]} ({second.share:.0%})."
    return told


def gain_words(done: Study, change: Outcome, units: UnitSystem) -> str:
    """What one change buys, by the bound."""
    if change.left_out == 0 and not done.fits:
        return "everything fits"
    gain = change.most_m3 - done.now.most_m3
    if gain < LEAST_GAIN_SHARE * done.asked_m3:
        return "nothing by itself"
    return f"up to {shown(gain, 'm3', units)} more"


def price_words(done: Study, units: UnitSystem) -> list[str]:
    """Shadow prices, where something holds the night back."""
    told = []
    if done.ceiling.minute_m3 > 0:
        told.append(f"One more minute of night: {shown(done.ceiling.minute_m3, 'm3', units)} more.")
    step, flow = (3.785411784 * 10 / 60, "10 gpm") if units is UnitSystem.US else (1.0, "1 L/s")
    for resource, price in list(done.ceiling.price.items())[:4]:
        words = done.words[resource]
        if resource.startswith("controller:"):
            told.append(f"One more head at once on {words}: {shown(price, 'm3', units)} more.")
        else:
            told.append(f"{flow} more through {words}: {shown(price * step, 'm3', units)} more.")
    return told


def printed(done: Study, settings: Settings, units: UnitSystem | None = None) -> dict[str, Any]:
    """What page and PDF say, in the reader's units."""
    read = units or settings.site.units
    outcomes = [
        [
            one.words,
            gain_words(done, one, read) if one is not done.now else "",
            shown(one.planned_m3, "m3", read),
            shown(one.most_m3, "m3", read),
            str(one.left_out),
            f"{one.finish_min} of {one.minutes} min",
        ]
        for one in (done.now, *done.changes)
    ]
    return {
        "club": settings.site.name,
        "invented": settings.site.invented,
        "peak": f"Reference ET {shown(done.peak.reference_mm, 'mm', read)}, {done.peak.words}.",
        "window": f"{done.start}–{done.end}, {done.minutes} minutes",
        "asked": f"{shown(done.asked_m3, 'm3', read)} by {done.stations} stations, "
        f"{done.asked_min:,} station minutes",
        "verdict": verdict(done, read),
        "binding": binding_words(done),
        "pipes": done.pipes,
        "prices": price_words(done, read),
        "loads": [
            [done.words[load.resource], f"{load.least_min:.0f}", f"{load.hours_min}",
             f"{load.share:.0%}"]
            for load in done.loads
        ],
        "outcomes": outcomes,
        "cannot": list(done.cannot),
        "method": METHOD,
    }  # fmt: skip


def study_pdf(done: Study, settings: Settings, units: UnitSystem | None = None) -> bytes:
    """The study as a PDF of one page."""
    template = files("nightwater.desk").joinpath("capacity.typ").read_bytes()
    document = json.dumps(printed(done, settings, units))
    pdf: bytes = typst.compile(template, sys_inputs={"sheet": document})
    return pdf
