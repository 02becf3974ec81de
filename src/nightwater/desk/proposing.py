"""Propose what the record lacks, and accept what a person wants of it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from difflib import get_close_matches
from typing import Any, Final

import pandas as pd

from nightwater.desk.course import Course
from nightwater.findings import Finding, UserError
from nightwater.ground.arcs import propose_arcs, with_arcs
from nightwater.ground.differences import changes_between
from nightwater.ground.lines import propose_lines
from nightwater.ground.nozzles import propose_nozzles, with_nozzles
from nightwater.ground.number_rules import NumberRules, number_rules_from
from nightwater.ground.numbering import number_findings, propose_numbers, renumber
from nightwater.ground.pair_rules import PairRules, pair_rules_from
from nightwater.ground.pairing import propose_stations, with_stations
from nightwater.ground.perimeters import propose_perimeters, with_new
from nightwater.ground.record import Ground

COLLAR_M: Final = (0.0, 2.0)  # a collar two metres wide (common practice, no source)


@dataclass(frozen=True)
class Proposed:
    """What is proposed of one kind.

    Attributes:
        rows: one a thing; with `confidence` (0 to 1) where the proposal knows it.
        columns: of the rows, what a person reads.
        findings: what nothing can be proposed for.
        apply: the record with some of the rows.
    """

    rows: pd.DataFrame
    columns: tuple[str, ...]
    findings: tuple[Finding, ...]
    apply: Callable[[Ground, pd.DataFrame], Ground]

    def chosen(self, least: float = 0.0, places: Sequence[str] = ()) -> pd.DataFrame:
        """The rows that are sure enough, and of the holes wanted where they name one."""
        rows = self.rows
        if "confidence" in rows:
            rows = rows[rows["confidence"].fillna(0.0) >= least]
        if places and "place" in rows:
            rows = rows[rows["place"].isin(list(places))]
        return rows


def number_rules(course: Course) -> NumberRules:
    """How the club counts."""
    return number_rules_from(course.settings.record.numbers)


def pair_rules(course: Course) -> PairRules:
    """How the club groups heads."""
    return pair_rules_from(course.settings.record.pairs)


def _stations(course: Course) -> Proposed:
    found = propose_stations(course.ground, pair_rules(course), number_rules(course))
    columns = ("place", "kind", "order", "heads", "flow_l_s", "confidence", "reasons")
    return Proposed(found.rows, columns, found.findings, with_stations)


def _numbers(course: Course) -> Proposed:
    rows = propose_numbers(course.ground, number_rules(course))
    rows = rows[rows["changes"]]
    columns = ("table", "id", "place", "kind", "number", "label_now", "label_proposed")
    return Proposed(rows, columns, tuple(number_findings(course.ground, rows)), renumber)


def _arcs(course: Course) -> Proposed:
    columns = ("head", "area", "kind", "arc_deg", "bearing_deg", "confidence", "reasons")
    return Proposed(propose_arcs(course.ground).rename_axis("head"), columns, (), with_arcs)


def _nozzles(course: Course) -> Proposed:
    columns = ("head", "station", "flow_each_l_s", "nozzle", "runner_up", "confidence", "reasons")
    return Proposed(propose_nozzles(course.ground).rename_axis("head"), columns, (), with_nozzles)


def _lines(course: Course) -> Proposed:
    columns = ("id", "label", "number", "confidence", "reasons")
    return Proposed(
        propose_lines(course.ground),
        columns,
        (),
        lambda ground, rows: with_new(ground, "holes", rows),
    )


def _perimeters(course: Course) -> Proposed:
    rows, findings = propose_perimeters(course.ground, *COLLAR_M)
    return Proposed(
        rows,
        ("id", "label", "kind", "hole"),
        tuple(findings),
        lambda ground, some: with_new(ground, "areas", some),
    )


PROPOSALS: Final[Mapping[str, Callable[[Course], Proposed]]] = {
    "stations": _stations,
    "numbers": _numbers,
    "arcs": _arcs,
    "nozzles": _nozzles,
    "lines": _lines,
    "perimeters": _perimeters,
}


def propose(course: Course, what: str) -> Proposed:
    """What the record lacks of one kind; nothing is changed.

    Raises:
        UserError: nothing of that name can be proposed.
    """
    if what not in PROPOSALS:
        near = get_close_matches(what, PROPOSALS, 1)
        hint = f" Did you mean '{near[0]}'?" if near else ""
        raise UserError(f"'{what}' cannot be proposed.{hint} Known: {', '.join(PROPOSALS)}.")
    return PROPOSALS[what](course)


def accept_proposed(
    course: Course, proposed: Proposed, rows: pd.DataFrame, *, who: str, why: str, now: datetime
) -> str | None:
    """Make proposed rows part of the record, whole or not at all.

    Returns:
        The id of the revision, or None where nothing differs.

    Raises:
        UserError: a row names what the record no longer has.
        ConflictError: somebody changed the same rows meanwhile; nothing was saved.
    """
    return accept_ground(course, lambda ground: proposed.apply(ground, rows), who, why, now)


def accept_ground(
    course: Course, edit: Callable[[Ground], Ground], who: str, why: str, now: datetime
) -> str | None:
    """Save what an edit makes of the record as one revision.

    Returns:
        The id of the revision, or None where nothing differs.
    """
    before = course.file.ground()
    changes = changes_between(before, edit(before))
    return course.file.accept(changes, who, why, now) if len(changes) else None


def proposed_rows(proposed: Proposed, rows: pd.DataFrame) -> list[dict[str, Any]]:
    """Rows as dicts with the columns that a person reads."""
    named = rows.reset_index() if rows.index.name else rows
    return [
        {column: row.get(column) for column in proposed.columns} for row in named.to_dict("records")
    ]
