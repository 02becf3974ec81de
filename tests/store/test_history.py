"""The past of single rows, and ids that are used up."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from shapely.geometry import Point

from nightwater.ground.changes import Changes, RowChange, plain_rows
from nightwater.ground.edits.digests import row_digest
from nightwater.ground.tables import TABLES
from nightwater.store.course_file import CourseFile

BuildHeads = Callable[..., Changes]


def _row(course: CourseFile, head: str) -> dict[str, object]:
    return plain_rows(course.ground().heads.loc[[head]], TABLES["heads"])[head]


def _turned(course: CourseFile, head: str, arc_deg: float) -> Changes:
    return Changes((RowChange("heads", head, _row(course, head), {"arc_deg": arc_deg}),))


def test_a_row_tells_every_revision_that_touched_it(
    course: CourseFile, new_heads: BuildHeads, now: datetime
) -> None:
    course.accept(new_heads(3), "Pilar", "survey", now)
    course.accept(_turned(course, "H0001", 180.0), "Tomas", "it is a half circle", now)
    course.accept(_turned(course, "H0002", 90.0), "Tomas", "another one", now)
    past = course.row_history("heads", "H0001")
    assert [(p.revision, p.who, p.why) for p in past] == [
        ("2", "Tomas", "it is a half circle"),
        ("1", "Pilar", "survey"),
    ]
    assert past[0].time == "2026-07-14T21:00:00Z"
    assert past[0].change.columns == {"arc_deg": (360.0, 180.0)}
    assert past[1].change.before is None
    assert past[1].change.after is not None
    assert past[1].change.after["geometry"].equals(Point(413_020.0, 4_340_000.0))


def test_a_name_within_another_is_not_confused(
    course: CourseFile, new_heads: BuildHeads, now: datetime
) -> None:
    course.accept(new_heads(1, "H"), "Pilar", "one", now)
    course.accept(new_heads(1, "XH", 4_340_100.0), "Pilar", "other", now)
    odd = 'a "quoted", [odd] näme'
    new = RowChange("stations", odd, None, {"label": "H0000"})
    course.accept(Changes((new,)), "Pilar", "third", now)
    assert [p.why for p in course.row_history("heads", "H0000")] == ["one"]
    assert [p.why for p in course.row_history("stations", odd)] == ["third"]
    assert course.row_history("heads", "H") == []
    assert course.row_history("heads", '"],') == []


def test_past_rows_have_the_marks_that_they_had_in_the_record(
    course: CourseFile, new_heads: BuildHeads, now: datetime
) -> None:
    course.accept(new_heads(1), "Pilar", "survey", now)
    before = row_digest(_row(course, "H0000"))
    course.accept(_turned(course, "H0000", 45.5), "Tomas", "arc", now)
    change = course.row_history("heads", "H0000")[0].change
    assert change.before is not None
    assert change.after is not None
    assert row_digest(change.before) == before
    assert row_digest(change.after) == row_digest(_row(course, "H0000"))


def test_ids_that_were_taken_out_are_known(
    course: CourseFile, new_heads: BuildHeads, now: datetime
) -> None:
    course.accept(new_heads(2), "Pilar", "survey", now)
    assert course.retired_ids() == {}
    gone = Changes((RowChange("heads", "H0001", _row(course, "H0001"), None),))
    revision = course.accept(gone, "Tomas", "dug out", now)
    assert course.retired_ids() == {"heads": frozenset({"H0001"})}
    course.undo(revision, "Tomas", "it is there", now)
    assert [p.who for p in course.row_history("heads", "H0001")] == ["Tomas", "Tomas", "Pilar"]
