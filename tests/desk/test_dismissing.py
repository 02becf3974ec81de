"""Findings that somebody lets be: by whom, why, how long, and which never."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from nightwater.desk.checking import check
from nightwater.desk.course import Course, open_course
from nightwater.desk.dismissing import (
    DismissWish,
    dismiss,
    message_digest,
    restore,
    sort_findings,
)
from nightwater.findings import NotFoundError, UserError, error, note, warning

NOON = datetime(2026, 7, 14, 18, tzinfo=UTC)
LOW = warning("spacing-differs", "heads:H1", "Head H1 stands 3.1 m off.", "Measure it.")
FAR = note("pipes-cross", "pipes:P1", "Pipes P1 and P2 cross.", "Join them.")
TORN = error("flow-zero", "nozzles:N", "Nozzle N has a flow of 0 L/s.", "Enter its flow.")
ALL = [TORN, LOW, FAR]
WISH = DismissWish("spacing-differs", "heads:H1", "A tree stands there.")


def test_nothing_is_dismissed_at_first(course: Course) -> None:
    found = sort_findings(course, ALL)
    assert found.open == tuple(ALL)
    assert found.dismissed == ()


def test_a_dismissed_finding_says_who_why_and_when(course: Course) -> None:
    assert dismiss(course, ALL, WISH, who="Tomas", now=NOON) == [LOW]
    found = sort_findings(course, ALL)
    assert found.open == (TORN, FAR)
    (kept,) = found.dismissed
    assert kept.finding == LOW
    assert (kept.reason, kept.author, kept.time) == ("A tree stands there.", "Tomas", NOON)
    row = kept.as_row()
    assert list(row)[:5] == list(LOW.as_row())
    assert (row["reason"], row["time"]) == ("A tree stands there.", "2026-07-14T18:00:00+00:00")


def test_it_holds_in_the_file(course: Course, small_course: Path) -> None:
    dismiss(course, ALL, WISH, who="Tomas", now=NOON)
    with open_course(small_course) as again:
        assert len(sort_findings(again, ALL).dismissed) == 1


def test_it_comes_back_when_what_it_says_changes(course: Course) -> None:
    dismiss(course, ALL, WISH, who="Tomas", now=NOON)
    moved = warning("spacing-differs", "heads:H1", "Head H1 stands 9.0 m off.", "Measure it.")
    assert sort_findings(course, [moved]).open == (moved,)
    assert sort_findings(course, [LOW]).open == ()


@pytest.mark.parametrize(
    "other",
    [
        warning("spacing-differs", "heads:H2", LOW.message, LOW.fix),
        warning("row-against-spacing", "heads:H1", LOW.message, LOW.fix),
    ],
)
def test_another_subject_or_rule_stays_open(course: Course, other: object) -> None:
    dismiss(course, ALL, WISH, who="Tomas", now=NOON)
    assert sort_findings(course, [other]).open == (other,)  # type: ignore[list-item]


def test_an_error_cannot_be_dismissed(course: Course) -> None:
    wish = DismissWish("flow-zero", "nozzles:N", "We know.")
    with pytest.raises(UserError, match=r"the plan would be wrong.*Enter its flow"):
        dismiss(course, ALL, wish, who="Tomas", now=NOON)
    assert course.file.running("dismissals").empty


def test_a_finding_that_became_an_error_is_open(course: Course) -> None:
    dismiss(course, ALL, WISH, who="Tomas", now=NOON)
    graver = error(LOW.code, LOW.subject, LOW.message, LOW.fix)
    assert sort_findings(course, [graver]).open == (graver,)


@pytest.mark.parametrize("reason", ["", "   ", "x" * 501])
def test_a_reason_is_a_sentence(course: Course, reason: str) -> None:
    with pytest.raises(UserError, match="Say why spacing-differs of heads:H1 may be"):
        dismiss(course, ALL, DismissWish(LOW.code, LOW.subject, reason), who="Tomas", now=NOON)


@pytest.mark.parametrize(
    ("code", "subject"), [("spacing-differs", "heads:H9"), ("no-such", "heads:H1")]
)
def test_what_is_not_told_cannot_be_dismissed(course: Course, code: str, subject: str) -> None:
    with pytest.raises(NotFoundError, match="no open finding"):
        dismiss(course, ALL, DismissWish(code, subject, "No."), who="Tomas", now=NOON)


def test_twice_is_once(course: Course) -> None:
    dismiss(course, ALL, WISH, who="Tomas", now=NOON)
    with pytest.raises(NotFoundError, match="dismissed already"):
        dismiss(course, ALL, WISH, who="Ines", now=NOON)


def test_a_digest_means_the_one_that_was_looked_at(course: Course) -> None:
    twin = warning(LOW.code, LOW.subject, "Head H1 stands 3.1 m off its row.", LOW.fix)
    wish = DismissWish(LOW.code, LOW.subject, "A tree.", message_digest(twin))
    assert dismiss(course, [LOW, twin], wish, who="Tomas", now=NOON) == [twin]
    assert sort_findings(course, [LOW, twin]).open == (LOW,)
    stale = DismissWish(LOW.code, LOW.subject, "A tree.", "0" * 64)
    with pytest.raises(NotFoundError, match="say something else by now"):
        dismiss(course, [LOW], stale, who="Tomas", now=NOON)


def test_without_digest_all_of_code_and_subject_are_meant(course: Course) -> None:
    twin = warning(LOW.code, LOW.subject, "Head H1 stands 3.1 m off its row.", LOW.fix)
    assert dismiss(course, [LOW, twin], WISH, who="Tomas", now=NOON) == [LOW, twin]
    assert restore(course, [LOW, twin], *_of(LOW), who="Ines", now=NOON) == [LOW, twin]


def _of(finding: object) -> tuple[str, str]:
    return finding.code, finding.subject  # type: ignore[attr-defined]


def test_restored_is_open_and_its_history_stays(course: Course) -> None:
    dismiss(course, ALL, WISH, who="Tomas", now=NOON)
    later = NOON + timedelta(hours=3)
    assert restore(course, ALL, *_of(LOW), who="Ines", now=later) == [LOW]
    assert sort_findings(course, ALL).open == tuple(ALL)
    (row,) = course.file.running("dismissals").to_dict("records")
    assert (row["author"], row["restored_by"]) == ("Tomas", "Ines")


def test_dismissed_again_after_it_was_restored(course: Course) -> None:
    dismiss(course, ALL, WISH, who="Tomas", now=NOON)
    restore(course, ALL, *_of(LOW), who="Ines", now=NOON)
    dismiss(course, ALL, WISH, who="Ines", now=NOON)
    (kept,) = sort_findings(course, ALL).dismissed
    assert kept.author == "Ines"


def test_only_what_is_dismissed_can_be_opened_again(course: Course) -> None:
    with pytest.raises(NotFoundError, match="No finding 'spacing-differs' about heads:H1"):
        restore(course, ALL, *_of(LOW), who="Ines", now=NOON)


def test_the_checks_own_findings_can_be_dismissed(course: Course) -> None:
    found = check(course)
    mild = next(f for f in found if f.severity != "error")
    dismiss(course, found, DismissWish(*_of(mild), "Known."), who="Tomas", now=NOON)
    still_open = sort_findings(course, check(course)).open
    assert mild not in still_open
    assert len(still_open) < len(found)
