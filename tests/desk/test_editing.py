"""Ines and Tomas edit the small course: together, one after the other, and on the same row."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from nightwater.desk import editing
from nightwater.desk.conflicts import EditConflictError
from nightwater.desk.course import Course
from nightwater.findings import ConflictError, NotFoundError, UserError
from nightwater.ground.changes import Changes
from nightwater.ground.edits.digests import digest_of
from nightwater.ground.edits.operations import OperationError

NOW = datetime(2026, 7, 14, 21, tzinfo=UTC)
HEAD = "H-F004"


def arc(arc_deg: float | None, *heads: str) -> list[dict[str, Any]]:
    ids = list(heads) or [HEAD]
    return [{"op": "set", "table": "heads", "ids": ids, "values": {"arc_deg": arc_deg}}]


def save(course: Course, operations: Any, seen: Any = None, who: str = "Ines") -> Any:
    return editing.save(course, operations, seen or {}, who=who, why="a test", now=NOW)


def seen_by(course: Course, *subjects: str) -> dict[str, str]:
    """Digests as a page that was just loaded has them."""
    found = {subject: digest_of(course.file.ground(), subject) for subject in subjects}
    return {subject: str(mark) for subject, mark in found.items()}


def test_a_preview_saves_nothing_and_tells_what_would_follow(course: Course) -> None:
    revisions = len(course.file.revisions())
    tried = editing.preview(course, [*arc(90), {"op": "assign", "ids": [HEAD], "station": "S9"}])
    assert tried.changes.in_words() == "heads: 1 changed"
    (impossible,) = tried.impossible
    assert impossible.at == 1
    assert str(impossible).startswith("S9 is no station of the record.")
    codes = {(f.code, f.subject) for f in tried.findings}
    assert ("arc-without-bearing", f"heads:{HEAD}") in codes
    assert course.file.ground().heads.loc[HEAD, "arc_deg"] == 360.0
    assert len(course.file.revisions()) == revisions


def test_doubts_that_were_there_already_are_not_told_again(course: Course) -> None:
    all_known = editing.preview(course, arc(90, "H-R200"))
    assert all(f.subject.endswith(("H-R200", "S-R200")) for f in all_known.findings)
    nothing = editing.preview(course, arc(360))
    assert (len(nothing.changes), nothing.findings) == (0, ())


def test_saving_makes_one_revision_of_all_operations(course: Course) -> None:
    before = len(course.file.revisions())
    place = {"type": "Point", "coordinates": [413_000.0, 4_340_000.0]}
    new = {"op": "add", "table": "heads", "values": {"nozzle": "N-big"}, "geometry": place}
    saved = save(course, [*arc(180), new], seen_by(course, f"heads:{HEAD}"))
    revisions = course.file.revisions()
    assert len(revisions) == before + 1
    assert revisions.loc[saved.revision, "who"] == "Ines"
    assert revisions.loc[saved.revision, "summary"] == "heads: 1 added, 1 changed"
    assert saved.created == {1: ("heads:head-0001",)}
    assert ("head-in-no-area", "heads:head-0001") in {(f.code, f.subject) for f in saved.findings}
    assert course.file.ground().heads.loc[HEAD, "arc_deg"] == 180.0


def test_work_on_different_rows_goes_through_both(course: Course) -> None:
    """Tomas saves R200 after Ines saved F004; he loaded the page before."""
    loaded = seen_by(course, f"heads:{HEAD}", "heads:H-R200")
    save(course, arc(180), loaded)
    save(course, arc(90, "H-R200"), loaded, who="Tomas")
    arcs = course.file.ground().heads["arc_deg"]
    assert (arcs[HEAD], arcs["H-R200"]) == (180.0, 90.0)


def test_the_second_save_of_a_row_is_told_and_shown_both(course: Course) -> None:
    loaded = seen_by(course, f"heads:{HEAD}", "heads:H-R200")
    nozzle = {"op": "set", "table": "heads", "ids": [HEAD], "values": {"nozzle": "N-small"}}
    first = save(course, [*arc(180), nozzle], loaded)
    with pytest.raises(EditConflictError) as told:
        save(course, arc(90, HEAD, "H-R200"), loaded, who="Tomas")
    (conflict,) = told.value.conflicts
    assert conflict.subject == f"heads:{HEAD}"
    assert conflict.yours == {"arc_deg": 90.0}
    assert conflict.theirs == {"arc_deg": 180.0, "nozzle": "N-small"}
    assert (conflict.by, conflict.revision) == ("Ines", first.revision)
    assert "nothing was saved" in str(told.value)
    assert course.file.ground().heads.loc["H-R200", "arc_deg"] == 360.0  # nothing, not half
    again = {**loaded, f"heads:{HEAD}": str(conflict.digest)}
    save(course, arc(90, HEAD, "H-R200"), again, who="Tomas")
    row = course.file.ground().heads.loc[HEAD]
    assert (row["arc_deg"], row["nozzle"]) == (90.0, "N-small")  # his arc, her nozzle


def test_the_same_wish_twice_is_a_conflict_only_where_rows_differ(course: Course) -> None:
    loaded = seen_by(course, f"heads:{HEAD}")
    save(course, arc(180), loaded)
    with pytest.raises(EditConflictError) as told:
        save(course, arc(180), loaded, who="Tomas")
    assert told.value.conflicts[0].yours == told.value.conflicts[0].theirs == {"arc_deg": 180.0}


def test_a_row_that_somebody_removed_is_a_conflict_and_not_a_riddle(course: Course) -> None:
    loaded = seen_by(course, f"heads:{HEAD}")
    save(course, [{"op": "remove", "table": "heads", "ids": [HEAD]}], loaded)
    with pytest.raises(EditConflictError, match="taken out meanwhile by Ines") as told:
        save(course, arc(90), loaded, who="Tomas")
    (conflict,) = told.value.conflicts
    assert (conflict.digest, conflict.theirs) == (None, None)
    assert conflict.yours == {"arc_deg": 90.0}


def test_who_would_remove_what_another_changed_is_told(course: Course) -> None:
    loaded = seen_by(course, f"heads:{HEAD}")
    save(course, arc(180), loaded)
    with pytest.raises(EditConflictError) as told:
        save(course, [{"op": "remove", "table": "heads", "ids": [HEAD]}], loaded, who="Tomas")
    (conflict,) = told.value.conflicts
    assert (conflict.yours, conflict.theirs) == (None, {"arc_deg": 180.0})
    assert HEAD in course.file.ground().heads.index


def test_a_row_that_is_only_copied_from_counts_as_seen(course: Course) -> None:
    loaded = seen_by(course, "heads:H-G0", f"heads:{HEAD}")
    save(course, arc(120, "H-G0"), loaded)
    copy = [{"op": "copy_arc", "from": "H-G0", "ids": [HEAD]}]
    with pytest.raises(EditConflictError) as told:
        save(course, copy, loaded, who="Tomas")
    assert [c.subject for c in told.value.conflicts] == ["heads:H-G0"]
    assert told.value.conflicts[0].theirs == {"arc_deg": 120.0}


def test_rows_that_nobody_said_to_have_seen_are_taken_as_they_are(course: Course) -> None:
    save(course, arc(180))
    save(course, arc(90), who="Tomas")
    assert course.file.ground().heads.loc[HEAD, "arc_deg"] == 90.0


def test_what_another_program_wrote_is_a_conflict_too(course: Course, small_course: Path) -> None:
    loaded = seen_by(course, f"heads:{HEAD}")
    with closing(sqlite3.connect(small_course)) as other, other:
        other.execute("UPDATE heads SET condition = 'worn' WHERE id = ?", [HEAD])
    with pytest.raises(EditConflictError) as told:
        save(course, arc(90), loaded)
    assert told.value.conflicts[0].theirs == {"arc_deg": 360.0, "condition": "worn"}
    assert told.value.conflicts[0].yours == {"arc_deg": 90.0}


def test_a_mark_that_never_was_still_shows_both(course: Course) -> None:
    with pytest.raises(EditConflictError) as told:
        save(course, arc(90), {f"heads:{HEAD}": "0" * 16})
    (conflict,) = told.value.conflicts
    assert (conflict.yours, conflict.theirs) == ({"arc_deg": 90.0}, {"arc_deg": 360.0})


def test_a_save_in_between_is_tried_again(course: Course, monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody saves the same row after it was read and before it is written."""
    accept, calls = type(course.file).accept, []

    def interrupted(file: Any, changes: Changes, *named: Any) -> str:
        calls.append(named[0])
        if len(calls) == 1:
            save(course, arc(180), who="Ines")
        return accept(file, changes, *named)

    monkeypatch.setattr(type(course.file), "accept", interrupted)
    save(course, arc(90), who="Tomas")
    assert calls == ["Tomas", "Ines", "Tomas"]
    assert course.file.ground().heads.loc[HEAD, "arc_deg"] == 90.0


