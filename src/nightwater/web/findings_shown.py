"""Findings in the order and number in which a person can read them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from nightwater.findings import Finding, Severity

_RANK: Final = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}


def gravest_first(findings: Iterable[Finding]) -> list[Finding]:
    """Errors, then warnings, then notes; in their order otherwise."""
    return sorted(findings, key=lambda finding: _RANK[finding.severity])


def grouped(findings: Iterable[Finding]) -> list[tuple[Finding, list[Finding]]]:
    """The first finding of each code with the others of that code, gravest first."""
    groups: dict[tuple[Severity, str], list[Finding]] = {}
    for finding in gravest_first(findings):
        groups.setdefault((finding.severity, finding.code), []).append(finding)
    return [(group[0], group[1:]) for group in groups.values()]
