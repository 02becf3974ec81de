"""How a station's minutes come about: the parts of one sentence, in order."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

from nightwater.night.hand_changes import ActingTrim
from nightwater.night.minutes import FITTED, half_up
from nightwater.night.plan import LeftOut, Night, StationSum

TRIMMED_AWAY: Final = "trimmed to nothing"
_MOST_NAMED: Final = 3
_AS_WHOLE_MIN: Final = 0.05  # a smaller rounding is not worth a word


class Whole(StrEnum):
    """What made whole minutes of exact ones."""

    AS_IS = "as is"
    ROUNDED = "rounded"
    FLOOR = "rotation floor"
    LONGEST = "longest run"


@dataclass(frozen=True)
class Explained:
    """The parts of the sentence about one station.

    Attributes:
        given_min, asked_min: minutes that the night gives, and that its sum asks.
        by_map: whether the minutes follow the map; else they are by rate.
        why_by_rate: why not by the map; empty where they are, or where the plan does not tell.
        need_mm: net need of its area.
        ground_need_mm: mean need of the ground that its heads wet; NaN by rate.
        rate_mm_h, multiplier: of the sum by rate.
        trims: the trims that act.
        trim_words: of an older plan, that kept trims as words only; else empty.
        exact_min: before whole minutes, added minutes included.
        whole: what made them whole.
        why_none: why it asks nothing; empty where it asks.
        left_out: why it does not run though it asks; None where it runs.
    """

    given_min: int
    asked_min: int
    by_map: bool
    why_by_rate: str
    need_mm: float
    ground_need_mm: float
    rate_mm_h: float
    multiplier: float
    trims: tuple[ActingTrim, ...]
    trim_words: str
    exact_min: float
    whole: Whole
    why_none: str
    left_out: LeftOut | None


def _whole(item: StationSum) -> Whole:
    wanted = half_up(item.exact_min) + half_up(item.extra_min)
    if item.run_min > wanted:
        return Whole.FLOOR
    if item.run_min < wanted:
        return Whole.LONGEST
    off = abs(item.exact_min + item.extra_min - item.run_min)
    return Whole.ROUNDED if off >= _AS_WHOLE_MIN else Whole.AS_IS


def explained(item: StationSum, given_min: int, left_out: LeftOut | None = None) -> Explained:
    """The parts of the sentence about a station.

    Args:
        item: its sum.
        given_min: minutes that the night gives it, over all cycles.
        left_out: what the night says of it where it finds no place.
    """
    by_map = item.multiplier_name == FITTED
    none = item.why_none
    if none.startswith(TRIMMED_AWAY) and item.trims:
        none = TRIMMED_AWAY
    return Explained(
        given_min=given_min,
        asked_min=item.run_min,
        by_map=by_map,
        why_by_rate="" if by_map else item.why_by_rate,
        need_mm=item.need_mm,
        ground_need_mm=item.footprint_need_mm if by_map else math.nan,
        rate_mm_h=item.rate_mm_h,
        multiplier=item.multiplier,
        trims=item.trims,
        trim_words="" if item.trims else item.trim_reason,
        exact_min=item.exact_min + item.extra_min,
        whole=_whole(item),
        why_none=none,
        left_out=left_out,
    )


def explained_night(night: Night, stations: Collection[str] | None = None) -> dict[str, Explained]:
    """The parts for the stations of a night, or for some of them."""
    given: dict[str, int] = {}
    for run in night.runs:
        given[run.station] = given.get(run.station, 0) + run.run_min
    left = {item.station: item for item in night.left_out}
    return {
        item.station: explained(item, given.get(item.station, 0), left.get(item.station))
        for item in night.sums
        if stations is None or item.station in stations
    }


def why_not_by_map(heads: Sequence[str], known: Collection[str]) -> str:
    """Why a station's minutes cannot follow the map.

    Args:
        heads: heads of the station.
        known: heads whose pattern is known.

    Returns:
        Words; empty where every head has a pattern.
    """
    unknown = [head for head in heads if head not in known]
    if not unknown:
        return ""
    if len(unknown) == 1:
        return f"the pattern of head {unknown[0]} is not known"
    named = ", ".join(unknown[:_MOST_NAMED])
    more = len(unknown) - _MOST_NAMED
    rest = f" and {more} more" if more > 0 else ""
    return f"the patterns of heads {named}{rest} are not known"


def with_reasons(
    sums: Sequence[StationSum],
    by_rate: Mapping[str, str],
    patches: Mapping[str, tuple[ActingTrim, ...]],
) -> tuple[StationSum, ...]:
    """Sums with why they are by rate, and with the drawn trims that act on those by the map."""
    return tuple(
        replace(item, trims=(*item.trims, *patches.get(item.station, ())))
        if item.multiplier_name == FITTED
        else replace(item, why_by_rate=by_rate.get(item.station, ""))
        for item in sums
    )
