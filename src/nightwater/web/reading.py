"""The course as pages read it: opened per request, its record kept until the file changes."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from nightwater.desk.course import Course, open_course
from nightwater.store.course_file import CourseFile

Value = TypeVar("Value")
Stamp = tuple[tuple[int, int], ...]


def file_stamp(path: Path) -> Stamp:
    """What changes whenever the file or its write-ahead log changes."""
    stamps = []
    for part in (path, path.with_name(f"{path.name}-wal")):
        try:
            facts = part.stat()
        except OSError:
            stamps.append((0, 0))
            continue
        stamps.append((facts.st_mtime_ns, facts.st_size) if facts.st_size else (0, 0))
    return tuple(stamps)


class CourseReader:
    """Opens one course file again and again without reading its record every time."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._lock = threading.Lock()
        self._stamp: Stamp | None = None
        self._kept: Course | None = None
        self._remembered: dict[str, Any] = {}

    @contextmanager
    def open(self) -> Iterator[Course]:
        """The course as it is now, with a file of its own for this request.

        Raises:
            UserError: the file is gone or not a course file.
        """
        kept = self._current()
        course = (
            open_course(self.path)
            if kept is None
            else replace(kept, file=CourseFile.open(self.path))
        )
        with course:
            if kept is None:
                self._keep(course)
            yield course

    def _current(self) -> Course | None:
        with self._lock:
            return self._kept if self._stamp == file_stamp(self.path) else None

    def _keep(self, course: Course) -> None:
        with self._lock:
            self._stamp, self._kept, self._remembered = file_stamp(self.path), course, {}

    def knows(self, key: str) -> bool:
        """Whether `remembered` would answer at once."""
        with self._lock:
            return self._stamp == file_stamp(self.path) and key in self._remembered

    def remembered(self, key: str, make: Callable[[], Value]) -> Value:
        """A value that depends on the course file alone; made anew once the file changes."""
        with self._lock:
            fresh = self._stamp == file_stamp(self.path)
            if fresh and key in self._remembered:
                value: Value = self._remembered[key]
                return value
        value = make()
        if fresh:
            with self._lock:
                self._remembered[key] = value
        return value
