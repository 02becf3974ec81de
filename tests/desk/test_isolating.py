"""Break here, fill again, and how a sudden stop hits: in the words of a small record."""

from __future__ import annotations

import json
import math
from typing import Any

import pandas as pd
import pytest
import shapely
from shapely.geometry import Point

from nightwater.desk.course import Course
from nightwater.desk.filling import FILL_CAUTION, fill_document, network_fill, surge_rows
from nightwater.desk.isolating import CAUTIONS, ShutOff, shut_off
from nightwater.desk.isolation_card import card_document, card_pdf, place_words, way_words
from nightwater.findings import UserError
from nightwater.ground.record import Ground
from nightwater.units import UnitSystem


def on_main(ground: Ground, along_m: float) -> Point:
    return ground.pipes.geometry["P-main"].geoms[0].interpolate(along_m)


def valved(ground: Ground) -> Ground:
    """The small record with a valve at 30 m and one at 230 m of its main, and a drain beyond."""
    places = {
        "V1": ("isolation", on_main(ground, 30)),
        "V2": ("isolation", on_main(ground, 230)),
        "D1": ("drain", on_main(ground, 380)),
        "A1": ("air", on_main(ground, 100)),
    }
    rows = pd.DataFrame.from_dict(
        {
            n: {"label": f"{n} box", "kind": k, "open": k == "isolation", "geometry": p}
            for n, (k, p) in places.items()
        },
        orient="index",
    )
    table = ground.table("valves").reindex(rows.index)
    return ground.with_table("valves", table.assign(**{c: rows[c] for c in rows.columns}))


@pytest.fixture
def ground(course: Course) -> Ground:
    return valved(course.ground)


def at(ground: Ground, along_m: float, **more: Any) -> ShutOff:
    place = on_main(ground, along_m)
    return shut_off(ground, f"{place.x:.2f},{place.y:.2f}", **more)


def test_a_place_on_the_main_names_the_valve_and_what_is_dry(ground: Ground) -> None:
    answer = at(ground, 300)
    assert [thing.label for thing in answer.close] == ["V2 box"]
    assert answer.pipe == "P-main"
    assert answer.pipe_words == "main P-main"
    assert answer.dry_heads == sum(one.dry_heads for one in answer.stations) > 0
    assert {one.kind for one in answer.stations} >= {"green"}
    assert [thing.label for thing in answer.fittings] == ["D1 box"]


def test_every_dry_station_stands_behind_the_valve(ground: Ground) -> None:
    answer = at(ground, 300)
    line = ground.pipes.geometry["P-main"].geoms[0]
    dry = set(answer.answer.heads)
    for name, place in ground.heads.geometry.items():
        assert (str(name) in dry) == (line.project(place) > 230)


def test_a_valve_is_told_from_the_break(ground: Ground) -> None:
    (thing,) = at(ground, 300).close
    assert thing.away_m == pytest.approx(70, abs=0.1)
    assert thing.direction == "west"
    assert place_words(thing, UnitSystem.METRIC) == "70.0 m west of the break, on main P-main"
    assert place_words(thing, UnitSystem.US).startswith("230 ft west of the break")


def test_the_whole_pipe_offers_its_parts(ground: Ground) -> None:
    answer = shut_off(ground, "pipes:P-main")
    assert answer.stop == ("PU1",)
    assert len(answer.parts) == 3
    assert sum(part.length_m for part in answer.parts) == pytest.approx(390, abs=0.5)
    narrow = shut_off(ground, f"{answer.parts[2].x_m},{answer.parts[2].y_m}")
    assert (narrow.stop, [thing.label for thing in narrow.close]) == ((), ["V2 box"])
    assert narrow.parts == ()


def test_a_stuck_valve_is_named_by_id_or_label(ground: Ground) -> None:
    for name in ("V2", "V2 box", "valves:V2"):
        answer = at(ground, 300, stuck=[name, name])
        assert answer.stuck == ("V2",)
        assert [thing.label for thing in answer.close] == ["V1 box"]
    with pytest.raises(UserError, match="called 'D1'"):
        at(ground, 300, stuck=["D1"])


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ("heads:H1", "is no place to shut off"),
        ("pipes:", "is no place to shut off"),
        ("somewhere", "is no place to shut off"),
        ("1,2,3", "is no place to shut off"),
        ("0,0", "No pipe lies within"),
        ("pipes:X", "no pipe 'X'"),
    ],
)
def test_what_is_no_place_is_refused(ground: Ground, place: str, words: str) -> None:
    with pytest.raises(UserError, match=words):
        shut_off(ground, place)


