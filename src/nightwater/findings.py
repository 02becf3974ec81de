"""Doubts as values, and the one kind of error that a person can cause."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from enum import StrEnum


class UserError(Exception):
    """Something a person can put right; its text is shown as it stands.

    The text says what is wrong, where, and what to do.
    """


class NotFoundError(UserError):
    """What was asked for does not exist."""


class ConflictError(UserError):
    """Somebody else changed the same thing first; nothing was saved."""


class NotAllowedError(UserError):
    """The person's role does not cover this deed."""


class Severity(StrEnum):
    """How much a finding matters: *error* only where the plan would be wrong."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True)
class Finding:
    """A doubt about data, as a value.

    Attributes:
        severity: error, warning or note.
        code: stable kebab-case name of the rule, listed in docs/findings.md.
        subject: what it is about, as `table:id` (for instance `stations:S0714`).
        message: one sentence with the number, its unit and the limit.
        fix: what to do.
    """

    severity: Severity
    code: str
    subject: str
    message: str
    fix: str

    def as_row(self) -> dict[str, str]:
        """The finding as plain text values, in the order of the fields."""
        return {key: str(value) for key, value in asdict(self).items()}


def error(code: str, subject: str, message: str, fix: str) -> Finding:
    """A finding of severity error."""
    return Finding(Severity.ERROR, code, subject, message, fix)


def warning(code: str, subject: str, message: str, fix: str) -> Finding:
    """A finding of severity warning."""
    return Finding(Severity.WARNING, code, subject, message, fix)


def note(code: str, subject: str, message: str, fix: str) -> Finding:
    """A finding of severity note."""
    return Finding(Severity.NOTE, code, subject, message, fix)


def has_errors(findings: Iterable[Finding]) -> bool:
    """Whether any finding is of severity error."""
    return any(finding.severity is Severity.ERROR for finding in findings)
