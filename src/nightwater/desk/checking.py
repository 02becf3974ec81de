"""Every doubt about the record, in one list."""

from __future__ import annotations

from nightwater.desk.course import Course
from nightwater.desk.head_pressures import head_pressures
from nightwater.findings import Finding, Severity, warning
from nightwater.pipes.checks import check_pipes

_NEEDED = ("areas", "nozzles", "stations", "heads", "pumps")
_ORDER = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}


def _lacking(course: Course) -> list[Finding]:
    """What a night cannot be planned without, and the record has not at all."""
    missing = [name for name in _NEEDED if course.ground.table(name).empty]
    findings = [
        warning(
            "nothing-yet",
            f"{name}:*",
            f"The record has no {name} yet; no night can be planned without.",
            f"Survey them: nightwater survey COURSE FILE --as {name}.",
        )
        for name in missing
    ]
    if course.file.running("weather").empty:
        findings.append(
            warning(
                "weather-nothing-yet",
                "weather:*",
                "The course has no weather yet, so need cannot be worked out.",
                "Read a file: nightwater weather COURSE FILE.",
            )
        )
    return findings


def _hydraulic(course: Course) -> tuple[Finding, ...]:
    """What EPANET says of the network, every station once in a typical minute of a night."""
    if course.ground.pipes.empty or course.ground.heads.empty:
        return ()
    told = head_pressures(course.ground, course.settings.night.pump_use)
    return (*told.doubts, *told.findings)


def check(course: Course) -> list[Finding]:
    """Findings about record, links, pipes, and the network as EPANET solves it, gravest first."""
    pipe_findings = check_pipes(course.ground, course.settings.night)
    ground_findings = course.checked.findings
    found = [
        *_lacking(course),
        *course.link_findings,
        *ground_findings,
        *pipe_findings,
        *_hydraulic(course),
    ]
    unique = dict.fromkeys(found)
    return sorted(unique, key=lambda finding: (_ORDER[finding.severity], finding.code))
