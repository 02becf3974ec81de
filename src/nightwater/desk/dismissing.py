"""Let a finding be, with a reason, until what it says changes; and open it again."""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Final

import pandas as pd

from nightwater.desk.course import Course
from nightwater.findings import Finding, NotFoundError, Severity, UserError

MOST_REASON: Final = 500  # characters; a reason is a sentence


@dataclass(frozen=True)
class DismissWish:
    """A finding that somebody wants to let be.

    Attributes:
        code: the rule that told it.
        subject: what it is about, as `table:id`.
        reason: why it may be.
        digest: of the one message that was looked at; empty for all of code and subject.
    """

    code: str
    subject: str
    reason: str
    digest: str = ""


@dataclass(frozen=True)
class Dismissed:
    """A finding that is let be, and by whom, why and when."""

    finding: Finding
    identity: str
    reason: str
    author: str
    time: datetime

    def as_row(self) -> dict[str, str]:
        """The finding's row with reason, author and time behind it."""
        kept = {"reason": self.reason, "author": self.author}
        return self.finding.as_row() | kept | {"time": self.time.isoformat()}


@dataclass(frozen=True)
class SortedFindings:
    """Findings by whether somebody lets them be, each list in the order given."""

    open: tuple[Finding, ...]
    dismissed: tuple[Dismissed, ...]


def message_digest(finding: Finding) -> str:
    """What a finding says, in 64 hexadecimal digits: other numbers are another message."""
    return hashlib.sha256(finding.message.encode()).hexdigest()


def _standing(course: Course) -> dict[tuple[str, str, str], tuple[str, pd.Series]]:
    """Dismissals that nobody took back, by code, subject and digest; the last one counts."""
    rows = course.file.running("dismissals")
    keys = zip(rows["code"], rows["subject"], rows["message_digest"], strict=True)
    standing = rows["restored"].isna()
    return {
        key: (str(identity), row)
        for key, (identity, row), sound in zip(keys, rows.iterrows(), standing, strict=True)
        if sound
    }


def sort_findings(course: Course, findings: Iterable[Finding]) -> SortedFindings:
    """Part findings into open ones and those that are let be.

    An error is always open. A finding whose message is another than the one dismissed
    is open: the facts about its subject have changed.
    """
    standing = _standing(course)
    still_open: list[Finding] = []
    dismissed: list[Dismissed] = []
    for finding in findings:
        known = standing.get((finding.code, finding.subject, message_digest(finding)))
        if known is None or finding.severity is Severity.ERROR:
            still_open.append(finding)
            continue
        identity, row = known
        time = pd.Timestamp(row["time"]).to_pydatetime()
        dismissed.append(Dismissed(finding, identity, str(row["reason"]), str(row["author"]), time))
    return SortedFindings(tuple(still_open), tuple(dismissed))


def check_can_dismiss(finding: Finding) -> None:
    """Refuse to let an error be.

    Raises:
        UserError: the finding is an error.
    """
    if finding.severity is Severity.ERROR:
        raise UserError(
            f"{finding.code} of {finding.subject} is an error: with it the plan would be wrong, "
            f"so it cannot be dismissed. {finding.fix}"
        )


def _meant(found: SortedFindings, wish: DismissWish) -> list[Finding]:
    """The open findings that a wish names.

    Raises:
        NotFoundError: none is open.
    """
    meant = [
        finding
        for finding in found.open
        if (finding.code, finding.subject) == (wish.code, wish.subject)
        and wish.digest in ("", message_digest(finding))
    ]
    if not meant:
        raise NotFoundError(
            f"There is no open finding '{wish.code}' about {wish.subject}. It may be mended, "
            "dismissed already, or say something else by now: check again."
        )
    return meant


def dismiss(
    course: Course, findings: Iterable[Finding], wish: DismissWish, *, who: str, now: datetime
) -> list[Finding]:
    """Let the findings that a wish names be.

    Args:
        course: the course.
        findings: all of the record, as `check` gives them.
        wish: which, and why.
        who: the person.
        now: the present instant.

    Returns:
        The findings that are dismissed now.

    Raises:
        NotFoundError: no open finding of that code and subject.
        UserError: one of them is an error, or the reason is empty or too long.
    """
    reason = wish.reason.strip()
    meant = _meant(sort_findings(course, findings), wish)
    for finding in meant:
        check_can_dismiss(finding)
    if not reason or len(reason) > MOST_REASON:
        raise UserError(
            f"Say why {wish.code} of {wish.subject} may be, in 1 to {MOST_REASON} characters: "
            "others will read it."
        )
    rows = [
        {
            "code": finding.code,
            "subject": finding.subject,
            "message_digest": message_digest(finding),
            "reason": reason,
            "author": who,
            "time": now,
        }
        for finding in meant
    ]
    index = pd.Index([uuid.uuid4().hex for _ in rows], name="id")
    course.file.append("dismissals", pd.DataFrame(rows, index=index))
    return meant


def restore(
    course: Course, findings: Iterable[Finding], code: str, subject: str, *, who: str, now: datetime
) -> list[Finding]:
    """Open what was dismissed; the dismissal stays in the file, with who took it back.

    Returns:
        The findings that are open again.

    Raises:
        NotFoundError: no finding of that code and subject is dismissed.
    """
    let_be = [
        one
        for one in sort_findings(course, findings).dismissed
        if (one.finding.code, one.finding.subject) == (code, subject)
    ]
    if not let_be:
        raise NotFoundError(f"No finding '{code}' about {subject} is dismissed.")
    index = pd.Index([one.identity for one in let_be], name="id")
    taken_back = {"restored_by": who, "restored": now}
    course.file.append("dismissals", pd.DataFrame([taken_back] * len(let_be), index=index))
    return [one.finding for one in let_be]
