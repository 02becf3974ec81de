"""The doubts that only the solved network has."""

from __future__ import annotations

from dataclasses import replace

from nightwater.desk.checking import check
from nightwater.desk.course import Course


def codes(course: Course) -> set[str]:
    return {finding.code for finding in check(course)}


def with_rows(course: Course, name: str, **columns: object) -> Course:
    rows = course.ground.table(name).assign(**columns)
    return replace(course, ground=course.ground.with_table(name, rows))


def test_a_sound_network_has_no_doubt_about_its_pressures(course: Course) -> None:
    doubts = {"not-solved", "not-converged", "negative-pressure", "pump-cannot-hold",
              "pressure-below-design", "pressure-from-record"}  # fmt: skip
    assert not doubts & codes(course)


def test_what_the_network_had_to_assume_is_told(course: Course) -> None:
    """The small course states no levels and no curve."""
    assert {"ground-taken-level", "pump-curve-assumed"} <= codes(course)


def test_a_pump_that_cannot_hold_its_pressure_is_named(course: Course) -> None:
    """Its curve ends below the water of one typical minute."""
    pump = course.ground.pumps.index[0]
    found = check(with_rows(course, "pumps", curve="0:78 1:60 2:20"))
    told = [finding for finding in found if finding.code == "pump-cannot-hold"]
    assert [finding.subject for finding in told] == [f"pumps:{pump}"]
    assert "full speed" in told[0].message


def test_heads_short_of_pressure_are_told(course: Course) -> None:
    found = check(with_rows(course, "pumps", set_pressure_kpa=300.0))
    (short,) = [finding for finding in found if finding.code == "pressure-below-design"]
    assert str(course.ground.heads.index[0]) in short.message


def test_a_head_so_high_that_no_water_comes_is_named(course: Course) -> None:
    levels = course.ground.heads["elevation_m"].astype(float).fillna(0.0)
    high = str(course.ground.heads.index[0])
    levels[high] = 200.0
    found = check(with_rows(course, "heads", elevation_m=levels))
    assert any(
        finding.code in {"negative-pressure", "pressure-below-design"}
        and high in finding.message + finding.subject
        for finding in found
    )


def test_pipes_that_cannot_be_solved_leave_pressures_to_the_record(course: Course) -> None:
    bare = with_rows(course, "pumps", set_pressure_kpa=None, head_m=None, curve=None)
    (told,) = [finding for finding in check(bare) if finding.code == "pressure-from-record"]
    assert "the record's" in told.message


def test_a_record_without_pipes_has_no_word_on_pressure(course: Course) -> None:
    bare = replace(course, ground=course.ground.with_table("pipes", course.ground.pipes.iloc[:0]))
    assert "pressure-from-record" not in codes(bare)
