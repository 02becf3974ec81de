"""The Coverage page's state, and what it computes once for a course file."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import date
from threading import Lock
from typing import Annotated, ClassVar

import pandas as pd
from pydantic import Field

from nightwater.desk.coverage import CoverageMap, MapKind, coverage_map
from nightwater.desk.coverage_figures import GroupBy, cell_groups, coverage_figures
from nightwater.desk.coverage_files import map_png
from nightwater.desk.coverage_scale import MapScale, map_scale
from nightwater.desk.night_air import STILL, NightAir, night_air
from nightwater.desk.night_need import NightNeed, night_need
from nightwater.desk.nights import StoredNight, stored_night
from nightwater.desk.wetting import Wetting, wetting
from nightwater.web.doorway import Visit
from nightwater.web.state import NONE_IF_EMPTY, PageState

_WETTING = "wetting"
_building = Lock()  # page, picture and figures ask at once; the matrix is built by one of them
Metres = Annotated[Annotated[float, Field(allow_inf_nan=False)] | None, NONE_IF_EMPTY]
Name = Annotated[str, Field(max_length=80)]


class Query(PageState):
    """The state of the page, all of it in the address.

    Attributes:
        night: evening's date; None stands for the day on which the pages open.
        show: what the map shows; None for the depth, or the rate where no night is planned.
        area: id of the area whose figures are read.
        head: id or label of a head at whose place the spot is.
        x, y: the spot, in metres of the record's system.
        by, kind: what the table is put together by and filtered by.
        all: whether every row of the table is shown.
        whole: whether to wait for the figures instead of asking for them later.
    """

    path: ClassVar[str] = "/coverage"

    night: Annotated[date | None, NONE_IF_EMPTY] = None
    show: Annotated[MapKind | None, NONE_IF_EMPTY] = None
    area: Name = ""
    head: Name = ""
    x: Metres = None
    y: Metres = None
    by: GroupBy = GroupBy.KIND
    kind: Name = ""
    all: bool = False
    whole: bool = False

    @property
    def spot(self) -> tuple[float, float] | None:
        """Where the reader points, if anywhere."""
        return None if self.x is None or self.y is None else (self.x, self.y)


@dataclass(frozen=True)
class Asked:
    """What is looked at: the night as it is stored, and what of it.

    Attributes:
        query: the page's state, with its night.
        night: the date.
        stored: the latest edition of that night, or None.
        show: what the map shows; the rate where there is no night.
    """

    query: Query
    night: date
    stored: StoredNight | None
    show: MapKind

    @property
    def key(self) -> str:
        """What tells this map from others of the same course file."""
        return f"{self.show} {self.night}"


def asked(visit: Visit, query: Query) -> Asked:
    """The night and the map that a query means."""
    night = query.night or visit.server.today()
    stored = visit.server.courses.remembered(
        f"night {night}", lambda: stored_night(visit.course, night)
    )
    wanted = query.show or MapKind.DEPTH
    show = wanted if stored is not None else MapKind.RATE
    return Asked(query.model_copy(update={"night": night}), night, stored, show)


def is_built(visit: Visit) -> bool:
    """Whether the matrix of this course file is at hand."""
    return visit.server.courses.knows(_WETTING)


def built_wetting(visit: Visit) -> Wetting:
    """The matrix; built once for a course file, whoever asks first."""
    with _building:
        return visit.server.courses.remembered(_WETTING, lambda: wetting(visit.course))


def turf_air(visit: Visit, what: Asked) -> NightAir:
    """The air of the night, as the settings have it; still for the map of rates."""
    stored = what.stored
    if stored is None or what.show is MapKind.RATE:
        return STILL
    night = stored.plan.night
    return visit.server.courses.remembered(f"air {night}", lambda: night_air(visit.course, night))


def turf_wetting(visit: Visit, what: Asked) -> Wetting:
    """Where water lands in the air of the map; the one matrix of all pages in still air."""
    air = turf_air(visit, what)
    if air is STILL:
        return built_wetting(visit)
    with _building:
        return visit.server.courses.remembered(
            f"{_WETTING} {what.night}", lambda: wetting(visit.course, air=air)
        )


def turf_need(visit: Visit, what: Asked) -> NightNeed | None:
    """What each cell needs on the night; None for the map of rates."""
    stored = what.stored
    if stored is None or what.show is MapKind.RATE:
        return None
    grid = built_wetting(visit).grid
    return visit.server.courses.remembered(
        f"need {stored.id}", lambda: night_need(visit.course, stored, grid)
    )


def turf_map(visit: Visit, what: Asked) -> CoverageMap:
    """The map; cheap beside its picture, so it is made anew each time."""
    needs = turf_need(visit, what)
    need_mm = needs.need_mm if needs is not None else None
    return coverage_map(turf_wetting(visit, what), what.show, what.stored, need_mm)


def turf_scale(visit: Visit, what: Asked) -> MapScale:
    """Classes and words of the map in the reader's unit."""
    key = f"scale {what.key} {visit.units}"
    courses = visit.server.courses
    return courses.remembered(key, lambda: map_scale(turf_map(visit, what), visit.units))


def turf_picture(visit: Visit, what: Asked) -> tuple[bytes, str]:
    """The map as PNG and its tag."""

    def drawn() -> tuple[bytes, str]:
        content = map_png(turf_map(visit, what), visit.units)
        return content, f'"{hashlib.sha256(content).hexdigest()[:24]}"'

    return visit.server.courses.remembered(f"picture {what.key} {visit.units}", drawn)


def turf_figures(visit: Visit, what: Asked, by: GroupBy) -> pd.DataFrame:
    """Uniformities of the map; see `desk.coverage_figures`."""

    def computed() -> pd.DataFrame:
        groups = cell_groups(visit.course.ground, built_wetting(visit), by)
        return coverage_figures(turf_map(visit, what), groups, by)

    return visit.server.courses.remembered(f"figures {what.key} {by}", computed)
