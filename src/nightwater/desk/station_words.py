"""One sentence a station: how its minutes come about, in the reader's units."""

from __future__ import annotations

import math
import re
from datetime import date
from typing import Final

from nightwater.night.explaining import Explained, Whole
from nightwater.night.hand_changes import ActingHold, ActingTrim
from nightwater.night.map_trims import MAP_SUBJECT
from nightwater.night.plan import LeftOut
from nightwater.units import UnitSystem, shown
from nightwater.weather.zones import zone_named

_OF: Final = {
    "course": "the whole course",
    "kind": "all {name} areas",
    "areas": "its area",
    "holes": "its hole",
    "stations": "this station",
}
_DEPTH: Final = re.compile(r"(\d+(?:\.\d+)?) mm\b")


def _day(night: date) -> str:
    return f"{night:%a} {night.day} {night:%b %Y}"


def _change_words(trim: ActingTrim) -> str:
    """What a trim does: percent, minutes, or both."""
    percent, extra = 100 * (trim.factor - 1), trim.extra_min
    parts = []
    if round(percent, 1):
        parts.append(f"{'+' if percent > 0 else '−'}{abs(percent):.3g} %")
    if extra:
        parts.append(f"{'+' if extra > 0 else '−'}{abs(extra):g} min")
    return " and ".join(parts) or "no change"


def _subject_words(trim: ActingTrim) -> str:
    table, _, name = trim.subject.partition(":")
    if table == MAP_SUBJECT:
        return f"a drawn patch, in which {100 * trim.share:.0f} % of its water falls,"
    return _OF.get(table, trim.subject).format(name=name)


def trim_sentence(trim: ActingTrim) -> str:
    """One trim: of what, how much, until when, by whom and why."""
    return (
        f"trim of {_subject_words(trim)} {_change_words(trim)} until {_day(trim.last_night)} "
        f"by {trim.author}: {trim.reason}"
    )


def _read_depths(words: str, units: UnitSystem) -> str:
    """Depths in words that a plan keeps, which are in mm, in the reader's units."""
    return _DEPTH.sub(lambda found: shown(float(found[1]), "mm", units), words)


def _need_words(one: Explained, units: UnitSystem) -> str:
    need = f"area need {shown(one.need_mm, 'mm', units)}"
    if not one.by_map:
        rate = shown(one.rate_mm_h, "mm_h", units)
        return f"{need} at {rate}, × {one.multiplier:.3g} for unevenness"
    if math.isnan(one.ground_need_mm):
        return need
    return f"{need}, the ground its heads wet averages {shown(one.ground_need_mm, 'mm', units)}"


def _whole_words(one: Explained) -> str:
    exact = f"{one.exact_min:.1f} min"
    return {
        Whole.AS_IS: "",
        Whole.ROUNDED: f"rounded from {exact}",
        Whole.FLOOR: f"raised from {exact}, so that heads turn often enough to be even",
        Whole.LONGEST: f"cut from {exact} to the longest run allowed",
    }[one.whole]


def _hold_words(hold: ActingHold, timezone: str) -> str:
    until = hold.until.astimezone(zone_named(timezone))
    return (
        f"held until {_day(until.date())}, {until:%H:%M}, by {hold.author} "
        f"({hold.cause}): {hold.reason}"
    )


def _left_words(left: LeftOut, timezone: str) -> str:
    why = left.reason if left.hold is None else _hold_words(left.hold, timezone)
    lead = "" if left.hold is not None else "left out tonight, as "
    return f"{lead}{why}; {left.owed_min} min stay owed"


def _lead(one: Explained) -> str:
    """Minutes, those asked where they are others, and by which way they were made."""
    way = "by the map" if one.by_map else "by rate"
    if one.given_min == one.asked_min:
        return f"{one.given_min} min {way}"
    return f"{one.given_min} of {one.asked_min} min {way}"


def station_sentence(one: Explained, units: UnitSystem, timezone: str) -> str:
    """How a station's minutes come about.

    Args:
        one: the parts.
        units: what the reader reads; words that the plan keeps of limits stay as they are.
        timezone: of the end of a hold.
    """
    trims = [trim_sentence(trim) for trim in one.trims]
    if one.trim_words:
        trims = [f"trim {one.trim_words}"]
    if one.asked_min == 0:
        why = _read_depths(one.why_none, units) or "nothing is asked"
        return "; ".join([f"0 min: {why}", *trims]) + "."
    parts = [_need_words(one, units), *trims, _whole_words(one)]
    if one.why_by_rate:
        parts.append(f"not by the map, as {one.why_by_rate}")
    if one.left_out is not None:
        parts.append(_left_words(one.left_out, timezone))
    return f"{_lead(one)}: {'; '.join(part for part in parts if part)}."
