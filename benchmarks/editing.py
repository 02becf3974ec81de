"""Editing 2,000 heads: what the page waits for, as ratios to one read of the record.

A person waits for the read when a course is opened anyway; the rest must be small beside it.
"""

from __future__ import annotations

import json
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from shapely.geometry import MultiPolygon, Point, box

from benchmarks._timing import middle_s
from nightwater.desk import editing
from nightwater.desk.checking import check
from nightwater.desk.course import Course, open_course
from nightwater.ground.changes import Changes, RowChange
from nightwater.ground.settings import Settings, Site
from nightwater.spray.spot import heads_at
from nightwater.store.course_file import CourseFile
from nightwater.web.ground.table_rows import found_rows, rows_document

HEADS: Final = 2000
A_ROW: Final = 50
SPACING_M, ROW_M = 19.8, 17.1
EAST_M, NORTH_M = 413_000.0, 4_340_000.0
NOW: Final = datetime(2026, 7, 14, 21, tzinfo=UTC)
SITE: Final = Site("Bench Links", 39.2, -112.0, 1372.0, "America/Denver", "EPSG:32612")


def _heads() -> list[RowChange]:
    rows = []
    for number in range(HEADS):
        row, place = divmod(number, A_ROW)
        point = Point(EAST_M + SPACING_M * place, NORTH_M + ROW_M * row)
        values = {
            "label": f"tag {number}", "station": f"S{number // 2:04d}", "nozzle": "N",
            "arc_deg": 360.0, "spacing_m": SPACING_M, "row_m": ROW_M, "geometry": point,
        }  # fmt: skip
        rows.append(RowChange("heads", f"H{number:04d}", None, values))
    return rows


def built(folder: Path) -> Path:
    """A course of 2,000 heads in rows on one fairway, two a station."""
    path = folder / "bench.gpkg"
    nozzle = {"pressure_kpa": 480.0, "flow_l_s": 1.7, "radius_m": 20.0}
    width, height = SPACING_M * A_ROW, ROW_M * HEADS / A_ROW
    ground = MultiPolygon([box(EAST_M - 10, NORTH_M - 10, EAST_M + width, NORTH_M + height)])
    stations = [
        RowChange("stations", f"S{n:04d}", None, {"label": f"st {n}", "heads_listed": 2})
        for n in range(HEADS // 2)
    ]
    rows = [
        RowChange("nozzles", "N", None, nozzle),
        RowChange("areas", "F", None, {"kind": "fairway", "geometry": ground}),
        *stations,
        *_heads(),
    ]
    CourseFile.create(path, Settings(SITE)).close()
    with CourseFile.open(path) as file:
        file.accept(Changes(tuple(rows)), "Ines", "survey", NOW)
    return path


def _steps(count: int) -> list[dict[str, Any]]:
    ids = [f"H{number:04d}" for number in range(count)]
    return [{"op": "move", "table": "heads", "ids": ids, "dx_m": 0.5, "dy_m": 0.0}]


def _timed(course: Course) -> dict[str, float]:
    known = check(course)
    document = rows_document(course.kept, course.ground, "heads")
    return {
        "rows of the heads": middle_s(
            lambda: json.dumps(rows_document(course.kept, course.ground, "heads"))
        ),
        "find a text in them": middle_s(lambda: found_rows(document["rows"], "tag 1999")),
        "which heads wet a spot": middle_s(
            lambda: heads_at(course.ground, EAST_M + 500, NORTH_M + 300)
        ),
        "preview of one head": middle_s(lambda: editing.preview(course, _steps(1), known)),
        "preview of all heads": middle_s(lambda: editing.preview(course, _steps(HEADS), known)),
        "save of one head": middle_s(
            lambda: editing.save(course, _steps(1), {}, who="I", why="x", now=NOW, known=known)
        ),
        "history of one head": middle_s(lambda: editing.row_history(course, "heads:H0000")),
    }


def main() -> None:
    """Print each deed's time over that of one read of the record."""
    with tempfile.TemporaryDirectory() as folder, open_course(built(Path(folder))) as course:
        read_s = middle_s(course.file.ground)
        print(f"one read of {HEADS} heads and {HEADS // 2} stations: {read_s:.3f} s")
        for deed, seconds in _timed(course).items():
            print(f"{deed:24} / read   {seconds / read_s:5.2f}   ({seconds * 1000:.0f} ms)")


if __name__ == "__main__":
    main()
