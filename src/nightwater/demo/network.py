"""Pipes, pumps, source, meter, gauges and fittings of the invented club."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from typing import Any, Final

import geopandas as gpd
import numpy as np
import pandas as pd
from shapely.geometry import LineString, Point

from nightwater.demo.area_table import wetted_acres
from nightwater.demo.classes import TURF
from nightwater.demo.laterals import Lateral, grow_laterals
from nightwater.demo.layout import HeadSpot
from nightwater.demo.mains import BORE_IN, PUMP_APART_M, PUMP_HOUSE, Main, mains
from nightwater.demo.place import Metres
from nightwater.demo.routing import LINES
from nightwater.units import L_PER_GALLON, M2_PER_ACRE

JULY_ETC_MM: Final = 0.95 * 6.65  # average July day, before the area factor
ISOLATION: Final = 46
DRAINS: Final = 9
AIR_VALVES: Final = 14
QUICK_COUPLERS: Final = 71
REDUCERS: Final = 3
PUMPS: Final = 3
PUMP_GPM: Final = 600.0
SET_PSI: Final = 120.0
HEAD_FT: Final = 292.0
PUMP_EFFICIENCY: Final = 0.78
MOTOR_EFFICIENCY: Final = 0.925
RAMP_L_S_MIN: Final = 450.0 * L_PER_GALLON / 60.0 / PUMPS  # the station: 150 gpm per 20 s
ALLOCATION_ACRE_FT: Final = 285.0
USED_BEFORE_ACRE_FT: Final = 150.7  # April, May, June and eight days of July at the normal need
CANAL_DOLLARS_PER_M3: Final = 0.0778  # $96 an acre-foot
ZONE_SHARE: Final = 1.6  # 57 gpm of a 2 in lateral over 36 gpm of a zone
_KIND_OF_LETTER: Final = {turf.letter: kind for kind, turf in TURF.items()}


def july_night_m3(heads: list[HeadSpot]) -> Metres:
    """Water of each head on an average rainless July night [m³], shape (heads,)."""
    found = []
    for spot in heads:
        turf = TURF[_KIND_OF_LETTER[spot.letter]]
        gross_mm = JULY_ETC_MM * turf.factor / turf.efficiency
        acres = sum(wetted_acres([spot]).values())
        found.append(gross_mm * acres * M2_PER_ACRE / 1000.0)
    return np.array(found)


def _lateral_load_m3(heads: list[HeadSpot]) -> Metres:
    """What each head takes of a lateral; a zone valve leaves no room for another beside it."""
    alone = np.array([ZONE_SHARE if spot.letter == "Z" else 1.0 for spot in heads])
    return np.asarray(july_night_m3(heads) * alone)


def _pipe(kind: str, inches: int, label: str, points: Any) -> dict[str, Any]:
    renewed = 2008 if kind in ("header", "main", "loop") else 2017 if inches > 2 else 1991
    return {
        "label": label,
        "kind": kind,
        "bore_in": BORE_IN[inches],
        "material": "PVC SDR-21",
        "hazen_williams_c": 150 if renewed > 2000 else 145,
        "installed_year": renewed,
        "evidence": "drawing",
        "geometry": LineString(points),
    }


def _main_rows(stretches: tuple[Main, ...]) -> Iterator[dict[str, Any]]:
    for number, main in enumerate(stretches, 1):
        yield _pipe(main.kind, main.inches, f"M-{number:02d} {main.inches} in", main.points)


def _lateral_rows(laterals: list[Lateral], heads: list[HeadSpot]) -> Iterator[dict[str, Any]]:
    count: Counter[str] = Counter()
    for lateral in laterals:
        hole = Counter(heads[row].hole for row in lateral.heads).most_common(1)[0][0]
        count[hole] += 1
        for number, run in enumerate(lateral.runs):
            branch = "" if number == 0 else f".{number}"
            yield _pipe("lateral", 2, f"L-{hole}-{count[hole]:02d}{branch}", run)


def pipe_table(heads: list[HeadSpot]) -> gpd.GeoDataFrame:
    """Every pipe, from the header to the last lateral; geometry in metres of the drawing."""
    stretches = mains()
    spots = np.array([(spot.x, spot.y) for spot in heads])
    laterals = grow_laterals([main.points for main in stretches], spots, _lateral_load_m3(heads))
    rows = [*_main_rows(stretches), *_lateral_rows(laterals, heads)]
    frame = pd.DataFrame(rows)
    frame.insert(0, "id", [f"P{number:04d}" for number in range(1, len(frame) + 1)])
    return gpd.GeoDataFrame(frame, geometry="geometry")


def _along(
    stretches: list[Main], count: int, kinds: tuple[str, ...], shares: tuple[float, ...]
) -> list[Point]:
    """Places on the pipes of some kinds: at the first share of each, then at the next."""
    lines = [LineString(main.points) for main in stretches if main.kind in kinds]
    spots = [line.interpolate(share, normalized=True) for share in shares for line in lines]
    return spots[:count]


def _couplers() -> list[Point]:
    """Two at each hole's green, one at its back tee, one on the fairway of a long hole."""
    found = []
    for line in LINES:
        places = [(line.length_m, -13.0), (line.length_m, 13.0), (-6.0, 0.0), (14.0, 11.0)]
        if line.par > 3:
            places.append((line.length_m / 2, 0.0))
        found += [Point(line.at(along, right)[0]) for along, right in places]
    return found[:QUICK_COUPLERS]


