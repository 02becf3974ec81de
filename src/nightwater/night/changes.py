"""What changes tonight: one night against another, with the reason of each litre."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median
from typing import Final

from nightwater.night.holds import HELD
from nightwater.night.minutes import FITTED
from nightwater.night.plan import Night, StationSum
from nightwater.units import MINUTES_PER_HOUR, SECONDS_PER_MINUTE

NEED: Final = "need"
RECORD: Final = "record"
FIT: Final = "fit"
TRIM: Final = "trim"
ROUNDING: Final = "whole minutes"
HOLD: Final = "hold"
LEFT_OUT: Final = "left out"
REASONS: Final = (NEED, RECORD, FIT, TRIM, ROUNDING, HOLD, LEFT_OUT)
CHANGED_SHARE: Final = 0.25
LEAST_ORDINARY: Final = 3  # fewer nights have no middle


@dataclass(frozen=True)
class Basis:
    """What a station's minutes of one night rest on.

    Attributes:
        need_mm, rate_mm_h, multiplier, trim_factor, extra_min: factors of its sum.
        fitted: whether the multiplier comes from minutes fitted to the map.
        asked_min: whole minutes that the sum asks for.
        given_min: minutes that the night gives.
        flow_l_s: flow while it runs; NaN where unknown.
        held: whether what it lacks is kept back by a hold, and not for want of room.
    """

    need_mm: float
    rate_mm_h: float
    multiplier: float
    fitted: bool
    trim_factor: float
    extra_min: float
    asked_min: float
    given_min: float
    flow_l_s: float
    held: bool

    @property
    def exact_min(self) -> float:
        """Minutes before rounding and floors [min]."""
        net_min = MINUTES_PER_HOUR * self.need_mm / self.rate_mm_h if self.rate_mm_h else math.nan
        return net_min * self.multiplier * self.trim_factor + self.extra_min


Bases = Mapping[str, Basis]


@dataclass(frozen=True)
class Baseline:
    """What a night is compared to: its name for people, and each station's basis."""

    words: str
    stations: Bases
    places: Mapping[str, tuple[str, str]]


@dataclass(frozen=True)
class Part:
    """The share of a change that one reason explains; the parts of a station add up to it."""

    reason: str
    minutes: float
    litres: float


@dataclass(frozen=True)
class StationChange:
    """One station against the baseline.

    Attributes:
        station, area, kind: which, and what it mainly waters.
        before_min, after_min: minutes given.
        before_l, after_l: water given [L]; NaN where a flow is unknown.
        parts: what explains the change, the largest first; empty where nothing changed.
    """

    station: str
    area: str
    kind: str
    before_min: float
    after_min: float
    before_l: float
    after_l: float
    parts: tuple[Part, ...]

    @property
    def minutes(self) -> float:
        """Change of its minutes [min]."""
        return self.after_min - self.before_min

    @property
    def litres(self) -> float:
        """Change of its water [L]."""
        return self.after_l - self.before_l

    @property
    def reason(self) -> str:
        """The reason of the largest part; empty where nothing changed."""
        return self.parts[0].reason if self.parts else ""

    def beyond(self, share: float) -> bool:
        """Whether its minutes changed by more than a share of what they were."""
        return abs(self.minutes) > share * self.before_min


@dataclass(frozen=True)
class Total:
    """Changes of several stations in one line."""

    name: str
    stations: int
    minutes: float
    litres: float


def _given_min(night: Night) -> dict[str, int]:
    given: dict[str, int] = defaultdict(int)
    for run in night.runs:
        given[run.station] += run.run_min
    return given


def _basis(item: StationSum, given_min: int, held: bool) -> Basis:
    return Basis(
        need_mm=item.need_mm,
        rate_mm_h=item.rate_mm_h,
        multiplier=item.multiplier,
        fitted=item.multiplier_name == FITTED,
        trim_factor=item.trim_factor,
        extra_min=item.extra_min,
        asked_min=item.run_min,
        given_min=given_min,
        flow_l_s=item.flow_l_s,
        held=held,
    )


def bases(night: Night) -> dict[str, Basis]:
    """The basis of every station of a night that has a sum."""
    given = _given_min(night)
    held = {left.station for left in night.left_out if left.reason.startswith(HELD)}
    return {i.station: _basis(i, given.get(i.station, 0), i.station in held) for i in night.sums}


