"""coverage: where water lands, how evenly, and what a spot gets."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Annotated, Any

import numpy as np
import typer

from nightwater.cli.options import CourseArgument
from nightwater.cli.printing import (
    Format,
    FormatOption,
    frame_rows,
    print_findings,
    print_rows,
    say,
)
from nightwater.desk.course import Course, night_date, open_course
from nightwater.desk.coverage import CoverageMap, MapKind, coverage_map, part_of_map
from nightwater.desk.coverage_figures import (
    WINDOWED,
    CellGroups,
    GroupBy,
    cell_groups,
    coverage_figures,
)
from nightwater.desk.coverage_files import check_ending, map_title, write_map
from nightwater.desk.night_air import STILL, night_air
from nightwater.desk.night_need import night_need
from nightwater.desk.nights import StoredNight, required_night
from nightwater.desk.wetting import CELL_M, Wetting, wetting
from nightwater.findings import NotFoundError, UserError
from nightwater.spray.driest_window import DEFAULT_WINDOW_SHARE
from nightwater.units import UnitSystem

UnitsOption = Annotated[
    UnitSystem | None,
    typer.Option("--units", help="Units of the file's numbers and legend; else the course's."),
]


def _chosen_areas(course: Course, wanted: list[str]) -> list[str]:
    """Ids of areas by id or label.

    Raises:
        NotFoundError: no area is called so.
    """
    areas = course.ground.areas
    labels = areas["label"].fillna("").astype(str).str.casefold()
    chosen = []
    for name in wanted:
        ids = [name] if name in areas.index else list(areas.index[labels == name.casefold()])
        if not ids:
            raise NotFoundError(
                f"There is no area '{name}' in the record. 'export COURSE' writes them all."
            )
        chosen += ids
    return chosen


def _inside(course: Course, wet: Wetting, wanted: list[str]) -> Any:
    """Whether each turf cell lies in one of the areas; all where none is named."""
    groups = cell_groups(course.ground, wet, GroupBy.AREA)
    chosen = _chosen_areas(course, wanted) if wanted else list(groups.ids)
    return groups.only(chosen).of_cell >= 0


def _masked(groups: CellGroups, inside: Any) -> CellGroups:
    return CellGroups(groups.ids, groups.labels, groups.kinds, np.where(inside, groups.of_cell, -1))


def _rows(shown: CoverageMap, groups: CellGroups, by: GroupBy, window: float) -> list[Any]:
    """Rows for people and programs; a window that is dry has no coefficient that a number tells."""
    rows = frame_rows(coverage_figures(shown, groups, by, window))
    for row in rows:
        if math.isinf(row["scheduling_coefficient"]):
            row["scheduling_coefficient"] = math.nan
    return rows


def _columns(kind: MapKind, by: GroupBy) -> tuple[str, ...]:
    mean = "mean_mm_h" if kind is MapKind.RATE else "mean_mm"
    window = ("scheduling_coefficient", "window_m") if by in WINDOWED else ()
    need = () if kind is MapKind.RATE else ("need_mm", "short_share", "short_m3")
    return ("id", "label", "turf_m2", mean, "du_lq", "du_lh", "cu", *window, *need)


def _night(course: Course, kind: MapKind, night: str | None) -> StoredNight | None:
    if kind is MapKind.RATE:
        return None
    if night is None:
        raise UserError(f"The map of {kind} needs a night: add --night YYYY-MM-DD.")
    return required_night(course, night_date(night))


def coverage(
    course: CourseArgument,
    night: Annotated[
        str | None,
        typer.Option("--night", help="Date of the evening on which the night starts, YYYY-MM-DD."),
    ] = None,
    show: Annotated[
        MapKind | None,
        typer.Option("--show", help="What to map; depth where a night is named, else rate."),
    ] = None,
    area: Annotated[
        list[str] | None,
        typer.Option("--area", help="Only this area, by id or label; may be repeated."),
    ] = None,
    by: Annotated[
        GroupBy, typer.Option("--by", help="What the table puts together.")
    ] = GroupBy.AREA,
    window: Annotated[
        float,
        typer.Option("--window", help="Share of the turf of the driest window: 0.01 to 0.10."),
    ] = DEFAULT_WINDOW_SHARE,
    cell: Annotated[
        float, typer.Option("--cell", help="Side of a cell in metres, 0.25 to 2.")
    ] = CELL_M,
    out: Annotated[
        Path | None, typer.Option("--out", help="Write the map: .tif, .tiff or .png.")
    ] = None,
    units: UnitsOption = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """Map where water lands, and tell how evenly."""
    kind = show or (MapKind.RATE if night is None else MapKind.DEPTH)
    if out is not None:
        check_ending(out)
    with open_course(course) as opened:
        stored = _night(opened, kind, night)
        air = STILL if stored is None else night_air(opened, stored.plan.night)
        wet = wetting(opened, cell, progress=say, air=air)
        needs = night_need(opened, stored, wet.grid) if stored is not None else None
        shown = coverage_map(wet, kind, stored, needs.need_mm if needs is not None else None)
        inside = _inside(opened, wet, area or [])
        groups = _masked(cell_groups(opened.ground, wet, by), inside)
        print_rows(_rows(shown, groups, by, window), _columns(kind, by), form, map_title(shown))
        if needs is not None:
            say(needs.words)
        say(wet.pressures.words)
        if form is Format.TABLE:
            print_findings(wet.findings, form)
        if out is not None:
            site = opened.settings.site
            write_map(out, part_of_map(shown, inside), site, units or site.units)
            say(f"Wrote {out}.")


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command()(coverage)
