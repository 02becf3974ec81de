"""One small invented course, surveyed from files the way a user would."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

# The same examples on every machine, and none that fails because the machine is busy.
settings.register_profile("house", deadline=None, derandomize=True)
settings.load_profile("house")

NIGHT = date(2026, 7, 14)
AFTERNOON = datetime(2026, 7, 14, 21, tzinfo=UTC)
# A place for the invented course, and metres per degree there, good enough to draw by.
LATITUDE, LONGITUDE = 39.2, -112.0
M_PER_DEG_LATITUDE = 111_000.0
M_PER_DEG_LONGITUDE = 111_320.0 * math.cos(math.radians(LATITUDE))


def degrees(x_m: float, y_m: float) -> list[float]:
    """Longitude and latitude of a point east and north of the course's corner."""
    return [LONGITUDE + x_m / M_PER_DEG_LONGITUDE, LATITUDE + y_m / M_PER_DEG_LATITUDE]


def feature(kind: str, points: Any, /, **properties: Any) -> dict[str, Any]:
    """A GeoJSON feature from metres."""
    if kind == "Point":
        coordinates: Any = degrees(*points)
    else:
        coordinates = [degrees(*point) for point in points]
    if kind == "Polygon":
        coordinates = [coordinates]
    geometry = {"type": kind, "coordinates": coordinates}
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def collection(features: list[dict[str, Any]]) -> str:
    """GeoJSON text."""
    return json.dumps({"type": "FeatureCollection", "features": features})


def rectangle(left: float, bottom: float, right: float, top: float) -> list[tuple[float, float]]:
    """A closed ring."""
    return [(left, bottom), (right, bottom), (right, top), (left, top), (left, bottom)]


@dataclass(frozen=True)
class SmallCourse:
    """Where the small course's files lie."""

    folder: Path
    course: Path
    surveys: tuple[tuple[str, str], ...]
    weather: Path


def _areas() -> str:
    common = {"grass": "cool_season", "du_lq": 0.7, "slope_pct": 2.0, "hole": "H1"}
    kinds = [
        ("A-G", "green", rectangle(330, 30, 360, 60), "sand"),
        ("A-F", "fairway", rectangle(60, 20, 320, 70), "loam"),
        ("A-R", "rough", rectangle(60, 70, 320, 110), "clay_loam"),
        ("A-T", "tee", rectangle(5, 35, 40, 55), "sandy_loam"),
    ]
    return collection(
        [
            feature("Polygon", ring, id=name, kind=kind, soil=soil, label=name, **common)
            for name, kind, ring, soil in kinds
        ]
    )


def head_places() -> list[tuple[str, str, str, float, float]]:
    """Id, station, nozzle and place of each head: 26 on the fairway and rough, 4 green, 2 tee."""
    heads = []
    for row, y in enumerate((28.0, 62.0, 90.0)):
        kind = "R" if row == 2 else "F"
        for step in range(13):
            name = f"{kind}{row}{step:02d}"
            heads.append((f"H-{name}", f"S-{name}", "N-big", 66.0 + 20 * step, y))
    for number, (x, y) in enumerate([(331, 31), (359, 31), (331, 59), (359, 59)]):
        heads.append((f"H-G{number}", f"S-G{number}", "N-big", float(x), float(y)))
    heads += [("H-T0", "S-T", "N-small", 12.0, 45.0), ("H-T1", "S-T", "N-small", 30.0, 45.0)]
    return heads


def _heads() -> str:
    arcs = {"H-G0": 45, "H-G1": 315, "H-G2": 135, "H-G3": 225}
    features = []
    for name, _station, nozzle, x, y in head_places():
        part = {"arc_deg": 90, "bearing_deg": arcs[name]} if name in arcs else {"arc_deg": 360}
        wide = {"spacing_ft": 65, "row_ft": 56.3} if nozzle == "N-big" else {}
        small = {"spacing_ft": 50, "row_ft": 43.3} if nozzle == "N-small" else {}
        features.append(
            feature("Point", (x, y), id=name, nozzle=nozzle, label=name, **part, **wide, **small)
        )
    return collection(features)


def _stations() -> str:
    stations: dict[str, list[str]] = {}
    for name, station, *_ in head_places():
        stations.setdefault(station, []).append(name)
    lines = ["id,label,controller,output,heads_listed,heads"]
    for output, (station, heads) in enumerate(stations.items(), 1):
        lines.append(f"{station},{station[2:]},C1,{output},{len(heads)},{' '.join(heads)}")
    return "\n".join(lines) + "\n"


def _pipes() -> str:
    main = feature(
        "LineString",
        [(-20, 45), (0, 45), (370, 45)],
        id="P-main",
        kind="main",
        diameter_in=6.2,
        hazen_williams_c=150,
        material="PVC",
    )
    laterals = []
    for name, _station, _nozzle, x, y in head_places():
        if y != 45:
            laterals.append(
                feature(
                    "LineString",
                    [(x, 45), (x, y)],
                    id=f"P-{name}",
                    kind="lateral",
                    diameter_in=2.149,
                    hazen_williams_c=150,
                    material="PVC",
                )
            )
    return collection([main, *laterals])


