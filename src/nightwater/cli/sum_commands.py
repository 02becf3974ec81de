"""sum: how a station's minutes come about, and what the classical rules would give."""

from __future__ import annotations

import math
from typing import Annotated, Any, Final

import typer

from nightwater.cli.options import CourseArgument, NightOption, UnitsOption
from nightwater.cli.printing import Format, FormatOption, print_json, print_read, say
from nightwater.desk.course import night_date, open_course
from nightwater.desk.exceptions import known_subject
from nightwater.desk.nights import required_night
from nightwater.desk.station_words import station_sentence
from nightwater.desk.three_ways import Compared, rules_beside
from nightwater.findings import NotFoundError
from nightwater.night.explaining import explained_night

WAY_COLUMNS: Final[tuple[str, ...]] = ("made", "run_min", "depth_mm", "same_min")
TOTAL_COLUMNS: Final[tuple[str, ...]] = (
    "made", "water_m3", "lacking_m3", "same_lack_m3", "scale", "own_share",
)  # fmt: skip


def _finite(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _of_station(found: Compared, station: str) -> list[dict[str, Any]]:
    if found.ways is None or station not in found.ways.need_mm.index:
        return []
    rows = []
    for name, way in found.ways.ways.items():
        values = way.stations.loc[[station]].iloc[0].astype(float)
        numbers = {column: _finite(float(values[column])) for column in WAY_COLUMNS[1:]}
        rows.append({"made": name, **numbers})
    return rows


def _of_course(found: Compared) -> list[dict[str, Any]]:
    if found.ways is None:
        return []
    return [
        {
            "made": name,
            "water_m3": _finite(way.water_m3),
            "lacking_m3": way.lacking_m3,
            "same_lack_m3": _finite(way.same_lack_m3),
            "scale": _finite(way.scale),
            "own_share": way.own_share,
        }
        for name, way in found.ways.ways.items()
    ]


def _explain(found: Compared, station: str | None, rows: list[dict[str, Any]]) -> None:
    """What the numbers mean, or why there are none."""
    if found.ways is None:
        say(found.why_none)
    elif not rows:
        say("Its minutes do not follow the map, so the rules are not set beside them.")
    else:
        what = "same_min are" if station else "the water is that of"
        say(
            f"Tonight {found.ways.share:.1%} of the ground in reach gets its whole need; {what} "
            "all minutes of a rule lengthened alike (times scale) until it serves as much"
            f"{'.' if station else '; same_lack is its water when it lacks no more than tonight.'}"
        )


def sum_(
    course: CourseArgument,
    night: NightOption,
    station: Annotated[
        str | None,
        typer.Option("--station", help="Id or label; without it the whole course's water."),
    ] = None,
    units: UnitsOption = None,
    form: FormatOption = Format.TABLE,
) -> None:
    """How a station's minutes come about, beside those of two classical rules.

    same_min, and the water of the whole course, are at the share of ground that tonight serves.
    """
    with open_course(course) as opened:
        stored, usual = required_night(opened, night_date(night)), opened.settings.site.units
        found, zone, told = rules_beside(opened, stored), opened.settings.site.timezone, ""
        if station is None:
            rows, columns, title = _of_course(found), TOTAL_COLUMNS, f"The night of {night}"
        else:
            name = known_subject(opened, f"stations:{station}").partition(":")[2]
            parts = explained_night(stored.plan, {name})
            if name not in parts:
                raise NotFoundError(f"The plan of {night} has no station '{station}'.")
            told = station_sentence(parts[name], units or usual, zone)
            rows, columns, title = _of_station(found, name), WAY_COLUMNS, f"Station {station}"
    if form is Format.JSON:
        print_json({"station": station, "sentence": told, "ways": rows})
    else:
        if told:
            typer.echo(f"Station {station}: {told}", err=form is Format.CSV)
        print_read(rows, columns, form, title, units=units, usual=usual)
    _explain(found, station, rows)


def add_to(app: typer.Typer) -> None:
    """Register this module's commands."""
    app.command("sum")(sum_)