def test_the_one_who_saw_it_is_told_of_a_save_in_between(
    course: Course, monkeypatch: pytest.MonkeyPatch
) -> None:
    accept, calls = type(course.file).accept, []

    def interrupted(file: Any, changes: Changes, *named: Any) -> str:
        calls.append(named[0])
        if len(calls) == 1:
            save(course, arc(180), who="Ines")
        return accept(file, changes, *named)

    loaded = seen_by(course, f"heads:{HEAD}")
    monkeypatch.setattr(type(course.file), "accept", interrupted)
    with pytest.raises(EditConflictError) as told:
        save(course, arc(90), loaded, who="Tomas")
    assert told.value.conflicts[0].by == "Ines"


def test_it_gives_up_after_three_tries(course: Course, monkeypatch: pytest.MonkeyPatch) -> None:
    def never(*_: Any) -> str:
        raise ConflictError("somebody writes all the time")

    monkeypatch.setattr(type(course.file), "accept", never)
    with pytest.raises(ConflictError, match="all the time"):
        save(course, arc(90))


def test_nothing_is_saved_of_a_list_with_a_fault(course: Course) -> None:
    with pytest.raises(OperationError) as told:
        save(course, [*arc(90), *arc(5)])
    assert told.value.at == 1
    with pytest.raises(UserError, match="like that already"):
        save(course, arc(360))
    with pytest.raises(UserError, match="who made it and why"):
        editing.save(course, arc(90), {}, who="Ines", why=" ", now=NOW)
    assert course.file.ground().heads.loc[HEAD, "arc_deg"] == 360.0