def valve_table() -> gpd.GeoDataFrame:
    """Valves and quick couplers; geometry in metres of the drawing."""
    stretches = list(mains())
    layers = (
        ("isolation", "V", _along(stretches, ISOLATION, ("main", "loop", "spur"), (0.03, 0.5))),
        ("drain", "D", _along(stretches[::-1], DRAINS, ("spur",), (0.97,))),
        ("air", "AV", _along(stretches, AIR_VALVES, ("main", "loop"), (0.75, 0.25))),
        ("pressure_reducing", "PR", _along(stretches[::-1], REDUCERS, ("spur",), (0.15,))),
        ("quick_coupler", "Q", _couplers()),
    )
    rows = [
        {
            "id": f"{prefix}-{number:02d}",
            "label": f"{prefix}-{number:02d}",
            "kind": kind,
            "setting_psi": 95.0 if kind == "pressure_reducing" else None,
            "open": kind not in ("drain", "quick_coupler"),
            "evidence": "surveyed",
            "geometry": spot,
        }
        for kind, prefix, spots in layers
        for number, spot in enumerate(spots, 1)
    ]
    return gpd.GeoDataFrame(rows, geometry="geometry")


def pump_table() -> gpd.GeoDataFrame:
    """Three pumps of 60 hp; the 15 hp jockey only keeps the pressure and is not listed."""
    x, y = PUMP_HOUSE
    rows = [
        {
            "id": f"pump-{number}",
            "label": f"Pump {number} (60 hp)",
            "capacity_gpm": PUMP_GPM,
            "set_pressure_psi": SET_PSI,
            "head_ft": HEAD_FT,
            "pump_efficiency": PUMP_EFFICIENCY,
            "motor_efficiency": MOTOR_EFFICIENCY,
            "ramp_l_s_min": round(RAMP_L_S_MIN, 3),
            "evidence": "surveyed",
            "geometry": Point(x + PUMP_APART_M * (number - 2), y),
        }
        for number in range(1, PUMPS + 1)
    ]
    return gpd.GeoDataFrame(rows, geometry="geometry")


def source_table() -> gpd.GeoDataFrame:
    """The canal that fills Heron Pond."""
    row = {
        "id": "canal",
        "label": "Lower Tessick canal, through Heron Pond",
        "kind": "canal",
        "allocation_acre_ft": ALLOCATION_ACRE_FT,
        "period_start": "2025-04-15",
        "period_end": "2025-10-15",
        "used_before_acre_ft": USED_BEFORE_ACRE_FT,
        "price_per_m3": CANAL_DOLLARS_PER_M3,
        "evidence": "surveyed",
        "geometry": Point(4.0, 500.0),
    }
    return gpd.GeoDataFrame([row], geometry="geometry")


def meter_table() -> gpd.GeoDataFrame:
    """The flow meter on the header."""
    row = {
        "id": "header-meter",
        "label": "Header meter",
        "source": "canal",
        "serial": "INVENTED-0001",
        "calibrated_on": "2025-04-08",
        "evidence": "surveyed",
        "geometry": Point(PUMP_HOUSE),
    }
    return gpd.GeoDataFrame([row], geometry="geometry")


def gauge_table() -> gpd.GeoDataFrame:
    """The weather station and two rain gauges."""
    places = (
        ("weather-station", "Weather station", "weather", 6.5617, None, (30.0, 250.0)),
        ("rain-front", "Rain gauge front nine", "rain", None, "1 2 3 4 5 6 7 8 9", (-420.0, 330.0)),
        (
            "rain-back",
            "Rain gauge back nine",
            "rain",
            None,
            "10 11 12 13 14 15 16 17 18",
            (430.0, 330.0),
        ),
    )
    rows = [
        {
            "id": key,
            "label": label,
            "kind": kind,
            "wind_height_ft": height,
            "holes": holes,
            "evidence": "surveyed",
            "geometry": Point(spot),
        }
        for key, label, kind, height, holes, spot in places
    ]
    return gpd.GeoDataFrame(rows, geometry="geometry")