def _places(nights: Iterable[Night]) -> dict[str, tuple[str, str]]:
    return {item.station: (item.area, item.kind) for night in nights for item in night.sums}


def against_night(night: Night, words: str) -> Baseline:
    """An earlier night as a baseline."""
    return Baseline(words, bases(night), _places([night]))


def _middle(values: Iterable[float]) -> float:
    known = [value for value in values if not math.isnan(value)]
    return median(known) if known else math.nan


def _median_basis(mine: Sequence[Basis]) -> Basis:
    return Basis(
        need_mm=_middle(basis.need_mm for basis in mine),
        rate_mm_h=_middle(basis.rate_mm_h for basis in mine),
        multiplier=_middle(basis.multiplier for basis in mine),
        fitted=2 * sum(basis.fitted for basis in mine) > len(mine),
        trim_factor=_middle(basis.trim_factor for basis in mine),
        extra_min=_middle(basis.extra_min for basis in mine),
        asked_min=_middle(basis.asked_min for basis in mine),
        given_min=_middle(basis.given_min for basis in mine),
        flow_l_s=_middle(basis.flow_l_s for basis in mine),
        held=2 * sum(basis.held for basis in mine) > len(mine),
    )


def median_night(nights: Sequence[Night]) -> Baseline:
    """The ordinary night: of every station the middle of each factor over some nights."""
    grouped: dict[str, list[Basis]] = defaultdict(list)
    for night in nights:
        for station, basis in bases(night).items():
            grouped[station].append(basis)
    words = f"the middle of the last {len(nights)} approved nights"
    medians = {station: _median_basis(mine) for station, mine in grouped.items()}
    return Baseline(words, medians, _places(nights))


def _plain_basis(basis: Basis, floor_min: int) -> Basis:
    bare = replace(basis, trim_factor=1.0, extra_min=0.0, held=False)
    exact = bare.exact_min
    untrimmed = basis.trim_factor == 1 and basis.extra_min == 0
    whole = max(math.floor(exact + 0.5), floor_min) if exact > 0 else 0
    asked = basis.asked_min if untrimmed or math.isnan(exact) else whole
    return replace(bare, asked_min=asked, given_min=asked)


def plain_night(night: Night) -> Baseline:
    """The ordinary night where few were approved: this one with no trim, no hold, all served.

    A run-time limit of the record is not known here, so an untrimmed run may stand above it.
    """
    floors = {item.station: item.floor_min for item in night.sums}
    plain = {name: _plain_basis(basis, floors[name]) for name, basis in bases(night).items()}
    return Baseline("this night without trims, holds and limits", plain, _places([night]))


def ordinary_night(night: Night, past: Sequence[Night]) -> Baseline:
    """What is ordinary: the middle of past nights, or this one left alone where they are few."""
    return median_night(past) if len(past) >= LEAST_ORDINARY else plain_night(night)


def _stages(before: Basis, after: Basis) -> list[tuple[str, Basis]]:
    """From one basis to the other, one reason exchanged at a time."""
    fit = FIT if before.fitted or after.fitted else RECORD
    needed = replace(before, need_mm=after.need_mm)
    recorded = replace(needed, rate_mm_h=after.rate_mm_h)
    fitted = replace(recorded, multiplier=after.multiplier)
    trimmed = replace(fitted, trim_factor=after.trim_factor, extra_min=after.extra_min)
    return [(NEED, needed), (RECORD, recorded), (fit, fitted), (TRIM, trimmed)]


def _asked_parts(before: Basis, after: Basis) -> dict[str, float]:
    """Minutes by reason, from what one sum asks to what the other asks."""
    parts: dict[str, float] = defaultdict(float)
    total, exact = after.asked_min - before.asked_min, before.exact_min
    if math.isnan(exact) or math.isnan(after.exact_min):
        return {RECORD: total}
    for reason, basis in _stages(before, after):
        parts[reason] += basis.exact_min - exact
        exact = basis.exact_min
    parts[ROUNDING] = total - sum(parts.values())
    return parts


def _minute_parts(before: Basis, after: Basis) -> dict[str, float]:
    parts = dict(_asked_parts(before, after))
    lacking = [basis.given_min - basis.asked_min for basis in (before, after)]
    for basis, minutes in zip((before, after), (-lacking[0], lacking[1]), strict=True):
        reason = HOLD if basis.held else LEFT_OUT
        parts[reason] = parts.get(reason, 0.0) + minutes
    return parts


