"""The as-built sheet of a hole: what is in the ground, to pin to the wall."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import date
from importlib.resources import files
from typing import Any, Final

import pandas as pd
import typst
from pyproj import Transformer

from nightwater.desk.as_built_legend import legend
from nightwater.desk.as_built_parts import HoleParts
from nightwater.desk.as_built_scale import Paper, Scale, fitting_scale
from nightwater.desk.course import Course
from nightwater.desk.hole_drawing import Frame, hole_map
from nightwater.desk.map_marks import STAND_OPEN, north_mark
from nightwater.ground.columns import EVIDENCE
from nightwater.ground.linked import Linked
from nightwater.ground.links import station_heads
from nightwater.units import UnitSystem, shown

_MARGIN_MM: Final = 11.0
_HEAD_MM: Final = 19.0  # title above the map
_FOOT_MM: Final = 45.0  # legend and caution below it
_LARGE_MM: Final = 280.0  # a sheet this wide has room for larger labels
NOTHING: Final = "–"


def _word(value: Any) -> str:
    return NOTHING if value is None or pd.isna(value) else str(value).replace("_", " ")


def _degrees(value: Any) -> str:
    return NOTHING if pd.isna(value) else f"{float(value):.0f}°"


def _arc(value: Any) -> str:
    return "full" if not pd.isna(value) and float(value) >= 360 else _degrees(value)


def _named(parts: HoleParts, table: str, identity: Any) -> str:
    return parts.name(table, identity) if isinstance(identity, str) else NOTHING


def head_rows(parts: HoleParts, units: UnitSystem) -> list[list[str]]:
    """Label, station, nozzle, arc, bearing, spacing, elevation, condition of each head."""
    return [
        [
            parts.name("heads", row.Index),
            _named(parts, "stations", row.station),
            _named(parts, "nozzles", row.nozzle),
            _arc(row.arc_deg),
            _degrees(row.bearing_deg),
            shown(row.spacing_m, "m", units),
            shown(row.elevation_m, "m", units),
            _word(row.condition),
        ]
        for row in parts.heads.itertuples()
    ]


def _stands(row: Any) -> str:
    if pd.isna(row.open):
        return NOTHING
    return "open" if row.open else "SHUT" if row.kind in STAND_OPEN else "shut"


def valve_rows(parts: HoleParts, units: UnitSystem) -> list[list[str]]:
    """Label, kind, how it stands, setting, latitude and longitude, evidence of each valve."""
    to_degrees = Transformer.from_crs(parts.ground.crs, "EPSG:4326", always_xy=True)
    rows = []
    for row in parts.valves.itertuples():
        lon, lat = to_degrees.transform(row.geometry.x, row.geometry.y)
        rows.append(
            [
                parts.name("valves", row.Index),
                _word(row.kind),
                _stands(row),
                shown(row.setting_kpa, "kpa", units),
                f"{lat:.6f}, {lon:.6f}",
                _word(row.evidence),
            ]
        )
    return rows


def station_rows(parts: HoleParts, units: UnitSystem) -> list[list[str]]:
    """Label, controller, output, heads, flow by the list, longest run of each station."""
    heads = station_heads(parts.ground)
    return [
        [
            parts.name("stations", key),
            _named(parts, "controllers", row["controller"]),
            _word(row["output"]),
            ", ".join(parts.name("heads", head) for head in heads[str(key)]) or NOTHING,
            shown(row["flow_listed_l_s"], "l_s", units),
            NOTHING if pd.isna(row["max_run_min"]) else f"{row['max_run_min']} min",
        ]
        for key, row in parts.stations.iterrows()
    ]


def _evidence(rows: pd.DataFrame, what: str) -> str | None:
    known = rows["evidence"].fillna("evidence not stated").value_counts()
    order = [word for word in (*EVIDENCE, "evidence not stated") if word in known]
    return f"{what}: {', '.join(f'{known[word]} {word}' for word in order)}" if order else None


def _known_from(parts: HoleParts) -> str:
    pipes = parts.ground.pipes
    near = pipes[pipes.geometry.notna() & pipes.geometry.intersects(parts.zone)]
    tables = ((parts.heads, "Heads"), (near, "Pipes"), (parts.valves, "Valves"))
    return ". ".join(filter(None, (_evidence(rows, what) for rows, what in tables))) + "."


def _revision(course: Course) -> str:
    revisions = course.file.revisions()
    if revisions.empty:
        return "record without a revision"
    return f"record at revision {revisions.index[-1]} of {str(revisions['time'].iloc[-1])[:10]}"


def map_frame(parts: HoleParts, paper: Paper, units: UnitSystem) -> tuple[Frame, bool]:
    """The map's window, standing or lying by what lets the hole be drawn larger."""
    left, bottom, right, top = parts.extent
    short, tall = paper.width_mm - 2 * _MARGIN_MM, paper.height_mm - 2 * _MARGIN_MM
    band = _HEAD_MM + _FOOT_MM
    choices: list[tuple[Scale, float, float, bool]] = []
    for width, height, lying in ((short, tall - band, False), (tall, short - band, True)):
        scale = fitting_scale(right - left, top - bottom, (width, height), units)
        choices.append((scale, width, height, lying))
    scale, width, height, lying = min(choices, key=lambda choice: choice[0].one_to)
    text = 2.1 if paper.width_mm >= _LARGE_MM - 1 else 1.6
    return Frame(parts, scale, width, height, text), lying


