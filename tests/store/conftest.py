"""An empty course file and changes to put into it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from shapely.geometry import MultiPolygon, Point, box

from nightwater.ground.changes import Changes, RowChange
from nightwater.ground.settings import Settings, Site
from nightwater.store.course_file import CourseFile

NOW = datetime(2026, 7, 14, 21, tzinfo=UTC)
SITE = Site("Test Links", 39.2, -112.0, 1372.0, "America/Denver", "EPSG:32612")


@pytest.fixture
def now() -> datetime:
    return NOW


@pytest.fixture
def settings() -> Settings:
    return Settings(SITE)


@pytest.fixture
def course_path(tmp_path: Path, settings: Settings) -> Path:
    path = tmp_path / "course.gpkg"
    CourseFile.create(path, settings).close()
    return path


@pytest.fixture
def course(course_path: Path) -> Iterator[CourseFile]:
    with CourseFile.open(course_path) as opened:
        yield opened


@pytest.fixture
def new_heads() -> Callable[..., Changes]:
    """So many new heads in a row, 20 m apart."""

    def build(count: int, prefix: str = "H", y: float = 4_340_000.0) -> Changes:
        return Changes(
            tuple(
                RowChange(
                    "heads",
                    f"{prefix}{number:04d}",
                    None,
                    {"arc_deg": 360.0, "geometry": Point(413_000.0 + 20 * number, y)},
                )
                for number in range(count)
            )
        )

    return build


@pytest.fixture
def one_area() -> Changes:
    shape = MultiPolygon([box(413_000, 4_340_000, 413_100, 4_340_050)])
    values = {"kind": "green", "du_lq": 0.7, "geometry": shape}
    return Changes((RowChange("areas", "A1", None, values),))


@pytest.fixture
def edit(course: CourseFile) -> Callable[..., Changes]:
    """A change of some columns of one row, as the record holds it now."""
    from nightwater.ground.changes import plain_rows
    from nightwater.ground.tables import TABLES

    def build(table: str, identity: str, **values: object) -> Changes:
        rows = plain_rows(course.ground().table(table), TABLES[table])
        before = rows[identity]
        return Changes((RowChange(table, identity, before, {**before, **values}),))

    return build
