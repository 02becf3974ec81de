"""Pressures of any minute by the solved pipes, checked against the printed friction formula."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import pytest
import shapely

from nightwater.desk.course import Course
from nightwater.desk.planning import plan
from nightwater.desk.pressures import film_pressures, open_stations, solved_minute
from nightwater.findings import NotFoundError, UserError
from nightwater.ground.record import Ground
from nightwater.night.film import frames

NIGHT = date(2026, 7, 14)
NOW = datetime(2026, 7, 14, 21, tzinfo=UTC)
KPA_PER_M = 9.80665
FOOT = 0.3048


def changed(course: Course, **tables: object) -> Course:
    ground: Ground = course.ground
    for name, rows in tables.items():
        ground = ground.with_table(name, rows)
    return replace(course, ground=ground)


def floor_of(course: Course, kpa: float) -> Course:
    night = replace(course.settings.night, least_head_kpa=kpa)
    return replace(course, settings=replace(course.settings, night=night))


def loss_kpa(length_m: float, bore_mm: float, c: float, flow_l_s: float) -> float:
    """EPANET 2.2 User Manual, table 3.1: 4.727 L q^1.852 / (C^1.852 d^4.871), feet and cfs."""
    q = flow_l_s / 1000 / FOOT**3
    d = bore_mm / 1000 / FOOT
    feet = 4.727 * (length_m / FOOT) * q**1.852 / (c**1.852 * d**4.871)
    return feet * FOOT * KPA_PER_M


def test_the_pressure_is_the_pumps_less_friction_along_the_way(course: Course) -> None:
    """One head runs: a main to the joint and a lateral, each with its own length and flow."""
    station = str(course.ground.heads.loc["H-G0", "station"])
    found = solved_minute(course, [station])
    head = found.heads.loc["H-G0"]
    pipes, pump = course.ground.pipes, course.ground.pumps.iloc[0]
    main, lateral = (pipes.geometry[name] for name in ("P-main", "P-H-G0"))
    joint = shapely.Point(min(shapely.get_coordinates(lateral), key=lambda xy: main.distance(
        shapely.Point(xy))))  # fmt: skip
    way = shapely.line_merge(main)
    along = abs(way.project(joint) - way.project(pump.geometry))
    flow = found.heads["flow_l_s"].sum()
    lost = loss_kpa(along, pipes.loc["P-main", "diameter_mm"], 150.0, flow)
    lost += loss_kpa(lateral.length, pipes.loc["P-H-G0", "diameter_mm"], 150.0, head.flow_l_s)
    assert head.pressure_kpa == pytest.approx(pump.set_pressure_kpa - lost, abs=0.1)  # 0.01 m
    assert found.drawn_l_s == pytest.approx(flow, rel=1e-3)


def test_pumps_tell_duty_and_power(course: Course) -> None:
    """Shaft power is water power over efficiency, power drawn that over the motor's."""
    found = solved_minute(course, list(course.ground.stations.index[:12]))
    row, pump = found.pumps.iloc[0], course.ground.pumps.iloc[0]
    water_kw = row.flow_l_s * row.head_m * KPA_PER_M / 1000
    motor = 0.92 if np.isnan(pump.motor_efficiency) else pump.motor_efficiency
    assert row.power_kw == pytest.approx(water_kw / row.efficiency / motor, rel=0.02)
    assert found.power_kw == pytest.approx(found.pumps["power_kw"].sum())
    assert found.holds
    assert found.drawn_l_s == pytest.approx(found.heads["flow_l_s"].sum(), rel=1e-3)


def test_pipes_are_listed_by_velocity_over_the_limit(course: Course) -> None:
    found = solved_minute(course, list(course.ground.stations.index[:9]))
    rows, bore = found.pipes, course.ground.pipes["diameter_mm"]
    assert rows["share"].is_monotonic_decreasing
    assert "P-main" in rows.index
    speed = rows["flow_l_s"] / 1000 / (np.pi / 4 * (bore[rows.index] / 1000) ** 2)
    assert rows["velocity_m_s"].to_numpy() == pytest.approx(speed.to_numpy(), rel=1e-4)
    assert len(rows) == 1 + len(found.heads)  # nothing but the main and the laterals of open heads


