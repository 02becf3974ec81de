"""Checks after one head of the invented club is moved: the shorter way over the whole check.

A person who drags a head waits for the preview, and the checks are most of it.
"""

from __future__ import annotations

import tempfile
from collections import Counter
from pathlib import Path
from typing import Any

from benchmarks._timing import middle_s
from benchmarks.editing import NOW
from nightwater.demo.vellenby import SETTINGS, write_survey
from nightwater.desk import editing
from nightwater.desk.checking import check
from nightwater.desk.course import Course, open_course
from nightwater.desk.surveying import accept, survey_file
from nightwater.ground.checks import check_whole
from nightwater.ground.links import resolve_station_lists
from nightwater.ground.number_rules import number_rules_from
from nightwater.ground.rechecking import recheck
from nightwater.store.course_file import CourseFile


def surveyed(folder: Path) -> Course:
    """The invented club from its survey files, opened."""
    path = folder / "club.gpkg"
    survey = write_survey(folder / "survey")
    CourseFile.create(path, SETTINGS).close()
    course = open_course(path)
    for file in survey.files:
        proposal = survey_file(course, file.path, file.table, file.options, complete=False)
        accept(course, proposal, with_doubtful=False, who="Ines", why="survey", now=NOW)
        course = course.reopened()
    return course


def _move(head: str) -> list[dict[str, Any]]:
    return [{"op": "move", "table": "heads", "ids": [head], "dx_m": 3.0, "dy_m": 2.0}]


def _compare(course: Course, head: str) -> None:
    known, rules = check(course), number_rules_from(course.settings.record.numbers)
    moved = editing.preview(course, _move(head), known).ground
    after = resolve_station_lists(moved)[0]
    whole, again = check_whole(after, rules), recheck(course.checked, after, rules)
    assert Counter(again.findings) == Counter(whole.findings)
    whole_s = middle_s(lambda: check_whole(after, rules))
    again_s = middle_s(lambda: recheck(course.checked, after, rules))
    preview_s = middle_s(lambda: editing.preview(course, _move(head), known))
    print(f"{head}: the whole check takes {whole_s * 1000:.0f} ms")
    for deed, seconds in (("check after the move", again_s), ("preview of the move", preview_s)):
        print(f"  {deed:22} / whole check  {seconds / whole_s:5.2f}   ({seconds * 1000:.0f} ms)")


def main() -> None:
    """Print the ratios for the first, a middle and the last head."""
    with tempfile.TemporaryDirectory() as folder, surveyed(Path(folder)) as course:
        ids = [str(identity) for identity in course.kept.heads.index]
        print(f"{len(ids)} heads, {len(course.kept.areas)} areas")
        for head in (ids[0], ids[len(ids) // 2], ids[-1]):
            _compare(course, head)


if __name__ == "__main__":
    main()