def _pump() -> str:
    return collection(
        [
            feature(
                "Point",
                (-20, 45),
                id="PU1",
                label="Pump house",
                capacity_gpm=300,
                set_pressure_psi=110,
                head_ft=280,
                pump_efficiency=0.75,
                motor_efficiency=0.92,
            )
        ]
    )


def _source() -> str:
    return collection(
        [
            feature(
                "Point",
                (-25, 45),
                id="W1",
                kind="pond",
                allocation_m3=20000,
                period_start="2026-04-15",
                period_end="2026-10-15",
                used_before_m3=5000,
                price_per_m3=0.08,
            )
        ]
    )


def weather_csv(first: date, days: int) -> str:
    """Dry July days, a little different each, in the daily contract."""
    columns = "date,tmax_c,tmin_c,rh_max_pct,rh_min_pct,wind_m_s,wind_height_m,solar_mj_m2,rain_mm"
    lines = [columns]
    for day in range(days):
        swing = math.sin(day)
        lines.append(
            f"{first + timedelta(days=day)},{32 + 2 * swing:.1f},{15 + swing:.1f},"
            f"{70 - 3 * swing:.0f},{24 - 2 * swing:.0f},{2.1 + 0.3 * swing:.2f},2,"
            f"{27.5 + swing:.2f},0"
        )
    return "\n".join(lines) + "\n"


HOLE = feature("LineString", [(20, 45), (200, 45), (345, 45)], id="H1", number=1, par=4)
NOZZLES = (
    "id,pressure_psi,flow_gpm,radius_ft,rotation_s\nN-big,70,27.5,65,180\nN-small,60,14,50,150\n"
)


def write_small_survey(folder: Path) -> tuple[tuple[str, str], ...]:
    """The files of the small course, in the order in which they are read."""
    texts = {
        ("holes.geojson", "holes"): collection([HOLE]),
        ("areas.geojson", "areas"): _areas(),
        ("nozzles.csv", "nozzles"): NOZZLES,
        ("controllers.csv", "controllers"): "id,label,max_heads_on\nC1,Path C1,12\n",
        ("heads.geojson", "heads"): _heads(),
        ("stations.csv", "stations"): _stations(),
        ("pipes.geojson", "pipes"): _pipes(),
        ("pumps.geojson", "pumps"): _pump(),
        ("sources.geojson", "sources"): _source(),
    }
    for (name, _table), text in texts.items():
        (folder / name).write_text(text)
    return tuple(texts)


@pytest.fixture
def run_cli(capsys: pytest.CaptureFixture[str]) -> Callable[..., tuple[int, str, str]]:
    """Run the command as a shell would: status, output, errors."""
    import sys

    from nightwater.cli.app import main

    def run(*words: object) -> tuple[int, str, str]:
        capsys.readouterr()
        before, sys.argv = sys.argv, ["nightwater", *map(str, words)]
        try:
            main()
            status = 0
        except SystemExit as leaving:
            status = int(leaving.code or 0)
        finally:
            sys.argv = before
        captured = capsys.readouterr()
        return status, captured.out, captured.err

    return run


def _build(folder: Path) -> Path:
    from nightwater.desk.course import open_course
    from nightwater.desk.creating import NewCourse, create_course
    from nightwater.desk.surveying import accept, survey_file
    from nightwater.desk.weathering import add_weather
    from nightwater.survey.read import ReadOptions
    from nightwater.units import UnitSystem

    path = folder / "small.gpkg"
    near = f"{LATITUDE},{LONGITUDE}"
    create_course(NewCourse(path, "Small Links", near, 1372.0, None, None, UnitSystem.US))
    for name, table in write_small_survey(folder):
        with open_course(path) as course:
            proposal = survey_file(course, folder / name, table, ReadOptions(), complete=False)
            accept(
                course,
                proposal,
                with_doubtful=False,
                who="Pilar",
                why="first survey",
                now=AFTERNOON,
            )
    (folder / "weather.csv").write_text(weather_csv(NIGHT - timedelta(days=10), 14))
    with open_course(path) as course:
        add_weather(
            course, folder / "weather.csv", columns={}, units={}, origin="observed", replace=False
        )
    return path


@pytest.fixture(scope="session")
def built_course(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The small course, built once; do not write to it."""
    return _build(tmp_path_factory.mktemp("small"))


@pytest.fixture
def small_course(built_course: Path, tmp_path: Path) -> Path:
    """A copy of the small course that a test may change."""
    import shutil

    copy = tmp_path / "small.gpkg"
    shutil.copy(built_course, copy)
    return copy


@dataclass(frozen=True)
class SurveyKit:
    """How tests write the small course's files."""

    write: Callable[[Path], tuple[tuple[str, str], ...]] = write_small_survey
    weather: Callable[[date, int], str] = weather_csv
    places: Callable[[], list[tuple[str, str, str, float, float]]] = head_places


@pytest.fixture
def survey_kit() -> SurveyKit:
    """The small course's files, to be written where a test wants them."""
    return SurveyKit()