def test_who_is_short_stands_first_and_follows_the_floor(course: Course) -> None:
    stations = list(course.ground.stations.index[:6])
    assert solved_minute(course, stations).short.empty
    lowest = solved_minute(course, stations).heads["pressure_kpa"].min()
    found = solved_minute(floor_of(course, lowest + 0.5), stations)
    assert 0 < len(found.short) <= len(found.heads)
    assert found.heads["short"].iloc[0]
    assert found.short["pressure_kpa"].max() < lowest + 0.5


def test_a_weak_pump_starves_and_is_told(course: Course) -> None:
    weak = changed(course, pumps=course.ground.pumps.assign(set_pressure_kpa=300.0))
    found = solved_minute(weak, list(course.ground.stations.index[:6]))
    assert len(found.short) == len(found.heads)
    open_flow = solved_minute(course, list(course.ground.stations.index[:6])).drawn_l_s
    assert found.drawn_l_s < open_flow


def test_unknown_stations_and_none_are_refused(course: Course) -> None:
    with pytest.raises(UserError, match="no station 'S-none'"):
        solved_minute(course, ["S-none"])
    with pytest.raises(UserError, match="No station is named"):
        solved_minute(course, [])


def test_a_record_without_pipes_tells_why(course: Course) -> None:
    bare = changed(course, pipes=course.ground.pipes.iloc[:0])
    with pytest.raises(UserError, match="Survey the pipes"):
        solved_minute(bare, list(course.ground.stations.index[:1]))
    stored = plan(course, NIGHT, who="Ines", now=NOW)
    found = film_pressures(bare, stored.plan, frames(stored.plan, 5))
    assert found.frames == ()
    assert "Survey the pipes" in found.reason


def test_every_frame_of_the_film_has_what_a_minute_alone_has(course: Course) -> None:
    stored = plan(course, NIGHT, who="Ines", now=NOW)
    made = frames(stored.plan, 30)
    found = film_pressures(course, stored.plan, made)
    assert len(found.frames) == len(made)
    assert np.isnan(found.frames[-1].lowest_kpa)  # nothing is open at the night's end
    compared = 0
    for frame, one in zip(made, found.frames, strict=True):
        if frame.open:
            alone = solved_minute(course, frame.open)
            assert one.lowest_kpa == pytest.approx(alone.heads["pressure_kpa"].min())
            assert one.lowest_head == alone.heads["pressure_kpa"].idxmin()
            assert one.fastest_share == pytest.approx(alone.pipes["share"].max(), rel=1e-6)
            assert one.power_kw == pytest.approx(alone.power_kw)
            assert (one.short, one.short_heads) == (frozenset(), 0)
            compared += 1
    assert compared > 2


def test_short_stations_of_a_frame_are_those_of_its_short_heads(course: Course) -> None:
    stored = plan(course, NIGHT, who="Ines", now=NOW)
    made = [frame for frame in frames(stored.plan, 30) if frame.open]
    lowest = film_pressures(course, stored.plan, made).frames[0].lowest_kpa
    strict = floor_of(course, lowest + 0.2)
    one = film_pressures(strict, stored.plan, made).frames[0]
    alone = solved_minute(strict, made[0].open)
    assert one.short == set(alone.short["station"])
    assert one.short_heads == len(alone.short) > 0


def test_open_stations_are_those_of_the_plan(course: Course) -> None:
    stored = plan(course, NIGHT, who="Ines", now=NOW)
    run = stored.plan.runs[0]
    start = stored.plan.window.start.hour * 60 + stored.plan.window.start.minute + run.start_min
    found = open_stations(course, NIGHT, f"{start // 60 % 24:02d}:{start % 60:02d}")
    assert run.station in found
    with pytest.raises(UserError, match="Nothing runs at 12:00"):
        open_stations(course, NIGHT, "12:00")
    with pytest.raises(NotFoundError):
        open_stations(course, date(2026, 1, 1), "23:00")