def _hole_document(parts: HoleParts, paper: Paper, units: UnitSystem) -> dict[str, Any]:
    frame, lying = map_frame(parts, paper, units)
    drawn = hole_map(frame)
    hole = parts.ground.holes.loc[parts.hole]
    par = "" if pd.isna(hole["par"]) else f"par {hole['par']}"
    shortened = f"Labels of heads leave out “{drawn.prefix}”." if drawn.prefix else ""
    missing = f"No room for: {', '.join(drawn.left_out)}; see the table." if drawn.left_out else ""
    return {
        "title": parts.name("holes", parts.hole),
        "par": par,
        "lying": lying,
        "map": drawn.svg,
        "map_width_mm": frame.width_mm,
        "map_height_mm": frame.height_mm,
        "scale": frame.scale.words,
        "bar_mm": frame.scale.bar_mm,
        "bar_ends": frame.scale.bar_ends,
        "legend": legend(parts, units),
        "notes": " ".join(filter(None, (shortened, missing, _known_from(parts)))),
        "heads": head_rows(parts, units),
        "valves": valve_rows(parts, units),
        "stations": station_rows(parts, units),
    }


def as_built_document(
    course: Course, holes: Sequence[str], paper: Paper, today: date
) -> dict[str, Any]:
    """Everything that is printed, as plain values.

    Args:
        course: the course; its record with heads and station list reconciled.
        holes: ids of holes.
        paper: what it is printed on.
        today: local date of the print.

    Raises:
        UserError: a hole of which nothing has a place.
    """
    linked, site = Linked(course.ground), course.settings.site
    return {
        "club": site.name,
        "invented": site.invented,
        "date": today.isoformat(),
        "revision": _revision(course),
        "paper": paper.name,
        "margin_mm": _MARGIN_MM,
        "north": north_mark(),
        "holes": [_hole_document(HoleParts(linked, hole), paper, site.units) for hole in holes],
    }


def as_built_pdf(course: Course, holes: Sequence[str], paper: Paper, today: date) -> bytes:
    """The sheets of one or more holes as one PDF; see `as_built_document`."""
    template = files("nightwater.desk").joinpath("as_built.typ").read_bytes()
    document = json.dumps(as_built_document(course, holes, paper, today))
    pdf: bytes = typst.compile(template, sys_inputs={"sheet": document})
    return pdf
