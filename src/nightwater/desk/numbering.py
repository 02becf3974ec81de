"""Renumber heads and stations by rules that the club keeps as data."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from nightwater.desk.course import Course
from nightwater.desk.proposing import accept_ground
from nightwater.findings import ConflictError, Finding
from nightwater.ground.number_rules import number_rules_from
from nightwater.ground.numbering import number_findings, propose_numbers, renumber


@dataclass(frozen=True)
class NumberPreview:
    """What rules would make of the labels.

    Attributes:
        every: every head and station with its label now and then.
        rows: those whose label would change.
        findings: what stands in the way.
    """

    every: list[dict[str, Any]]
    rows: list[dict[str, Any]]
    findings: tuple[Finding, ...]


def preview_numbers(course: Course, rules: Mapping[str, object]) -> NumberPreview:
    """What rules would change; nothing is saved.

    Raises:
        UserError: the rules do not read, with every fault.
    """
    proposed = propose_numbers(course.ground, number_rules_from(rules))
    every = [{str(key): value for key, value in row.items()} for row in proposed.to_dict("records")]
    changing = proposed[proposed["changes"]]
    found = number_findings(course.ground, changing)
    return NumberPreview(every, [row for row in every if row["changes"]], tuple(found))


def renumber_course(
    course: Course,
    rules: Mapping[str, object],
    places: Sequence[str],
    *,
    who: str,
    why: str,
    now: datetime,
) -> str | None:
    """Keep the rules in the settings and renumber by them, ids unchanged.

    Args:
        course: the open course.
        rules: plain values; see docs/how/proposals.md.
        places: only these holes; all where empty.
        who, why, now: for the history.

    Returns:
        The id of the revision of the labels, or None where none changes.

    Raises:
        UserError: the rules do not read.
        ConflictError: two would bear one label; nothing was saved.
    """
    proposed = propose_numbers(course.ground, number_rules_from(rules))
    wanted = proposed[proposed["changes"]]
    if places:
        wanted = wanted[wanted["place"].isin(list(places))]
    twice = [f for f in number_findings(course.ground, wanted) if f.code == "number-taken-twice"]
    if twice:
        raise ConflictError(f"{twice[0].message} {twice[0].fix} Nothing was saved.")
    record = replace(course.settings.record, numbers=dict(rules))
    course.file.save_settings(replace(course.settings, record=record), who, why, now)
    return accept_ground(course, lambda ground: renumber(ground, wanted), who, why, now)
