"""What the film shows: classes for the map and figures for the gauge, frame by frame."""

from __future__ import annotations

import math
from datetime import date
from typing import Annotated, Any, ClassVar, Final

import altair as alt
import numpy as np
import pandas as pd

from nightwater.desk.filming import Film
from nightwater.desk.pressures import FilmPressures, FramePressure
from nightwater.desk.sheet import clock
from nightwater.night.plan import Night
from nightwater.units import UnitSystem
from nightwater.web.charts import axis_of_night, inline
from nightwater.web.figures import counted, quantity
from nightwater.web.places import Places
from nightwater.web.scale import NO_VALUE, Scale, scale_of
from nightwater.web.state import NONE_IF_EMPTY, PageState
from nightwater.web.tonight.timeline import controllers_of, heads_open

CHART_STEP_MIN: Final = 5


class Query(PageState):
    """The state of the page: which night, and which frame of it."""

    path: ClassVar[str] = "/film"

    night: Annotated[date | None, NONE_IF_EMPTY] = None
    at: int = 0


def depth_scale(film: Film, units: UnitSystem) -> Scale:
    """Classes of the depth at the night's end, the same in every frame."""
    last = film.depth_mm[-1].tolist() if film.areas else []
    return scale_of([float(value) for value in last], "mm", units)


def _class(scale: Scale, value: float) -> str:
    band = scale.band(value)
    return "missing" if band == NO_VALUE else f"band-{band}-of-{len(scale.bands) - 1}"


def frame_name(number: int) -> str:
    """The name by which the map asks for a frame."""
    return f"f{number}"


def film_values(
    film: Film, pressures: FilmPressures, places: Places, units: UnitSystem
) -> dict[str, Any]:
    """The map's document: of each frame the class of every area, and the open stations.

    An open station is "short" where a head of it has less pressure than it should.
    """
    scale = depth_scale(film, units)
    shown = {
        frame_name(number): {
            "areas": {
                area: _class(scale, float(value))
                for area, value in zip(film.areas, film.depth_mm[number], strict=True)
            },
            "stations": dict.fromkeys(frame.open, "open")
            | (dict.fromkeys(pressures.frames[number].short, "short") if pressures.frames else {}),
        }
        for number, frame in enumerate(film.frames)
    }
    total = film.depth_mm[-1] if film.areas else []
    texts = {
        f"areas:{area}": f"{places.area_label.get(area, area)}: "
        f"{quantity(float(value), 'mm', units)} in the whole night"
        for area, value in zip(film.areas, total, strict=True)
    } | {f"stations:{name}": f"Station {label}" for name, label in places.station_label.items()}
    return {"shown": shown, "texts": texts}


def _pressure(
    found: FramePressure | None, head_label: dict[str, str], units: UnitSystem
) -> dict[str, str]:
    """The lowest pressure at an open head, and how many heads lack theirs."""
    if found is None or math.isnan(found.lowest_kpa):
        return {"pressure": "–", "lowest": "", "short": ""}
    few = found.short_heads
    return {
        "pressure": quantity(found.lowest_kpa, "kpa", units),
        "lowest": f"at {head_label.get(found.lowest_head, found.lowest_head)}",
        "short": f"{counted(few, 'head')} too low" if few else "every head has its pressure",
    }


def gauge(
    film: Film, pressures: FilmPressures, places: Places, units: UnitSystem, zone: str
) -> list[dict[str, Any]]:
    """Figures of each frame in the reader's unit, as the gauge shows them."""
    night, made = film.night, []
    for number, frame in enumerate(film.frames):
        limit = night.pump_l_s
        share = frame.flow_l_s / limit if limit and not math.isnan(limit) else 0.0
        found = pressures.frames[number] if pressures.frames else None
        known = film.depth_mm[number][~np.isnan(film.depth_mm[number])]
        made.append(
            {
                "name": frame_name(number),
                "clock": clock(night, frame.minute, zone),
                "flow": quantity(frame.flow_l_s, "l_s", units),
                "share": round(min(1.0, share), 3),
                "heads": frame.heads,
                "stations": len(frame.open),
                "volume": quantity(frame.volume_m3, "m3", units),
                "depth": quantity(float(known.mean()) if len(known) else math.nan, "mm", units),
            }
            | _pressure(found, places.head_label, units)
        )
    return made


def _heat(rows: list[dict[str, Any]], night: Night, zone: str, words: str) -> dict[str, Any]:
    x = axis_of_night(night, zone)
    chart: alt.Chart = (
        alt.Chart(inline(rows))
        .mark_rect()
        .encode(
            x=x,
            x2="until:Q",
            y=alt.Y("name:N", title=None, sort=None),
            color=alt.Color(
                "share:Q",
                scale=alt.Scale(domain=[0, 1], scheme="blues", clamp=True),
                legend=alt.Legend(title=words, format=".0%"),
            ),
            tooltip=[
                alt.Tooltip("name:N", title="which"),
                alt.Tooltip("clock:N"),
                alt.Tooltip("said:N", title="highest"),
            ],
        )
    )
    lines = len({row["name"] for row in rows})
    spec: dict[str, Any] = chart.properties(
        width="container", height=max(130, 22 * lines)
    ).to_dict()
    return spec


def _steps(values: np.ndarray) -> list[tuple[int, int, float]]:
    """Start, end and highest value of each step of the chart."""
    starts = range(0, len(values), CHART_STEP_MIN)
    ends = [min(start + CHART_STEP_MIN, len(values)) for start in starts]
    return [(a, b, float(np.max(values[a:b]))) for a, b in zip(starts, ends, strict=True)]


def paths_chart(
    night: Night, ground: Any, limits: dict[str, int], names: dict[str, str], zone: str
) -> dict[str, Any]:
    """Heads open on each path over what it may hold open, in steps of five minutes."""
    control, rows = controllers_of(ground), []
    for path, most in sorted(limits.items()):
        own = {station for station, name in control.items() if name == path}
        for start, end, heads in _steps(np.asarray(heads_open(night, own), dtype=float)):
            rows.append(
                {
                    "name": names.get(path, path),
                    "minute": start,
                    "until": end,
                    "share": round(heads / most, 3) if most else 0.0,
                    "clock": clock(night, start, zone),
                    "said": f"{heads:.0f} of {most} heads",
                }
            )
    return _heat(rows, night, zone, "of its heads")


def mains_chart(
    loads: pd.DataFrame, night: Night, names: dict[str, str], units: UnitSystem, zone: str
) -> dict[str, Any]:
    """Flow of the fullest pipes over their velocity limit, in steps of five minutes."""
    rows = []
    for pipe, own in loads.groupby("pipe", sort=False):
        limit = float(own["limit_l_s"].iloc[0])
        for start, end, flow in _steps(own["flow_l_s"].to_numpy()):
            rows.append(
                {
                    "name": names.get(str(pipe), str(pipe)),
                    "minute": start,
                    "until": end,
                    "share": round(flow / limit, 3),
                    "clock": clock(night, start, zone),
                    "said": f"{quantity(flow, 'l_s', units)} of {quantity(limit, 'l_s', units)}",
                }
            )
    return _heat(rows, night, zone, "of its limit")
