"""Heads in the ground against the station list: look, and accept hole by hole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from nightwater.desk.course import Course
from nightwater.desk.proposing import accept_ground, number_rules, pair_rules
from nightwater.findings import Finding, UserError
from nightwater.ground.list_doubts import list_doubts
from nightwater.ground.nozzle_performance import head_flow_l_s
from nightwater.ground.reconcile import Reconciliation, with_matches
from nightwater.ground.reconciling import reconciled


@dataclass(frozen=True)
class Reconciled:
    """The matching and everything on which ground and list disagree."""

    matching: Reconciliation
    findings: tuple[Finding, ...]

    def of(self, places: Sequence[str]) -> Reconciled:
        """Only some holes; all where none is named."""
        if not places:
            return self
        rows = self.matching.rows[self.matching.rows["place"].isin(list(places))]
        own = {f"stations:{station}" for station in rows["station"].dropna()}
        own |= {f"heads:{head}" for heads in rows["heads"] for head in heads}
        told = tuple(finding for finding in self.findings if finding.subject in own)
        return Reconciled(replace(self.matching, rows=rows), told)

    @property
    def places(self) -> list[str]:
        """Holes and other places that have rows, as the rules name them."""
        return list(dict.fromkeys(str(p) for p in self.matching.rows["place"].dropna()))


def reconcile_course(course: Course, *, anew: bool = False) -> Reconciled:
    """Match heads without a station with the station list; nothing is changed.

    Args:
        course: the open course.
        anew: whether heads that name a station already are matched too, as if they named none.
    """
    ground = course.ground
    if anew:
        ground = ground.with_table("heads", ground.heads.assign(station=None))
    # A station that has heads already has nothing to look for.
    free = ground.stations[~ground.stations.index.isin(ground.heads["station"].dropna())]
    ground = ground.with_table("stations", free)
    flow = head_flow_l_s(ground.heads, ground.nozzles)
    found = reconciled(ground, number_rules(course), flow, pair_rules(course))
    return Reconciled(found, tuple(list_doubts(found)))


def accept_matches(
    course: Course,
    found: Reconciled,
    places: Sequence[str],
    *,
    who: str,
    why: str,
    now: datetime,
) -> str | None:
    """Put the heads of matched rows on their stations, for some holes or all.

    Args:
        course: the open course.
        found: what was matched.
        places: the holes that a person accepts; all where empty.
        who, why, now: for the history.

    Returns:
        The id of the revision, or None where nothing differs.

    Raises:
        UserError: a hole that no row has.
        ConflictError: somebody changed the same heads meanwhile; nothing was saved.
    """
    unknown = [place for place in places if place not in found.places]
    if unknown:
        raise UserError(
            f"No row of the list or the ground is on '{unknown[0]}'. "
            f"Known: {', '.join(found.places)}."
        )
    rows = found.matching.rows
    return accept_ground(
        course, lambda ground: with_matches(ground, rows, places or None), who, why, now
    )