def test_a_record_without_valves_says_stop_the_pump(course: Course) -> None:
    answer = shut_off(course.ground, "pipes:P-H-F000")
    assert answer.stop == ("PU1",)
    assert answer.close == ()


def test_refilling_what_was_shut_off(ground: Ground) -> None:
    answer = at(ground, 300)
    bore = math.pi / 4 * (6.2 * 0.0254) ** 2
    assert answer.refill.entry == "P-main"
    assert answer.refill.flow_l_s == pytest.approx(bore * 0.3048 * 1000)
    assert answer.refill.volume_m3 > bore * 160
    assert answer.dry_m > 160


def test_a_pipe_that_no_pump_reaches_is_told_so(ground: Ground) -> None:
    away = [shapely.transform(ground.pipes.geometry["P-H-G0"], lambda xy: xy + 500.0)]
    others = [line for name, line in ground.pipes.geometry.items() if name != "P-H-G0"]
    names = ["P-H-G0", *(name for name in ground.pipes.index if name != "P-H-G0")]
    pipes = ground.pipes.loc[names].assign(geometry=[*away, *others])
    answer = shut_off(ground.with_table("pipes", pipes), "pipes:P-H-G0")
    assert (answer.unfed, answer.close, answer.stop, answer.dry_heads) == (True, (), (), 0)
    assert math.isnan(answer.refill.way_min)


def test_the_card_says_it_all_in_the_readers_units(course: Course, ground: Ground) -> None:
    answer = at(ground, 300)
    us = card_document(answer, course.settings, UnitSystem.US)
    metric = card_document(answer, course.settings, UnitSystem.METRIC)
    assert us["length"].endswith("ft")
    assert metric["length"].endswith(" m")
    assert us["close"][0][0] == "V2 box"
    assert us["cautions"] == list(CAUTIONS)
    assert us["station_count"] == len(answer.stations)
    named = ", ".join(words for _, words in us["stations"])
    assert all(one.label in named for one in answer.stations)
    assert json.loads(json.dumps(us)) == us


@pytest.mark.parametrize("place", ["pipes:P-main", "pipes:P-H-G0"])
def test_the_card_prints(course: Course, ground: Ground, place: str) -> None:
    assert card_pdf(shut_off(ground, place), course.settings).startswith(b"%PDF")


def test_a_detour_in_words() -> None:
    from nightwater.desk.isolating import Way

    assert way_words(Way(("V2",), ("V3", "V4"), 7)) == (
        "Water can come back to 7 heads: close also V2, then open one of V3, V4, which stands "
        "closed."
    )
    assert "close also" not in way_words(Way((), ("V3",), 7))


def test_filling_the_whole_network(ground: Ground) -> None:
    plan = network_fill(ground)
    lines, bores = ground.pipes.geometry, ground.pipes["diameter_mm"] / 1000
    assert plan.volume_m3 == pytest.approx(float((lines.length * bores**2).sum() * math.pi / 4))
    document = fill_document(plan, ground)
    assert document["entry_words"] == "main P-main"
    assert [row["label"] for row in document["air"]] == ["A1 box"]
    assert document["air"][0]["way_m"] == pytest.approx(100, abs=0.1)
    assert document["caution"] == FILL_CAUTION
    assert "1 ft/s" in FILL_CAUTION


def test_a_sudden_stop_is_told_of_pipes_that_are_no_laterals(course: Course) -> None:
    rows = surge_rows(course.ground, course.settings.night)
    assert list(rows.index) == ["P-main"]
    row = rows.loc["P-main"]
    assert row["assumed"] == "usual wall of the material"
    assert row["surge_kpa"] == pytest.approx(row["velocity_m_s"] * row["wave_m_s"], rel=1e-3)
    assert row["set_kpa"] == pytest.approx(110 * 6.894757, rel=1e-4)


def test_a_pipe_with_a_limit_of_its_own_surges_by_that(course: Course) -> None:
    pipes = course.ground.pipes.assign(max_velocity_m_s=1.0)
    slow = surge_rows(course.ground.with_table("pipes", pipes), course.settings.night)
    usual = surge_rows(course.ground, course.settings.night)
    assert slow["surge_kpa"].iloc[0] == pytest.approx(usual["surge_kpa"].iloc[0] / 1.524)


def test_a_valve_without_a_place_is_on_no_pipe(ground: Ground) -> None:
    shapes = [shapely.Point() if n == "V1" else p for n, p in ground.valves.geometry.items()]
    answer = at(ground.with_table("valves", ground.valves.assign(geometry=shapes)), 100)
    assert answer.stop == ("PU1",)
    assert [finding.code for finding in answer.findings] == ["valve-off-pipe"]
