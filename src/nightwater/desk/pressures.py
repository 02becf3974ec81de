"""What the solved pipes say of a minute: pressures, flows and throws, who is short, what binds."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from nightwater.desk.course import Course
from nightwater.desk.isolating import pipe_words
from nightwater.desk.nights import required_night
from nightwater.findings import Finding, UserError
from nightwater.ground.settings import NightRules
from nightwater.night.film import Frame
from nightwater.night.plan import Night
from nightwater.night.waters import least_head_kpa, link_limits_m_s, short_heads
from nightwater.night.window import clock_minute
from nightwater.pipes.engine import Engine
from nightwater.pipes.hydraulic_network import HydraulicNetwork
from nightwater.pipes.network_build import build_hydraulic_network
from nightwater.pipes.solution import Solution

_STILL_L_S: Final = 5e-3  # the engine balances flows no finer

Numbers = NDArray[np.float64]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class SolvedMinute:
    """The solved pipes while some stations run.

    Attributes:
        stations: ids of what runs, in order.
        heads: index = id of each open head, the one that lacks most first; columns label,
            station, pressure_kpa (in the pipe where it stands), least_kpa (it should have),
            nozzle_kpa (behind its body), flow_l_s, radius_m and short.
        pipes: index = pipe id, the fullest first; columns words, flow_l_s, velocity_m_s,
            limit_m_s and share.
        pumps: index = pump id; columns flow_l_s, head_m, speed, efficiency and power_kw.
        drawn_l_s: water of all feeds together.
        power_kw: of all pumps together.
        holds: whether every feed holds its set pressure.
        left_out: ids of heads of these stations that no feed reaches.
        findings: the engine's doubts.
    """

    stations: tuple[str, ...]
    heads: pd.DataFrame
    pipes: pd.DataFrame
    pumps: pd.DataFrame
    drawn_l_s: float
    power_kw: float
    holds: bool
    left_out: tuple[str, ...]
    findings: tuple[Finding, ...]

    @property
    def short(self) -> pd.DataFrame:
        """The heads that have less than they should."""
        return self.heads[self.heads["short"]]


@dataclass(frozen=True)
class FramePressure:
    """What the solved pipes say of one frame of the film.

    Attributes:
        lowest_kpa: the lowest pressure at an open head; NaN where none is open or solved.
        lowest_head: its id; "" where there is none.
        short: ids of the open stations with a head that has less than it should.
        short_heads: how many heads have.
        fastest_share: the greatest velocity in a pipe over its limit.
        power_kw: of the pumps.
    """

    lowest_kpa: float
    lowest_head: str
    short: frozenset[str]
    short_heads: int
    fastest_share: float
    power_kw: float


@dataclass(frozen=True)
class FilmPressures:
    """Pressures of a film, frame by frame; none, with a reason, where pipes cannot be solved."""

    frames: tuple[FramePressure, ...] = ()
    reason: str = ""


def solvable_network(course: Course) -> HydraulicNetwork:
    """The record's network for the engine.

    Raises:
        UserError: the record does not say enough to solve it; what it lacks.
    """
    network, _ = build_hydraulic_network(course.ground)
    if not network.heads:
        raise UserError(
            "No head stands on a pipe that a pump or source feeds, so nothing can be solved. "
            "Survey the pipes to the heads; 'nightwater check' names what does not join."
        )
    return network


def _short(solution: Solution, rules: NightRules) -> tuple[Numbers, Flags]:
    """The least pressure of each head, and which open heads of each set have less."""
    least = least_head_kpa(solution.network, rules)
    return least, short_heads(solution.is_open, solution.pressure_kpa, least)


def open_stations(course: Course, night: date, at: str) -> tuple[str, ...]:
    """What runs at a local clock time of the latest edition of a night.

    Raises:
        NotFoundError: nothing is planned for that date.
        UserError: no clock time, or nothing runs then.
    """
    plan = required_night(course, night).plan
    minute = clock_minute(at, plan.window)
    running = {r.station for r in plan.runs if r.start_min <= minute < r.start_min + r.run_min}
    if not running:
        raise UserError(
            f"Nothing runs at {at} of the night of {night}. It lasts from "
            f"{plan.window.start:%H:%M} to {plan.window.end:%H:%M}; name a time in it."
        )
    return tuple(sorted(running))


def solved_minute(course: Course, stations: Collection[str]) -> SolvedMinute:
    """Solve the pipes while stations run, heads as their nozzles give.

    Args:
        course: the course.
        stations: ids; nothing else runs.

    Raises:
        UserError: an unknown station, none at all, or pipes that cannot be solved.
    """
    named = tuple(dict.fromkeys(stations))
    unknown = [name for name in named if name not in course.ground.stations.index]
    if unknown or not named:
        what = f"There is no station '{unknown[0]}'" if unknown else "No station is named"
        raise UserError(f"{what}. Name one of its {len(course.ground.stations):,} stations by id.")
    network = solvable_network(course)
    with Engine(network) as engine:
        solution = engine.solve(network.heads_of_stations([named]))
    owner = course.ground.heads["station"]
    known = set(network.heads)
    mine = owner.index[owner.isin(named)]
    left_out = tuple(str(head) for head in mine if head not in known)
    return SolvedMinute(
        named,
        _head_rows(course, solution),
        _pipe_rows(course, solution),
        _pump_rows(solution),
        float(np.nansum(solution.feed_flow_l_s[0])),
        float(solution.duty.station_kw[0]),
        bool(solution.holds[0].all()),
        left_out,
        solution.findings,
    )


def _head_rows(course: Course, solution: Solution) -> pd.DataFrame:
    network = solution.network
    least, short = _short(solution, course.settings.night)
    nozzle = network.emitters.at_nozzle_kpa(solution.pressure_kpa[0])
    labels = course.ground.heads["label"].reindex(list(network.heads))
    rows = pd.DataFrame(
        {
            "label": labels.to_numpy(dtype=object),
            "station": network.station.astype(object),
            "pressure_kpa": solution.pressure_kpa[0],
            "least_kpa": np.where(least > 0, least, np.nan),
            "nozzle_kpa": nozzle,
            "flow_l_s": solution.flow_l_s[0],
            "radius_m": solution.radius_m[0],
            "short": short[0],
        },
        index=pd.Index(list(network.heads), name="head"),
    )[solution.is_open[0]]
    over = (rows["pressure_kpa"] - rows["least_kpa"].fillna(0.0)).sort_values(kind="stable")
    ordered: pd.DataFrame = rows.loc[over.index]
    return ordered


def _pipe_rows(course: Course, solution: Solution) -> pd.DataFrame:
    """Of each pipe its link with the greatest velocity."""
    network = solution.network
    links = pd.DataFrame(
        {
            "pipe": network.owner.astype(str),
            "flow_l_s": np.abs(solution.link_flow_l_s[0]),
            "velocity_m_s": solution.velocity_m_s[0],
            "limit_m_s": link_limits_m_s(network, course.ground, course.settings.night),
        }
    )[network.kind == "pipe"]
    links["share"] = links["velocity_m_s"] / links["limit_m_s"]
    worst = links.sort_values(["share", "pipe"], ascending=[False, True], kind="stable")
    rows = worst.drop_duplicates("pipe").set_index("pipe")
    rows.insert(0, "words", [pipe_words(course.ground, str(pipe)) for pipe in rows.index])
    carrying: pd.DataFrame = rows[rows["flow_l_s"] > _STILL_L_S]
    return carrying


def _pump_rows(solution: Solution) -> pd.DataFrame:
    duty = solution.duty
    columns: dict[str, Any] = {
        name: getattr(duty, name)[0]
        for name in ("flow_l_s", "head_m", "speed", "efficiency", "power_kw")
    }
    names = [pump.id for pump in solution.network.pumps]
    return pd.DataFrame(columns, index=pd.Index(names, name="pump"))


def film_pressures(course: Course, night: Night, frames: Sequence[Frame]) -> FilmPressures:
    """Pressures of every frame of a film, by the solved pipes.

    Args:
        course: the course, its record as it is now.
        night: whose film it is.
        frames: of it.

    Returns:
        One answer a frame; none, with the reason, where the pipes cannot be solved.
    """
    try:
        network = solvable_network(course)
        with Engine(network) as engine:
            solution = engine.solve(network.heads_of_stations([frame.open for frame in frames]))
    except UserError as refused:
        return FilmPressures(reason=str(refused))
    _, short = _short(solution, course.settings.night)
    pressure = np.where(solution.is_open, solution.pressure_kpa, np.nan)
    limits = link_limits_m_s(network, course.ground, course.settings.night)
    share = np.nan_to_num(solution.velocity_m_s / limits).max(axis=1, initial=0.0)
    return FilmPressures(
        tuple(
            _frame(network, pressure[row], short[row], float(share[row]), float(power))
            for row, power in enumerate(solution.duty.station_kw)
        )
    )


def _frame(
    network: HydraulicNetwork, pressure_kpa: Numbers, short: Flags, share: float, power_kw: float
) -> FramePressure:
    stations = frozenset(str(name) for name in network.station[short])
    if np.isnan(pressure_kpa).all():
        return FramePressure(float("nan"), "", stations, 0, share, power_kw)
    lowest = int(np.nanargmin(pressure_kpa))
    return FramePressure(
        float(pressure_kpa[lowest]),
        network.heads[lowest],
        stations,
        int(short.sum()),
        share,
        power_kw,
    )