def _parts(before: Basis, after: Basis) -> tuple[Part, ...]:
    """Minutes at tonight's flow, and for what ran before the change of flow itself."""
    if before.given_min == after.given_min and _litres(before) == _litres(after):
        return ()
    rate_l_min = after.flow_l_s * SECONDS_PER_MINUTE
    minutes = _minute_parts(before, after)
    other_flow = before.given_min * SECONDS_PER_MINUTE * (after.flow_l_s - before.flow_l_s)
    litres = {reason: value * rate_l_min for reason, value in minutes.items()}
    litres[RECORD] = litres.get(RECORD, 0.0) + other_flow
    parts = [Part(reason, minutes.get(reason, 0.0), litres[reason]) for reason in litres]
    told = [part for part in parts if abs(part.minutes) > 1e-9 or abs(part.litres) > 1e-6]
    return tuple(sorted(told, key=lambda part: (-abs(part.minutes), -abs(part.litres))))


def _litres(basis: Basis) -> float:
    return basis.given_min * basis.flow_l_s * SECONDS_PER_MINUTE if basis.given_min else 0.0


def _absent(other: Basis) -> Basis:
    """A station that the other night does not know: it gave nothing, by the same flow."""
    return replace(other, need_mm=math.nan, asked_min=0.0, given_min=0.0, held=False)


def _change(station: str, place: tuple[str, str], before: Basis, after: Basis) -> StationChange:
    return StationChange(
        station,
        *place,
        before_min=before.given_min,
        after_min=after.given_min,
        before_l=_litres(before),
        after_l=_litres(after),
        parts=_parts(before, after),
    )


def night_changes(night: Night, baseline: Baseline) -> tuple[StationChange, ...]:
    """Every station of either night, in this night's order; those new or gone are in it.

    The minutes of each change are laid on reasons by exchanging one factor after the other –
    need, record, fit, trim – in the sum of `StationSum`; what rounding, floors and longest
    runs make of it is "whole minutes", and what is asked but not given is "hold" or "left
    out". Minutes and litres of the parts add up to the station's change.

    Args:
        night: the night that is looked at.
        baseline: what it is compared to.

    Reference: substitution factor by factor; the order is ours (docs/how/night.md).
    """
    now = bases(night)
    places = {**baseline.places, **_places([night])}
    every = [*now, *(station for station in baseline.stations if station not in now)]
    changes = []
    for station in every:
        after, before = now.get(station), baseline.stations.get(station)
        known = after or before
        assert known is not None  # it stands in one of the two
        pair = (before or _absent(known), after or _absent(known))
        changes.append(_change(station, places[station], *pair))
    return tuple(changes)


def changed(changes: Iterable[StationChange]) -> list[StationChange]:
    """Those that changed at all, the most minutes first."""
    return sorted((c for c in changes if c.parts), key=lambda c: (-abs(c.minutes), c.station))


def count_beyond(changes: Iterable[StationChange], share: float = CHANGED_SHARE) -> int:
    """How many stations' minutes changed by more than a share of what they were."""
    return sum(change.beyond(share) for change in changes)


def totals_by(changes: Iterable[StationChange], key: Callable[[StationChange], str]) -> list[Total]:
    """Totals of the changed stations by area, kind or whatever the key tells, largest first."""
    grouped: dict[str, list[StationChange]] = defaultdict(list)
    for change in changed(changes):
        grouped[key(change)].append(change)
    totals = [
        Total(name, len(own), sum(c.minutes for c in own), _known_sum(c.litres for c in own))
        for name, own in grouped.items()
    ]
    return sorted(totals, key=lambda total: (-abs(total.litres), total.name))


def totals_by_reason(changes: Iterable[StationChange]) -> list[Total]:
    """Totals by reason; a station counts with each of its reasons, its litres only once."""
    grouped: dict[str, list[Part]] = defaultdict(list)
    for change in changes:
        for part in change.parts:
            grouped[part.reason].append(part)
    return [
        Total(
            reason,
            len(grouped[reason]),
            sum(part.minutes for part in grouped[reason]),
            _known_sum(part.litres for part in grouped[reason]),
        )
        for reason in REASONS
        if reason in grouped
    ]


def _known_sum(litres: Iterable[float]) -> float:
    return sum(value for value in litres if not math.isnan(value))