def test_any_past_revision_is_taken_back_until_later_work_builds_on_it(course: Course) -> None:
    first = save(course, arc(180)).revision
    other = save(course, arc(90, "H-R200"), who="Tomas").revision
    back = editing.take_back(course, first, who="Tomas", why="no", now=NOW)
    assert course.file.ground().heads.loc[HEAD, "arc_deg"] == 360.0
    assert course.file.ground().heads.loc["H-R200", "arc_deg"] == 90.0
    with pytest.raises(ConflictError, match=f"revision {back.revision} of Tomas changed"):
        editing.take_back(course, first, who="Tomas", why="again", now=NOW)
    with pytest.raises(NotFoundError):
        editing.take_back(course, "999", who="Tomas", why="what", now=NOW)
    undone = editing.take_back(course, other, who="Ines", why="no", now=NOW)
    assert undone.created == {}
    assert course.file.ground().heads.loc["H-R200", "arc_deg"] == 360.0


def test_a_removed_heads_id_is_not_given_to_another(course: Course) -> None:
    place = {"type": "Point", "coordinates": [413_000.0, 4_340_000.0]}
    new = [{"op": "add", "table": "heads", "values": {}, "geometry": place}]
    assert save(course, new).created == {0: ("heads:head-0001",)}
    save(course, [{"op": "remove", "table": "heads", "ids": ["head-0001"]}])
    assert save(course, new).created == {0: ("heads:head-0002",)}
    assert [p.who for p in editing.row_history(course, "heads:head-0001")] == ["Ines", "Ines"]


@pytest.mark.parametrize("subject", ["heads", "nights:1", "heads:", "", ":x"])
def test_history_is_of_rows_of_the_record(course: Course, subject: str) -> None:
    with pytest.raises(UserError, match="no row of the record"):
        editing.row_history(course, subject)


def test_heads_taken_off_a_listing_station_stay_off(course: Course) -> None:
    """The small course's heads have their stations from the list alone."""
    assert course.ground.heads.loc[HEAD, "station"] == "S-F004"
    assert course.kept.heads.loc[HEAD, "station"] is None
    save(course, [{"op": "assign", "ids": [HEAD], "station": None}])
    assert course.reopened().ground.heads.loc[HEAD, "station"] is None
    save(course, [{"op": "assign", "ids": [HEAD, "H-R200"], "station": "S-T"}])
    after = course.reopened()
    assert after.ground.heads.loc[HEAD, "station"] == "S-T"
    assert after.ground.stations.loc["S-T", "heads"].split() == ["H-T0", "H-T1", HEAD, "H-R200"]
    assert after.link_findings == ()
