"""How long a whole course takes: bounds with a wide margin, for a slow, shared machine."""

from __future__ import annotations

from datetime import datetime
from time import perf_counter

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


def test_a_whole_course_is_accepted_and_read_while_one_waits(
    course: CourseFile, now: datetime
) -> None:
    changes = whole_course()
    began = perf_counter()
    revision = course.accept(changes, "Pilar", "survey", now)
    accepted_s = perf_counter() - began
    course.ground()
    readings = []
    for _ in range(3):
        began = perf_counter()
        ground = course.ground()
        readings.append(perf_counter() - began)
    assert (len(ground.heads), len(ground.pipes)) == (1400, 3000)
    assert min(readings) < 0.5
    assert accepted_s < 3.0
    began = perf_counter()
    course.undo(revision, "Pilar", "wrong course", now)
    assert perf_counter() - began < 3.0
