"""Write the invented club as the files that surveyors and a technician would hand over."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import geopandas as gpd
import numpy as np
import pandas as pd
import shapely

from nightwater.demo.area_table import area_table, hole_table
from nightwater.demo.climate import LAST_DAY, weather_table
from nightwater.demo.control import (
    NOZZLES,
    controller_table,
    head_table,
    station_table,
    stations,
)
from nightwater.demo.layout import head_spots
from nightwater.demo.network import (
    gauge_table,
    meter_table,
    pipe_table,
    pump_table,
    source_table,
    valve_table,
)
from nightwater.demo.place import CRS, ORIGIN_M
from nightwater.demo.turf import outlines
from nightwater.survey.read import ReadOptions

INVENTED: Final = (
    "INVENTED. Vellenby Golf Club, its people, ground and weather do not exist.\n"
    "Written by nightwater's demo generator; the same on every run.\n"
)
_DEGREES_KEPT_M: Final = 0.005


@dataclass(frozen=True)
class SurveyFile:
    """A file to survey: where it is, which table it fills, and how to read it."""

    path: Path
    table: str
    options: ReadOptions = field(default_factory=ReadOptions)


@dataclass(frozen=True)
class WeatherFile:
    """A weather file in our own columns, and where its numbers come from."""

    path: Path
    origin: str


@dataclass(frozen=True)
class Survey:
    """Everything the club hands over, in the order in which it should be read."""

    files: list[SurveyFile]
    weather: list[WeatherFile]


# theirs -> (ours, unit)
_Columns = Mapping[str, tuple[str, str]]
_AREA_COLUMNS: Final[_Columns] = {
    "root_depth_in": ("root_depth_mm", "in"),
    "intake_in_h": ("intake_mm_h", "in/h"),
    "surface_storage_in": ("surface_storage_mm", "in"),
    "wetted_acre": ("wetted_m2", "acre"),
}
_HEAD_COLUMNS: Final[_Columns] = {"spacing_ft": ("spacing_m", "ft"), "row_ft": ("row_m", "ft")}
_NOZZLE_COLUMNS: Final[_Columns] = {
    "pressure_psi": ("pressure_kpa", "psi"),
    "flow_gpm": ("flow_l_s", "gpm"),
    "radius_ft": ("radius_m", "ft"),
}
_STATION_COLUMNS: Final[_Columns] = {"flow_gpm": ("flow_listed_l_s", "gpm")}
_PIPE_COLUMNS: Final[_Columns] = {"bore_in": ("diameter_mm", "in")}
_VALVE_COLUMNS: Final[_Columns] = {"setting_psi": ("setting_kpa", "psi")}
_PUMP_COLUMNS: Final[_Columns] = {
    "capacity_gpm": ("capacity_l_s", "gpm"),
    "set_pressure_psi": ("set_pressure_kpa", "psi"),
    "head_ft": ("head_m", "ft"),
}
_SOURCE_COLUMNS: Final[_Columns] = {
    "allocation_acre_ft": ("allocation_m3", "acre-ft"),
    "used_before_acre_ft": ("used_before_m3", "acre-ft"),
}
_GAUGE_COLUMNS: Final[_Columns] = {"wind_height_ft": ("wind_height_m", "ft")}


def _options(columns: _Columns, layer: str | None = None) -> ReadOptions:
    return ReadOptions(
        layer=layer,
        columns={theirs: ours for theirs, (ours, _) in columns.items()},
        units={theirs: unit for theirs, (_, unit) in columns.items()},
    )


def _placed(drawing: gpd.GeoDataFrame) -> gpd.GeoDataFrame:
    """A layer of the drawing moved to its place on the globe, in the projected system."""
    moved = drawing.copy()
    shapes = shapely.transform(np.asarray(drawing.geometry), lambda spots: spots + ORIGIN_M)
    moved.geometry = shapely.set_precision(shapes, 0.0)
    return moved.set_crs(CRS)


def _geojson(drawing: gpd.GeoDataFrame, path: Path) -> Path:
    """WGS 84, as the format wants it, to the centimetre."""
    _placed(drawing).to_crs(4326).to_file(
        path, driver="GeoJSON", engine="pyogrio", COORDINATE_PRECISION=7, WRITE_NAME="NO"
    )
    return path


def _geopackage(layers: Iterable[tuple[str, gpd.GeoDataFrame]], path: Path) -> Path:
    """Layers in the projected system, as the network's drawing has them."""
    path.unlink(missing_ok=True)
    for name, drawing in layers:
        _placed(drawing).to_file(path, layer=name, driver="GPKG", engine="pyogrio")
    return path


def _csv(rows: pd.DataFrame, path: Path, *, index: bool = False) -> Path:
    rows.to_csv(path, index=index, lineterminator="\n")
    return path


def _ground_files(folder: Path) -> list[SurveyFile]:
    heads = head_spots()
    listed = stations(heads)
    points = head_table(heads, listed)
    located = gpd.GeoDataFrame(
        points.drop(columns=["x", "y"]), geometry=gpd.points_from_xy(points["x"], points["y"])
    )
    areas = area_table(outlines(heads), heads)
    return [
        SurveyFile(_geojson(hole_table(), folder / "holes.geojson"), "holes"),
        SurveyFile(_geojson(areas, folder / "areas.geojson"), "areas", _options(_AREA_COLUMNS)),
        SurveyFile(_csv(NOZZLES, folder / "nozzles.csv"), "nozzles", _options(_NOZZLE_COLUMNS)),
        SurveyFile(_csv(controller_table(), folder / "controllers.csv"), "controllers"),
        SurveyFile(
            _csv(station_table(heads, listed), folder / "stations.csv"),
            "stations",
            _options(_STATION_COLUMNS),
        ),
        SurveyFile(_geojson(located, folder / "heads.geojson"), "heads", _options(_HEAD_COLUMNS)),
        *_network_files(folder, pipe_table(heads)),
    ]


def _network_files(folder: Path, pipes: gpd.GeoDataFrame) -> list[SurveyFile]:
    layers = {
        "pipes": (pipes, _PIPE_COLUMNS),
        "valves": (valve_table(), _VALVE_COLUMNS),
        "pumps": (pump_table(), _PUMP_COLUMNS),
        "sources": (source_table(), _SOURCE_COLUMNS),
        "meters": (meter_table(), {}),
        "gauges": (gauge_table(), _GAUGE_COLUMNS),
    }
    path = _geopackage(
        ((name, drawing) for name, (drawing, _) in layers.items()), folder / "network.gpkg"
    )
    return [
        SurveyFile(path, name, _options(columns, layer=name))
        for name, (_, columns) in layers.items()
    ]


def _weather_files(folder: Path) -> list[WeatherFile]:
    weather = weather_table()
    observed = weather.loc[weather.index <= LAST_DAY]
    forecast = weather.loc[weather.index > LAST_DAY]
    return [
        WeatherFile(_csv(observed, folder / "weather-observed.csv", index=True), "observed"),
        WeatherFile(_csv(forecast, folder / "weather-forecast.csv", index=True), "forecast"),
    ]


def write_survey(folder: Path) -> Survey:
    """Write every survey file of the invented club, the same bytes of data on every run.

    Args:
        folder: made where it is missing; files of an earlier run are replaced.

    Returns:
        The files in the order in which they should be read.

    Raises:
        OSError: the folder cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "INVENTED.txt").write_text(INVENTED)
    return Survey(_ground_files(folder), _weather_files(folder))
