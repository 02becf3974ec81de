"""A course file to survey into."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from nightwater.ground.settings import Settings, Site
from nightwater.store.course_file import CourseFile


@pytest.fixture
def write_course(tmp_path: Path) -> Callable[[], Path]:
    def write() -> Path:
        site = Site("Test Links", 39.2, -112.0, 1372.0, "America/Denver", "EPSG:32612")
        path = tmp_path / "course.gpkg"
        CourseFile.create(path, Settings(site)).close()
        return path

    return write
