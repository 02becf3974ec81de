"""Every doubt about the record, in one list."""

from __future__ import annotations

from nightwater.desk.course import Course
from nightwater.findings import Finding, Severity
from nightwater.ground.checks import check_ground
from nightwater.pipes.checks import check_pipes

_ORDER = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}


def check(course: Course) -> list[Finding]:
    """Findings about record, links and pipe network, gravest first."""
    pipe_findings = check_pipes(course.ground, course.settings.night)
    found = [*course.link_findings, *check_ground(course.ground), *pipe_findings]
    unique = dict.fromkeys(found)
    return sorted(unique, key=lambda finding: (_ORDER[finding.severity], finding.code))
