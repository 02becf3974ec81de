"""What changes tonight, told before it is approved, against the last and an ordinary night."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final, Literal

from nightwater.desk.course import Course
from nightwater.desk.nights import StoredNight, recent_approved
from nightwater.findings import UserError
from nightwater.ground.record import Ground
from nightwater.night import changes as core
from nightwater.night.changes import Baseline, StationChange, Total
from nightwater.units import UnitSystem, shown

ORDINARY_NIGHTS: Final = 7
Against = Literal["last", "ordinary"]
AGAINST: Final[tuple[Against, ...]] = ("last", "ordinary")
_WORDS: Final = {
    core.NEED: "the need is another",
    core.RECORD: "the record changed (rate, flow, nozzles, a station new or gone)",
    core.FIT: "minutes follow the map otherwise",
    core.TRIM: "trims",
    core.ROUNDING: "whole minutes, floors and longest runs",
    core.HOLD: "holds",
    core.LEFT_OUT: "left out: no room in the night",
}


@dataclass(frozen=True)
class Comparison:
    """A night against another.

    Attributes:
        against: "last" or "ordinary".
        baseline: what it is compared to, in words.
        changes: every station of either night.
        beyond: how many stations change by more than `share` of their minutes.
        share: that share.
    """

    against: Against
    baseline: str
    changes: tuple[StationChange, ...]
    beyond: int
    share: float

    @property
    def changed(self) -> list[StationChange]:
        """The stations that change at all, most minutes first."""
        return core.changed(self.changes)

    @property
    def total(self) -> Total:
        """Minutes and litres of the whole difference."""
        whole = core.totals_by(self.changes, lambda _change: "the course")
        return whole[0] if whole else Total("the course", 0, 0.0, 0.0)

    def by_kind(self) -> list[Total]:
        """Totals of each kind of area."""
        return core.totals_by(self.changes, lambda change: change.kind)

    def by_area(self) -> list[Total]:
        """Totals of each area id."""
        return core.totals_by(self.changes, lambda change: change.area)

    def by_reason(self) -> list[Total]:
        """Totals of each reason; a station counts with each of its reasons."""
        return core.totals_by_reason(self.changes)


def reason_words(reason: str) -> str:
    """A reason as people read it."""
    return _WORDS.get(reason, reason)


def compared_date(night: date) -> str:
    """A date as the pages write it in a sentence."""
    return f"{night.day} {night:%B %Y}"


def _last(course: Course, stored: StoredNight) -> Baseline | None:
    past = recent_approved(course, stored.plan.night, 2)
    others = [one for one in past if one.id != stored.id]
    if not others:
        return None
    last = others[-1]
    words = f"the approved night of {compared_date(last.plan.night)} (edition {last.edition})"
    return core.against_night(last.plan, words)


def _ordinary(course: Course, stored: StoredNight) -> Baseline:
    past = recent_approved(course, stored.plan.night, ORDINARY_NIGHTS + 1)
    before = [one.plan for one in past if one.plan.night < stored.plan.night]
    return core.ordinary_night(stored.plan, before[-ORDINARY_NIGHTS:])


def compare(
    course: Course,
    stored: StoredNight,
    against: Against = "last",
    share: float = core.CHANGED_SHARE,
) -> Comparison | None:
    """What a night changes, or None where no other night was ever approved.

    The last approved night is that of the same date where an edition of it is approved already,
    else of the latest date before. The ordinary night is the middle, factor by factor, of the
    last seven approved nights before this one; with fewer than three, this night without trims,
    holds and limits.

    Raises:
        UserError: an unknown comparison, or a share below zero.
    """
    if against not in AGAINST:
        raise UserError(f"A night is compared with {' or '.join(AGAINST)}, not '{against}'.")
    if not share >= 0:
        raise UserError(f"The share is {share:g}; it must be zero or more, like 0.25.")
    baseline = _last(course, stored) if against == "last" else _ordinary(course, stored)
    if baseline is None:
        return None
    changes = core.night_changes(stored.plan, baseline)
    return Comparison(against, baseline.words, changes, core.count_beyond(changes, share), share)


def signed(litres: float, units: UnitSystem) -> str:
    """A change of water with its sign, for instance "+1,200 gal"."""
    text = shown(abs(litres) / 1000, "m3", units)
    return text if litres == 0 else f"{'+' if litres > 0 else '−'}{text}"


def change_lines(made: Comparison | None, units: UnitSystem) -> list[str]:
    """A comparison in a few lines for a sheet: the whole, then each reason."""
    if made is None:
        return ["No other night was approved yet, so nothing to compare with."]
    whole = made.total
    lines = [
        f"Against {made.baseline}: {whole.stations} stations change, {whole.minutes:+,.0f} min, "
        f"{signed(whole.litres, units)}; {made.beyond} of them by more than {made.share:.0%}."
    ]
    return lines + [
        f"{reason_words(total.name)}: {total.stations} stations, {total.minutes:+,.0f} min, "
        f"{signed(total.litres, units)}"
        for total in made.by_reason()
    ]


def area_label(ground: Ground, area: str) -> str:
    """What people call an area; its id where it has no label or is gone."""
    known = ground.areas["label"].get(area)
    return known if isinstance(known, str) and known else area


def change_rows(made: Comparison, ground: Ground, by: str) -> list[dict[str, object]]:
    """A comparison as rows of plain values in inside units.

    Args:
        made: the comparison.
        ground: for labels.
        by: reason, kind, area or station.

    Raises:
        UserError: another way to group.
    """
    totals = {"reason": made.by_reason, "kind": made.by_kind, "area": made.by_area}
    if by == "station":
        return _station_rows(made.changed, ground)
    if by not in totals:
        raise UserError(f"Changes are told by reason, kind, area or station, not by '{by}'.")
    return [
        {
            by: total.name,
            "label": area_label(ground, total.name) if by == "area" else None,
            "stations": total.stations,
            "change_min": round(total.minutes, 1),
            "change_m3": total.litres / 1000,
        }
        for total in totals[by]()
    ]


def _station_rows(changes: Sequence[StationChange], ground: Ground) -> list[dict[str, object]]:
    labels = ground.stations["label"]
    return [
        {
            "station": change.station,
            "label": labels.get(change.station),
            "area": area_label(ground, change.area),
            "before_min": change.before_min,
            "after_min": change.after_min,
            "change_m3": change.litres / 1000,
            "reasons": ", ".join(f"{part.reason} {part.minutes:+.1f} min" for part in change.parts),
        }
        for change in changes
    ]
