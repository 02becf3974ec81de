"""Accepted changes: whole, kept, refused when stale, taken back."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime, timedelta, timezone

import pandas as pd
import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiLineString, Point

from nightwater.findings import ConflictError, NotFoundError, UserError
from nightwater.ground.changes import Changes, RowChange
from nightwater.store.course_file import CourseFile
from nightwater.store.revisions import change_set_from, change_set_text

BuildHeads = Callable[..., Changes]
Edit = Callable[..., Changes]


def test_a_revision_says_when_who_why_and_what(
    course: CourseFile, new_heads: BuildHeads, now: datetime
) -> None:
    revision = course.accept(new_heads(12), "Pilar Quen", "survey of July", now)
    row = course.revisions().loc[revision]
    assert row["time"] == "2026-07-14T21:00:00Z"
    assert (row["who"], row["why"], row["kind"]) == ("Pilar Quen", "survey of July", "change")
    assert row["summary"] == "heads: 12 added"
    assert pd.isna(row["undoes"])


def test_a_time_in_another_zone_is_kept_in_utc(
    course: CourseFile, new_heads: BuildHeads, now: datetime
) -> None:
    local = now.astimezone(timezone(timedelta(hours=-6)))
    course.accept(new_heads(1), "Pilar", "survey", local)
    assert course.revisions()["time"].tolist() == ["2026-07-14T21:00:00Z"]


def test_a_time_without_zone_is_refused(
    course: CourseFile, new_heads: BuildHeads, now: datetime
) -> None:
    with pytest.raises(UserError, match="zone"):
        course.accept(new_heads(1), "Pilar", "survey", now.replace(tzinfo=None))
    assert course.ground().heads.empty


@pytest.mark.parametrize(("who", "why"), [("", "survey"), ("Pilar", " ")])
def test_nobody_changes_anything_without_a_reason(
    course: CourseFile, new_heads: BuildHeads, now: datetime, who: str, why: str
) -> None:
    with pytest.raises(UserError, match="who made it and why"):
        course.accept(new_heads(1), who, why, now)


def test_what_is_accepted_is_what_is_read(
    course: CourseFile, one_area: Changes, now: datetime
) -> None:
    course.accept(one_area, "Pilar", "survey", now)
    area = course.ground().areas.loc["A1"]
    assert area["kind"] == "green"
    assert area["du_lq"] == 0.7
    assert area["hole"] is None
    assert pd.isna(area["slope_pct"])
    assert area["geometry"].area == 5000.0


def test_a_change_touches_only_its_columns(
    course: CourseFile, one_area: Changes, edit: Edit, now: datetime
) -> None:
    course.accept(one_area, "Pilar", "survey", now)
    course.accept(edit("areas", "A1", soil="sand"), "Ines", "cores", now)
    area = course.ground().areas.loc["A1"]
    assert (area["soil"], area["kind"], area["du_lq"]) == ("sand", "green", 0.7)


def test_columns_a_change_does_not_name_keep_their_values(
    course: CourseFile, one_area: Changes, edit: Edit, now: datetime
) -> None:
    course.accept(one_area, "Pilar", "survey", now)
    before = edit("areas", "A1").rows[0].before
    course.accept(
        Changes((RowChange("areas", "A1", before, {"soil": "sand"}),)), "Ines", "cores", now
    )
    area = course.ground().areas.loc["A1"]
    assert (area["soil"], area["kind"], area["geometry"].area) == ("sand", "green", 5000.0)


def test_removal_and_change_in_one_revision(
    course: CourseFile, new_heads: BuildHeads, edit: Edit, now: datetime
) -> None:
    course.accept(new_heads(3), "Pilar", "survey", now)
    gone = RowChange("heads", "H0000", edit("heads", "H0000").rows[0].before, None)
    turned = edit("heads", "H0001", arc_deg=180.0).rows[0]
    revision = course.accept(Changes((gone, turned)), "Pilar", "walk", now)
    assert course.ground().heads.index.tolist() == ["H0001", "H0002"]
    assert course.revisions().loc[revision, "summary"] == "heads: 1 changed, 1 removed"
    course.undo(revision, "Pilar", "wrong", now)
    heads = course.ground().heads
    assert sorted(heads.index) == ["H0000", "H0001", "H0002"]
    assert heads["arc_deg"].tolist() == [360.0] * 3


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"arc_deg": 4.0}, "between 10 and 360"),
        ({"arc_deg": float("inf")}, "finite"),
        ({"condition": "rusty"}, "none of good"),
        ({"colour": "red"}, "colour is no column"),
        ({"geometry": LineString([(0, 0), (1, 1)])}, "not a Point"),
        ({"geometry": Point()}, "empty"),
        ({"arc_deg": "wide"}, "could not convert"),
    ],
)
def test_a_row_that_may_not_stand_is_refused_and_nothing_is_saved(
    course: CourseFile,
    new_heads: BuildHeads,
    now: datetime,
    values: dict[str, object],
    words: str,
) -> None:
    good = new_heads(5)
    bad = RowChange("heads", "BAD", None, {"geometry": Point(413_000, 4_340_000), **values})
    with pytest.raises(UserError, match=words) as refusal:
        course.accept(Changes((*good.rows, bad)), "Pilar", "survey", now)
    assert "heads:BAD" in str(refusal.value)
    assert course.ground().heads.empty
    assert course.revisions().empty


def test_a_missing_required_column_is_refused(course: CourseFile, now: datetime) -> None:
    with pytest.raises(UserError, match=r"diameter_mm is missing"):
        course.accept(Changes((RowChange("pipes", "P1", None, {}),)), "Pilar", "survey", now)


def test_nothing_twice_or_unknown_is_accepted(
    course: CourseFile, new_heads: BuildHeads, now: datetime
) -> None:
    with pytest.raises(UserError, match="nothing to change"):
        course.accept(Changes(()), "Pilar", "survey", now)
    row = new_heads(1).rows[0]
    with pytest.raises(UserError, match="twice"):
        course.accept(Changes((row, row)), "Pilar", "survey", now)
    with pytest.raises(UserError, match="no table of the ground"):
        course.accept(Changes((RowChange("nights", "x", None, {}),)), "Pilar", "survey", now)
    with pytest.raises(UserError, match="no id"):
        course.accept(Changes((RowChange("heads", " ", None, {}),)), "Pilar", "survey", now)


def test_changes_made_on_an_older_record_are_refused(
    course: CourseFile, new_heads: BuildHeads, edit: Edit, now: datetime
) -> None:
    course.accept(new_heads(2), "Pilar", "survey", now)
    mine, theirs = edit("heads", "H0001", arc_deg=90.0), edit("heads", "H0001", arc_deg=180.0)
    course.accept(theirs, "Quill", "turned it", now)
    with pytest.raises(ConflictError, match=r"heads:H0001 changed meanwhile.*2 of Quill"):
        course.accept(mine, "Ines", "turned it", now)
    assert course.ground().heads["arc_deg"].tolist() == [360.0, 180.0]
    assert len(course.revisions()) == 2


def test_adding_what_is_there_and_changing_what_is_gone_conflict(
    course: CourseFile, new_heads: BuildHeads, edit: Edit, now: datetime
) -> None:
    revision = course.accept(new_heads(1), "Pilar", "survey", now)
    with pytest.raises(ConflictError, match="heads:H0000"):
        course.accept(new_heads(1), "Quill", "survey", now)
    late = edit("heads", "H0000", arc_deg=90.0)
    course.undo(revision, "Pilar", "wrong", now)
    with pytest.raises(ConflictError, match="heads:H0000"):
        course.accept(late, "Quill", "turned", now)


def test_undo_is_a_revision_and_can_itself_be_undone(
    course: CourseFile, new_heads: BuildHeads, now: datetime
) -> None:
    first = course.accept(new_heads(3), "Pilar", "survey", now)
    whole = course.ground().heads
    undone = course.undo(first, "Ines", "wrong file", now)
    assert course.ground().heads.empty
    assert course.revisions().loc[undone, ["kind", "undoes"]].tolist() == ["undo", first]
    assert course.revisions().loc[undone, "summary"] == (
        f"undo of revision {first} (heads: 3 removed)"
    )
    course.undo(undone, "Ines", "it was right", now)
    pd.testing.assert_frame_equal(
        pd.DataFrame(course.ground().heads.sort_index()), pd.DataFrame(whole)
    )
    course.undo(first, "Ines", "no, wrong", now)
    assert course.ground().heads.empty


def test_undo_is_refused_where_later_work_builds_on_it(
    course: CourseFile, new_heads: BuildHeads, edit: Edit, now: datetime
) -> None:
    first = course.accept(new_heads(2), "Pilar", "survey", now)
    later = course.accept(edit("heads", "H0001", arc_deg=90.0), "Quill", "turned", now)
    with pytest.raises(ConflictError) as refusal:
        course.undo(first, "Ines", "wrong file", now)
    assert f"revision {later} of Quill changed heads:H0001" in str(refusal.value)
    assert len(course.ground().heads) == 2
    course.undo(later, "Ines", "first", now)
    course.undo(first, "Ines", "wrong file", now)
    assert course.ground().heads.empty


def test_undo_twice_names_the_first_undo(
    course: CourseFile, new_heads: BuildHeads, now: datetime
) -> None:
    first = course.accept(new_heads(1), "Pilar", "survey", now)
    undone = course.undo(first, "Ines", "wrong", now)
    with pytest.raises(ConflictError, match=f"revision {undone} of Ines"):
        course.undo(first, "Quill", "wrong", now)


def test_undo_after_another_program_changed_the_row(
    course: CourseFile, new_heads: BuildHeads, now: datetime
) -> None:
    first = course.accept(new_heads(1), "Pilar", "survey", now)
    with closing(sqlite3.connect(course.path)) as connection:
        connection.execute("UPDATE heads SET arc_deg = 45")
        connection.commit()
    with pytest.raises(ConflictError, match="another program"):
        course.undo(first, "Ines", "wrong", now)


@pytest.mark.parametrize(
    "name", ["7", "0", "-1", "1.0", "٣", "9" * 30, "x", "", "1; DROP TABLE heads"]
)
def test_an_unknown_revision_is_not_found(course: CourseFile, now: datetime, name: str) -> None:
    with pytest.raises(NotFoundError, match="no revision"):
        course.undo(name, "Ines", "wrong", now)


def test_history_cannot_be_rewritten(
    course: CourseFile, new_heads: BuildHeads, now: datetime
) -> None:
    course.accept(new_heads(1), "Pilar", "survey", now)
    with closing(sqlite3.connect(course.path)) as connection:
        for deed in ("UPDATE revisions SET who = 'nobody'", "DELETE FROM revisions"):
            with pytest.raises(sqlite3.IntegrityError, match="history is not changed"):
                connection.execute(deed)


def test_the_whole_record_of_any_day_can_be_rebuilt(
    course: CourseFile, new_heads: BuildHeads, one_area: Changes, edit: Edit, now: datetime
) -> None:
    states = [course.ground()]
    for build in (
        lambda: new_heads(4),
        lambda: one_area,
        lambda: edit("heads", "H0002", arc_deg=180.0, label="by the pond"),
        lambda: edit("areas", "A1", kind="tee"),
    ):
        course.accept(build(), "Pilar", "round", now)
        states.append(course.ground())
    for revision, expected in zip(("4", "3", "2", "1"), reversed(states[:-1]), strict=True):
        course.undo(revision, "Ines", "back", now)
        ground = course.ground()
        for name in ("heads", "areas"):
            pd.testing.assert_frame_equal(
                pd.DataFrame(ground.table(name)), pd.DataFrame(expected.table(name))
            )


def test_the_record_after_any_revision_is_read_without_changing_anything(
    course: CourseFile, new_heads: BuildHeads, one_area: Changes, edit: Edit, now: datetime
) -> None:
    states = [course.ground()]
    for build in (
        lambda: new_heads(4),
        lambda: one_area,
        lambda: edit("heads", "H0002", arc_deg=180.0),
        lambda: Changes(
            (RowChange("heads", "H0001", edit("heads", "H0001").rows[0].before, None),)
        ),
    ):
        course.accept(build(), "Pilar", "round", now)
        states.append(course.ground())
    for revision, expected in enumerate(states):
        then = course.ground_after(str(revision))
        for name in ("heads", "areas"):
            pd.testing.assert_frame_equal(
                pd.DataFrame(then.table(name).sort_index()),
                pd.DataFrame(expected.table(name).sort_index()),
            )
    assert len(course.revisions()) == 4
    with pytest.raises(NotFoundError, match="no revision '9'"):
        course.ground_after("9")


def test_settings_do_not_disturb_the_record_of_another_day(
    course: CourseFile, new_heads: BuildHeads, now: datetime
) -> None:
    from dataclasses import replace

    course.accept(new_heads(2), "Pilar", "survey", now)
    course.save_settings(replace(course.settings(), first_tee="06:00"), "Ines", "early", now)
    assert len(course.ground_after("1").heads) == 2
    assert course.ground_after("0").heads.empty


numbers = st.floats(-1e7, 1e7, allow_nan=False)
cells = st.one_of(st.none(), st.text(max_size=12), numbers, st.integers(-99, 99), st.booleans())
lines = st.lists(st.tuples(numbers, numbers), min_size=2, max_size=5).map(
    lambda points: MultiLineString([points])
)
rows = st.one_of(
    st.none(),
    st.fixed_dictionaries({"label": cells, "geometry": st.one_of(st.none(), lines)}),
)


@given(before=rows, after=rows, identity=st.text(min_size=1, max_size=8))
def test_a_change_set_survives_its_text(before: object, after: object, identity: str) -> None:
    changes = Changes((RowChange("pipes", identity, before, after),))  # type: ignore[arg-type]
    assert change_set_from(change_set_text(changes)).rows == changes.rows


heads = st.fixed_dictionaries(
    {
        "label": st.one_of(st.none(), st.text(min_size=1, max_size=9)),
        "arc_deg": st.one_of(st.none(), st.floats(10, 360)),
        "elevation_m": st.one_of(st.none(), st.floats(-450, 6000)),
        "geometry": st.one_of(st.none(), st.builds(Point, numbers, numbers)),
    }
)
ids = st.text(min_size=1, max_size=6).filter(lambda text: text.strip() != "")


@hypothesis_settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(wanted=st.dictionaries(ids, heads, min_size=1, max_size=6))
def test_any_sound_rows_come_back_as_they_went_in(
    course: CourseFile, wanted: dict[str, dict[str, object]]
) -> None:
    changes = Changes(tuple(RowChange("heads", key, None, row) for key, row in wanted.items()))
    when = datetime(2026, 7, 14, tzinfo=UTC)
    revision = course.accept(changes, "Pilar", "survey", when)
    try:
        found = course.ground().heads
        assert found.index.tolist() == list(wanted)
        for key, row in wanted.items():
            for name, value in row.items():
                cell = found.loc[key, name]
                assert cell == value or (value is None and pd.isna(cell))
    finally:
        course.undo(revision, "Pilar", "next example", when)
    assert course.ground().heads.empty
