"""The as-built sheet: what belongs to a hole, at what scale, and what stands on the paper."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from datetime import UTC, date, datetime
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import pandas as pd
import pytest
from shapely.geometry import MultiLineString, MultiPolygon, Point, box

from nightwater.desk.as_built import as_built_document, as_built_pdf, head_rows, valve_rows
from nightwater.desk.as_built_legend import legend
from nightwater.desk.as_built_parts import HoleParts, hole_named, hole_order
from nightwater.desk.as_built_scale import PAPERS, fitting_scale, paper_named
from nightwater.desk.course import open_course
from nightwater.desk.hole_drawing import Frame, common_prefix, hole_map
from nightwater.desk.map_marks import (
    GROUND_FILL,
    GROUND_ORDER,
    head_mark,
    sample,
    sector_path,
    throw_mark,
    valve_mark,
)
from nightwater.findings import NotFoundError, UserError
from nightwater.ground.changes import Changes, RowChange, plain_rows
from nightwater.ground.linked import Linked
from nightwater.ground.record import Ground, ground_from
from nightwater.ground.settings import Settings, Site
from nightwater.ground.tables import AREA_KINDS, GROUND_TABLES, TABLES
from nightwater.store.course_file import CourseFile
from nightwater.units import UnitSystem

X, Y = 413_000.0, 4_340_000.0
US, METRIC = UnitSystem.US, UnitSystem.METRIC
Run = Callable[..., tuple[int, str, str]]


def rows(ids: list[str], **columns: list[object]) -> pd.DataFrame:
    return pd.DataFrame(columns, index=pd.Index(ids, dtype=object), dtype=object)


def at(x: float, y: float) -> Point:
    return Point(X + x, Y + y)


@pytest.fixture
def ground() -> Ground:
    """Two holes side by side: 10 has a fairway of 60 by 200 m, 2 is beside it, c is a line."""
    holes = rows(
        ["a", "b", "c"],
        number=[10, 2, None],
        label=["Long <one>", "Hole 2", "Spare"],
        geometry=[
            MultiLineString([[(X + 30, Y), (X + 30, Y + 200)]]),
            MultiLineString([[(X + 130, Y), (X + 130, Y + 200)]]),
            MultiLineString([[(X + 300, Y), (X + 300, Y + 100)]]),
        ],
    )
    areas = rows(
        ["FA", "FB"],
        kind=["fairway", "fairway"],
        hole=["a", "b"],
        geometry=[MultiPolygon([box(X + x, Y, X + x + 60, Y + 200)]) for x in (0.0, 100.0)],
    )
    nozzles = rows(["N"], label=["27"], pressure_kpa=[480.0], flow_l_s=[1.7], radius_m=[20.0])
    heads = rows(
        ["H1", "H2", "H10", "HB"],
        label=["10-F-10", "10-F-2", "10-F-1", "2-F-1"],
        station=["S1", "S1", None, "S2"],
        nozzle=["N", "N", None, "N"],
        arc_deg=[360.0, 180.0, None, 90.0],
        bearing_deg=[None, 90.0, None, None],
        spacing_m=[20.0, 20.0, None, 20.0],
        condition=["good", "broken", None, "good"],
        evidence=["surveyed", "guessed", None, "surveyed"],
        geometry=[at(30, 20), at(5, 40), at(30, 60), at(130, 30)],
    )
    stations = rows(["S1", "S2"], label=["10-1", "2-1"], output=[4, 5], flow_listed_l_s=[3.4, 1.7])
    pipes = rows(
        ["P1", "P2"],
        label=["M-1 & co", "lateral"],
        kind=["main", "lateral"],
        diameter_mm=[150.0, 50.0],
        evidence=["drawing", "drawing"],
        geometry=[
            MultiLineString([[(X - 40, Y + 100), (X + 240, Y + 100)]]),
            MultiLineString([[(X + 30, Y + 20), (X + 30, Y + 100)]]),
        ],
    )
    valves = rows(
        ["V1", "V2", "V3"],
        label=["V-10", "V-9", "V-far"],
        kind=["isolation", "drain", "isolation"],
        open=[False, False, None],
        geometry=[at(70, 100), at(30, 150), at(90, 100)],
    )
    found = {"holes": holes, "areas": areas, "nozzles": nozzles, "heads": heads}
    return ground_from(
        "EPSG:32612", {**found, "stations": stations, "pipes": pipes, "valves": valves}
    )


@pytest.fixture
def parts(ground: Ground) -> HoleParts:
    return HoleParts(Linked(ground), "a")


def frame(parts: HoleParts, width: float = 200.0, height: float = 300.0) -> Frame:
    left, bottom, right, top = parts.extent
    scale = fitting_scale(right - left, top - bottom, (width, height), METRIC)
    return Frame(parts, scale, width, height, 2.0)


# --- which hole


def test_holes_come_as_on_the_card_and_those_without_a_number_last(ground: Ground) -> None:
    assert hole_order(ground) == ["b", "a", "c"]


@pytest.mark.parametrize(
    ("wanted", "hole"), [("10", "a"), ("Hole 2", "b"), ("c", "c"), (" 2 ", "b")]
)
def test_a_hole_is_found_by_number_label_or_id(ground: Ground, wanted: str, hole: str) -> None:
    assert hole_named(ground, wanted) == hole


def test_a_hole_that_is_none_or_two_is_refused_with_the_known_ones(ground: Ground) -> None:
    with pytest.raises(NotFoundError, match=r"'19' is no hole of this course. Known ids: b, a, c"):
        hole_named(ground, "19")
    twice = ground.with_table("holes", ground.holes.assign(number=[7, 7, None]))
    with pytest.raises(NotFoundError, match="two holes"):
        hole_named(twice, "7")


# --- what belongs to it


def test_a_hole_has_the_heads_of_its_areas_in_the_order_a_person_counts(parts: HoleParts) -> None:
    assert parts.heads["label"].tolist() == ["10-F-1", "10-F-2", "10-F-10"]
    assert parts.stations.index.tolist() == ["S1"]


def test_valves_within_15_m_of_its_ground_are_its_valves(parts: HoleParts) -> None:
    assert parts.valves["label"].tolist() == ["V-9", "V-10"]


def test_a_hole_that_is_only_a_line_is_drawn_along_it(ground: Ground) -> None:
    lone = HoleParts(Linked(ground), "c")
    left, bottom, right, top = lone.extent
    assert (right - left, top - bottom) == pytest.approx((92.0, 192.0), abs=0.5)
    assert hole_map(frame(lone)).left_out == ()


def test_a_hole_without_any_place_is_told(ground: Ground) -> None:
    nowhere = ground.with_table("holes", rows(["z"], number=[1], geometry=[None]))
    with pytest.raises(UserError, match="nothing to draw"):
        _ = HoleParts(Linked(nowhere), "z").zone


# --- scale


@pytest.mark.parametrize(
    ("width", "height", "units", "words", "one_to"),
    [
        (190.0, 100.0, METRIC, "1 : 1,000", 1000.0),  # 200 mm hold 200 m, not at 1:750
        (200.0, 300.0, METRIC, "1 : 1,000", 1000.0),  # fits exactly
        (200.1, 300.0, METRIC, "1 : 1,250", 1250.0),
        (190.0, 100.0, US, "1 in = 80 ft", 960.0),  # 190 m / 200 mm = 950
        (9000.0, 10.0, METRIC, "1 : 45,000", 45_000.0),
    ],
)
def test_the_scale_is_the_largest_usual_one_that_fits(
    width: float, height: float, units: UnitSystem, words: str, one_to: float
) -> None:
    scale = fitting_scale(width, height, (200.0, 300.0), units)
    assert (scale.words, scale.one_to) == (words, one_to)
    assert width / one_to * 1000 <= 200.0


@pytest.mark.parametrize("units", [US, METRIC])
@pytest.mark.parametrize("width", [20.0, 100.0, 420.0, 900.0])
def test_the_bar_is_as_long_as_it_says(units: UnitSystem, width: float) -> None:
    scale = fitting_scale(width, width, (250.0, 350.0), units)
    number, unit = scale.bar_ends[2].split()
    metres = float(number) * (0.3048 if unit == "ft" else 1.0)
    assert 2 * scale.bar_mm == pytest.approx(metres * 1000 / scale.one_to)
    assert 10 < scale.bar_mm < 65


def test_paper_is_large_unless_a_person_says_otherwise() -> None:
    assert paper_named(None, US).name == "us-tabloid"
    assert paper_named(None, METRIC).name == "a3"
    assert paper_named("Letter", METRIC) == PAPERS["letter"]
    with pytest.raises(UserError, match="letter, tabloid, a4, a3"):
        paper_named("a5", US)


def test_the_frame_keeps_lengths_true_and_north_up(parts: HoleParts) -> None:
    window = frame(parts)
    south, north = (window.on_paper(at(0, y)) for y in (0.0, 100.0))
    assert south.y - north.y == pytest.approx(100.0 * 1000 / window.scale.one_to)
    west, east = (window.on_paper(at(x, 0)) for x in (0.0, 50.0))
    assert east.x - west.x == pytest.approx(50.0 * 1000 / window.scale.one_to)


# --- marks


@pytest.mark.parametrize(("arc", "bearing"), [(90.0, 0.0), (180.0, 90.0), (200.0, 300.0)])
def test_a_sector_spans_its_arc_around_its_bearing(arc: float, bearing: float) -> None:
    numbers = [float(n) for n in re.findall(r"-?\d+\.\d+", sector_path(10.0, arc, bearing))]
    (x0, y0), (x1, y1) = numbers[0:2], numbers[4:6]
    ends = [math.degrees(math.atan2(x, -y)) % 360 for x, y in ((x0, y0), (x1, y1))]
    assert ends == pytest.approx([(bearing - arc / 2) % 360, (bearing + arc / 2) % 360], abs=0.01)
    assert (" 0 1 1 " in sector_path(10.0, arc, bearing)) == (arc > 180)


def test_an_unknown_bearing_is_a_broken_circle_and_full_circles_are_whole() -> None:
    assert "dasharray" in throw_mark(10.0, 180.0, None)
    assert "dasharray" not in throw_mark(10.0, 360.0, None)
    assert "dasharray" not in throw_mark(10.0, None, None)
    assert "<path" in throw_mark(10.0, 180.0, 90.0)


def test_marks_differ_by_form_and_not_by_colour_alone() -> None:
    kinds = list(TABLES["valves"].by_name["kind"].choices)
    forms = {valve_mark(kind, True) for kind in (*kinds, "strange")}
    assert len(forms) == len(kinds) + 1
    assert head_mark(360.0, None) != head_mark(180.0, 90.0) != head_mark(180.0, None)
    assert head_mark(360.0, None, sound=False) != head_mark(360.0, None)
    assert valve_mark("isolation", False) != valve_mark("isolation", True)
    assert valve_mark("drain", False) == valve_mark("drain", True)  # a drain stands shut


def test_every_kind_of_ground_has_a_fill_and_greens_lie_on_top_of_turf() -> None:
    assert set(GROUND_FILL) == set(AREA_KINDS)
    assert GROUND_ORDER.index("rough") < GROUND_ORDER.index("fairway")
    assert GROUND_ORDER.index("fairway") < GROUND_ORDER.index("green")
    assert GROUND_ORDER.index("fairway") < GROUND_ORDER.index("bunker")


def test_lightness_alone_parts_rough_fairway_approach_and_green() -> None:
    def grey(colour: str) -> float:
        red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
        return 0.299 * red + 0.587 * green + 0.114 * blue

    greys = [grey(GROUND_FILL[kind]) for kind in ("rough", "fairway", "approach", "green")]
    assert all(lighter - darker > 10 for lighter, darker in pairwise(greys))


def test_samples_are_drawings_of_their_own() -> None:
    assert ElementTree.fromstring(sample(valve_mark("drain", None))).get("width") == "9.0mm"


# --- the map


def test_the_map_is_svg_with_every_head_and_valve_named_once(parts: HoleParts) -> None:
    drawn = hole_map(frame(parts))
    root = ElementTree.fromstring(drawn.svg)
    texts = [element.text for element in root.iter("{http://www.w3.org/2000/svg}text")]
    assert sorted(filter(None, texts)) == ["F-1", "F-10", "F-2", "M-1 & co", "V-10", "V-9"]
    assert (drawn.prefix, drawn.left_out) == ("10-", ())


def test_what_is_of_another_hole_is_faint_and_not_named(parts: HoleParts) -> None:
    svg = hole_map(frame(parts, width=400.0)).svg
    assert "2-F-1" not in svg
    assert 'fill="#b4bfbb"' in svg


@pytest.mark.parametrize(
    ("labels", "prefix"),
    [
        (["07-F-1", "07-F-2", "07-R-1", "07-G-1", "06-R-2"], "07-"),
        (["07-F-1", "07-F-2", "06-R-1"], ""),
        (["F1", "F2"], ""),
        (["7 F1", "7 F2"], "7 "),
        (["07-", "07-"], ""),
        ([], ""),
    ],
)
def test_labels_leave_out_only_what_nearly_all_begin_with(labels: list[str], prefix: str) -> None:
    assert common_prefix(labels) == prefix


# --- tables and legend


def test_head_rows_are_in_the_persons_units_and_say_what_is_not_known(parts: HoleParts) -> None:
    assert head_rows(parts, US) == [
        ["10-F-1", "–", "–", "–", "–", "–", "–", "–"],
        ["10-F-2", "10-1", "27", "180°", "90°", "66 ft", "–", "broken"],
        ["10-F-10", "10-1", "27", "full", "–", "66 ft", "–", "good"],
    ]
    assert head_rows(parts, METRIC)[1][5] == "20.0 m"


def test_valve_rows_say_where_and_cry_only_where_a_shut_valve_matters(parts: HoleParts) -> None:
    drain, isolation = valve_rows(parts, US)
    assert (drain[:3], isolation[:3]) == (
        ["V-9", "drain", "shut"],
        ["V-10", "isolation", "SHUT"],
    )
    latitude, longitude = map(float, isolation[4].split(", "))
    assert (latitude, longitude) == pytest.approx((39.2058, -112.0068), abs=1e-3)


def test_the_legend_names_only_what_is_drawn(parts: HoleParts) -> None:
    words = [item["text"] for item in legend(parts, METRIC)]
    assert words == [
        "fairway",
        "head, full circle",
        "head, part circle",
        "head to look at: see its condition",
        "main 150.0 mm inside",
        "lateral 50.0 mm inside",
        "isolation valve",
        "drain",
        "filled: valve that stands shut",
        "line of play",
    ]


# --- the whole sheet


@pytest.fixture
def golf_course(ground: Ground, tmp_path: Path) -> Path:
    """The two holes as a course file."""
    site = Site("Test Links", 39.2, -112.0, 1372.0, "America/Denver", "EPSG:32612", invented=True)
    path = tmp_path / "course.gpkg"
    with CourseFile.create(path, Settings(site)) as file:
        changes = [
            RowChange(name, key, None, values)
            for name in GROUND_TABLES
            for key, values in plain_rows(ground.table(name), TABLES[name]).items()
        ]
        file.accept(Changes(tuple(changes)), "Pilar", "survey", datetime(2026, 7, 8, tzinfo=UTC))
    return path


def test_the_sheet_says_club_revision_evidence_and_that_the_club_is_invented(
    golf_course: Path,
) -> None:
    with open_course(golf_course) as course:
        made = as_built_document(course, ["a", "c"], PAPERS["letter"], date(2026, 7, 14))
        pdf = as_built_pdf(course, ["a", "c"], PAPERS["letter"], date(2026, 7, 14))
    assert (made["club"], made["invented"], made["date"]) == ("Test Links", True, "2026-07-14")
    assert made["revision"] == "record at revision 1 of 2026-07-08"
    first, second = made["holes"]
    assert (first["title"], first["lying"], second["heads"]) == ("Long <one>", False, [])
    assert "leave out “10-”" in first["notes"]
    assert (
        "Heads: 1 surveyed, 1 guessed, 1 evidence not stated. Pipes: 2 drawing." in first["notes"]
    )
    assert pdf.startswith(b"%PDF-")


def test_a_record_without_a_revision_says_so(tmp_path: Path) -> None:
    path = tmp_path / "empty.gpkg"
    site = Site("Empty", 39.2, -112.0, 1372.0, "America/Denver", "EPSG:32612")
    CourseFile.create(path, Settings(site)).close()
    with open_course(path) as course:
        made = as_built_document(course, [], PAPERS["a4"], date(2026, 7, 14))
    assert made["revision"] == "record without a revision"


@pytest.mark.parametrize(
    ("words", "holes"),
    [(("--hole", "10"), 1), (("--hole", "2", "--hole", "c"), 2), (("--all",), 3)],
)
def test_the_command_writes_the_holes_that_are_named(
    golf_course: Path, tmp_path: Path, run_cli: Run, words: tuple[str, ...], holes: int
) -> None:
    out = tmp_path / "sheet.pdf"
    status, _, err = run_cli("as-built", golf_course, *words, "--out", out, "--paper", "letter")
    assert status == 0, err
    assert f"{holes} hole" in err
    assert out.read_bytes().startswith(b"%PDF-")


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        ((), "Say which hole"),
        (("--all", "--hole", "2"), "Say which hole"),
        (("--hole", "19"), "no hole of this course"),
        (("--hole", "2", "--paper", "a0"), "no paper"),
    ],
)
def test_a_wrong_wish_is_told_and_nothing_is_written(
    golf_course: Path, tmp_path: Path, run_cli: Run, words: tuple[str, ...], reason: str
) -> None:
    status, _, err = run_cli("as-built", golf_course, *words, "--out", tmp_path / "x.pdf")
    assert (status, reason in " ".join(err.split())) == (2, True)
    assert not (tmp_path / "x.pdf").exists()


def test_a_course_without_holes_is_told(tmp_path: Path, run_cli: Run) -> None:
    path = tmp_path / "empty.gpkg"
    site = Site("Empty", 39.2, -112.0, 1372.0, "America/Denver", "EPSG:32612")
    CourseFile.create(path, Settings(site)).close()
    status, _, err = run_cli("as-built", path, "--all", "--out", tmp_path / "x.pdf")
    assert (status, "no holes yet" in " ".join(err.split())) == (2, True)
