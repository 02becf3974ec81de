"""A course of full size goes in, comes out and is taken back whole."""

from __future__ import annotations

from datetime import datetime

from shapely.geometry import MultiLineString, Point

from nightwater.ground.changes import Changes, RowChange
from nightwater.store.course_file import CourseFile


def whole_course() -> Changes:
    heads = [
        RowChange(
            "heads",
            f"H{n:04d}",
            None,
            {
                "station": f"S{n // 2}",
                "nozzle": "N1",
                "arc_deg": 360.0,
                "spacing_m": 19.8,
                "geometry": Point(413_000 + n % 60 * 20.0, 4_340_000 + n // 60 * 17.0),
            },
        )
        for n in range(1400)
    ]
    pipes = [
        RowChange(
            "pipes",
            f"P{n:04d}",
            None,
            {
                "kind": "lateral",
                "diameter_mm": 54.6,
                "geometry": MultiLineString([[(n, 0), (n, 9), (n + 5, 9)]]),
            },
        )
        for n in range(3000)
    ]
    return Changes((*heads, *pipes))


def test_a_whole_course_is_accepted_read_and_taken_back(course: CourseFile, now: datetime) -> None:
    changes = whole_course()
    revision = course.accept(changes, "Pilar", "survey", now)
    ground = course.ground()
    assert (len(ground.heads), len(ground.pipes)) == (1400, 3000)
    assert ground.heads.loc["H0077", "geometry"] == Point(413_000 + 17 * 20.0, 4_340_000 + 17.0)
    course.undo(revision, "Pilar", "wrong course", now)
    after = course.ground()
    assert (len(after.heads), len(after.pipes)) == (0, 0)
