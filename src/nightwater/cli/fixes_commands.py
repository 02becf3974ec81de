"""fixes: what each repair would save, and the dry spots with their causes."""

from __future__ import annotations

import math
from typing import Annotated, Any

import typer

from nightwater.cli.options import CourseArgument
from nightwater.cli.printing import Format, FormatOption, print_rows, say
from nightwater.desk.course import Course, night_date, open_course
from nightwater.desk.dry_spots import DrySpots, dry_spots
from nightwater.desk.fixing import Fix, fix_list
from nightwater.desk.nights import StoredNight, latest_night, required_night
from nightwater.desk.tonight_water import tonight_water

FIX_COLUMNS = (
    "cause", "head", "area", "saved_l_night", "saved_m3_season", "hours", "saved_m3_hour",
    "relieved_l", "x_m", "y_m", "evidence",
)  # fmt: skip
SHORT = ("cause", "head", "area", "saved_l_night", "saved_m3_season", "saved_m3_hour")
SHORT_SPOTS = ("spot", "area", "area_m2", "lacking_l", "cause", "share", "heads")
SPOT_COLUMNS = (
    "spot", "area", "area_m2", "lacking_l", "need_mm", "depth_mm", "cause", "share", "heads",
    "x_m", "y_m", "evidence",
)  # fmt: skip


def _night(course: Course, night: str | None) -> StoredNight:
    return latest_night(course) if night is None else required_night(course, night_date(night))


def _fix_row(fix: Fix, area: str) -> dict[str, Any]:
    return {
        "cause": fix.cause,
        "head": fix.label,
        "area": area,
        "saved_l_night": round(fix.saved_l_night, 1),
        "saved_m3_season": round(fix.saved_m3_season, 2),
        "hours": fix.hours,
        "saved_m3_hour": round(fix.saved_m3_hour, 2),
        "relieved_l": round(fix.relieved_l, 1),
        "x_m": round(fix.place_m[0], 1),
        "y_m": round(fix.place_m[1], 1),
        "evidence": str(fix.evidence),
    }


def spot_rows(course: Course, found: DrySpots) -> list[dict[str, Any]]:
    """One row for each cause of each spot, ranked; a spot without a known cause has one too."""
    labels = course.ground.heads["label"].fillna("").to_dict()
    rows = []
    for place, causes in enumerate(found.causes):
        spot = found.dry.table.iloc[place]
        common = {
            "spot": place + 1,
            "area": spot["area"],
            **{name: round(float(spot[name]), 1) for name in ("area_m2", "lacking_l")},
            **{name: round(float(spot[name]), 2) for name in ("need_mm", "depth_mm")},
            **{name: round(float(spot[name]), 1) for name in ("x_m", "y_m")},
        }
        if not causes:
            rows.append(common | {"cause": "", "share": math.nan, "heads": [], "evidence": ""})
        rows += [
            common
            | {
                "cause": cause.code,
                "share": round(cause.score, 3),
                "heads": [labels.get(head) or head for head in cause.heads],
                "evidence": "; ".join(str(one) for one in cause.evidence),
            }
            for cause in causes
        ]
    return rows


def fixes(
    course: CourseArgument,
    night: Annotated[
        str | None,
        typer.Option("--night", help="Evening's date, YYYY-MM-DD; else the latest night planned."),
    ] = None,
    spots: Annotated[
        bool, typer.Option("--spots", help="The dry spots with their causes instead.")
    ] = False,
    form: FormatOption = Format.TABLE,
) -> None:
    """Rank repairs by the water they would save, or tell why spots are dry."""
    with open_course(course) as opened:
        stored = _night(opened, night)
        tonight = tonight_water(opened, stored, progress=say)
        rules, readings = opened.settings.fixes, opened.table("readings")
        found = dry_spots(tonight, rules, readings, progress=say)
        if spots:
            title = f"Dry spots of {stored.plan.night}"
            of_spots = SHORT_SPOTS if form is Format.TABLE else SPOT_COLUMNS
            print_rows(spot_rows(opened, found), of_spots, form, title)
            return
        listed = fix_list(opened, tonight, found, progress=say)
        rows = [_fix_row(fix, fix.area) for fix in listed.fixes]
        columns = SHORT if form is Format.TABLE else FIX_COLUMNS
        print_rows(rows, columns, form, f"What repairs would save, {stored.plan.night}")
        if listed.left_out:
            say(f"{listed.left_out} more heads want repair and bring dry turf less water.")


def add_to(app: typer.Typer) -> None:
    """Register the command."""
    app.command()(fixes)
