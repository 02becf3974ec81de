"""A rehearsal on the solved pipes: against another solver, books that close, faults that show."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Point, box

from nightwater.findings import UserError
from nightwater.ground.record import Ground, ground_from
from nightwater.ground.settings import MinuteRules, NightRules
from nightwater.night.plan import Bound, Night, Run, Window
from nightwater.night.referee_record import station_facts
from nightwater.night.rehearsal import Faults, Rehearsal, rehearse
from nightwater.night.rehearsal_faults import MARGIN_MIN
from nightwater.night.rehearsal_field import STEP_S, Opening, by_head, head_factors
from nightwater.night.rehearsal_water import LEAK, open_by_step

from ..pipes import newton

ZONE = ZoneInfo("America/Denver")
WINDOW = Window(datetime(2025, 7, 10, 21, tzinfo=ZONE), datetime(2025, 7, 11, 1, tzinfo=ZONE))
KPA_PER_M = 9.80665
SPACING_M, BORE_MM, C = 100.0, 80.0, 140.0
SET_KPA, NOZZLE_KPA, NOZZLE_L_S = 600.0, 400.0, 1.0


def frame(rows: dict[str, dict[str, Any]]) -> pd.DataFrame:
    return pd.DataFrame.from_dict(rows, orient="index")


def ground_of(heads: int = 6, *, regulated: bool = False, **pump: Any) -> Ground:
    """A main along x with a head on it every 100 m, each its own station."""
    length = SPACING_M * heads
    row = {"capacity_l_s": 40.0, "head_m": 90.0, "set_pressure_kpa": SET_KPA, "elevation_m": 0.0}
    row |= {"pump_efficiency": 0.8, "motor_efficiency": 0.9, "geometry": Point(0, 0)} | pump
    nozzle = {"pressure_kpa": NOZZLE_KPA, "flow_l_s": NOZZLE_L_S, "radius_m": 20.0}
    return ground_from(
        "EPSG:32613",
        {
            "areas": frame(
                {"A": {"kind": "rough", "geometry": MultiPolygon([box(0, -20, length, 20)])}}
            ),
            "heads": frame(
                {
                    f"H{i}": {
                        "station": f"S{i}", "nozzle": "N", "elevation_m": 0.0,
                        "regulated": regulated, "geometry": Point(SPACING_M * (i + 1), 0),
                    }
                    for i in range(heads)
                }
            ),
            "nozzles": frame({"N": nozzle}),
            "stations": frame({f"S{i}": {"controller": "A"} for i in range(heads)}),
            "controllers": frame({"A": {}}),
            "pumps": frame({"P": row}),
            "meters": frame({"M1": {"geometry": Point(0, 0)}}),
            "pipes": frame(
                {
                    "main": {
                        "kind": "main", "diameter_mm": BORE_MM, "hazen_williams_c": C,
                        "geometry": MultiLineString([LineString([(0, 0), (length, 0)])]),
                    }
                }
            ),
        },
    )  # fmt: skip


def night_of(*runs: Run) -> Night:
    finish = max((run.start_min + run.run_min for run in runs), default=0)
    return Night(
        night=date(2025, 7, 10), window=WINDOW, runs=runs, left_out=(),
        flow_l_s=(0.0,) * WINDOW.minutes, bound=Bound(finish, "pump"), finish_min=finish,
        sums=(), findings=(), pump_l_s=40.0,
    )  # fmt: skip


@pytest.fixture
def night() -> Night:
    """Station after station, and from 22:00 to 22:30 the first three together."""
    after = [Run(f"S{i}", 5 * i, 5, 1, 2) for i in range(6)]
    return night_of(*after, *(Run(f"S{i}", 60, 30, 2, 2) for i in range(3)))


def series(run: Rehearsal, name: str = "flow_l_s") -> np.ndarray:
    return run.samples[name].to_numpy()[MARGIN_MIN : MARGIN_MIN + WINDOW.minutes]


def other_solver(k: dict[int, float], set_kpa: float = SET_KPA) -> tuple[np.ndarray, np.ndarray]:
    """Heads [m] and flows [L/s] of the main by tests' own Newton solver; node 0 is the pump."""
    net = newton.Net(
        levels=np.zeros(7),
        fixed={0: set_kpa / KPA_PER_M},
        pipes=[(i, i + 1, SPACING_M, BORE_MM / 1000, C) for i in range(6)],
        k=k,
    )
    heads, flows = newton.solve(net)
    return heads, flows * 1000


def k_of(flow_l_s: float) -> float:
    """m³/s per root of a metre of water, of a nozzle's flow at its pressure."""
    return flow_l_s / 1000 / np.sqrt(NOZZLE_KPA / KPA_PER_M)


def test_lowest_pressures_are_another_solvers_within_a_centimetre(night: Night) -> None:
    ground = ground_of()
    run = rehearse(night, ground, Faults(), seed=4)
    assert "different sets" in run.words
    assert run.findings == ()

    facts = station_facts(ground, MinuteRules())
    factors = by_head(facts, head_factors(night, facts, Faults(), np.random.default_rng(4)))
    alone = {i: other_solver({i + 1: k_of(NOZZLE_L_S * factors[f"H{i}"])}) for i in range(6)}
    three = other_solver({i + 1: k_of(NOZZLE_L_S * factors[f"H{i}"]) for i in range(3)})
    for i in range(6):
        heads = [alone[i][0][i + 1], *([three[0][i + 1]] if i < 3 else [])]
        assert run.heads.loc[f"H{i}", "lowest_kpa"] == pytest.approx(
            min(heads) * KPA_PER_M, abs=0.01 * KPA_PER_M
        )
    steady = series(run)[62:88].mean()
    assert steady == pytest.approx(three[1][0], rel=0.005)  # the meter's noise, half a per cent


def test_the_log_is_that_of_a_field_without_pipes(night: Night) -> None:
    """Chance is drawn alike, so that solving the pipes changes no opening and no closing."""
    with_pipes = rehearse(night, ground_of(), Faults(), seed=9).commands
    bare = ground_of().with_table("pipes", ground_of().pipes.iloc[:0])
    without = rehearse(night, bare, Faults(), seed=9)
    pd.testing.assert_frame_equal(with_pipes, without.commands)
    assert "the pipes are not solved" in without.words
    assert "Survey the pipes" in without.words
    assert without.heads.empty
    assert without.short.empty


@settings(max_examples=15, deadline=None)
@given(
    st.lists(
        st.tuples(st.integers(0, 5), st.integers(0, 150), st.integers(2, 40)),
        max_size=8, unique_by=lambda row: row[0],
    ),
    st.integers(0, 2**31),
    st.sampled_from([0.0, 1.5]),
)  # fmt: skip
def test_what_the_meter_counts_is_what_heads_and_leak_gave(
    rows: list[tuple[int, int, int]], seed: int, leak: float
) -> None:
    night = night_of(*(Run(f"S{i}", start, length, 1, 1) for i, start, length in rows))
    run = rehearse(night, ground_of(), Faults(leak_l_s=leak), seed=seed)
    metered = run.samples["flow_l_s"].sum() * 60
    assert metered == pytest.approx(run.heads["litres"].sum(), rel=5e-3, abs=1e-6)
    assert (LEAK in run.heads.index) == (leak > 0)


def test_a_leak_gives_its_flow_at_the_set_pressure_and_less_with_less(night: Night) -> None:
    quiet = rehearse(night, ground_of(), Faults(leak_l_s=2.0), seed=1)
    first = quiet.samples["flow_l_s"].iloc[2:MARGIN_MIN].mean()
    assert 1.8 < first < 2.02  # 2 L/s at the pumps' pressure, a little less down the main
    weak = rehearse(night, ground_of(), Faults(leak_l_s=2.0, pump_pressure_share=0.25), seed=1)
    half = weak.samples["flow_l_s"].iloc[2:MARGIN_MIN].mean()
    assert half == pytest.approx(first * 0.5, rel=0.03)  # q ~ √p
    late = rehearse(night, ground_of(), Faults(leak_l_s=2.0, leak_from="23:30"), seed=1)
    assert late.samples["flow_l_s"].iloc[:MARGIN_MIN].max() == 0.0
    assert late.samples["flow_l_s"].iloc[-MARGIN_MIN + 1 :].mean() == pytest.approx(first, rel=0.1)


def test_pumps_that_hold_less_starve_heads_and_are_told(night: Night) -> None:
    ground = ground_of(regulated=True)
    sound = rehearse(night, ground, Faults(), seed=1)
    assert sound.short.empty
    weak = rehearse(night, ground, Faults(pump_pressure_share=0.5), seed=1)
    assert set(weak.short.index) == {f"H{i}" for i in range(6)}
    held = series(weak, "pressure_kpa")[60:90].mean()
    assert held == pytest.approx(0.5 * SET_KPA, rel=0.01)
    assert series(weak)[62:88].mean() < 0.95 * series(sound)[62:88].mean()
    # an open nozzle below its pressure: q = K √p
    first = weak.heads.loc["H0"]
    assert first["least_kpa"] == pytest.approx(0.9 * NOZZLE_KPA)
    assert first["short_min"] == pytest.approx(35, abs=0.5)  # 5 alone and 30 with two others


def test_half_open_dead_and_stuck_stations_show(night: Night) -> None:
    ground = ground_of()
    sound = rehearse(night, ground, Faults(), seed=2).heads["litres"]
    half = rehearse(night, ground, Faults(half_open_stations=("S4",)), seed=2).heads["litres"]
    assert half["H4"] == pytest.approx(0.5 * sound["H4"], rel=0.05)
    dead = rehearse(night, ground, Faults(dead_stations=("S4",)), seed=2).heads["litres"]
    assert dead["H4"] == 0
    stuck = rehearse(night, ground, Faults(stuck_stations=("S5",)), seed=2)
    assert stuck.samples["flow_l_s"].iloc[-5:].min() > 1.0


def test_a_trip_leaves_heads_without_water_for_its_minutes(night: Night) -> None:
    faults = Faults(pump_trip_at="22:10", pump_restart_at="22:20")
    run = rehearse(night, ground_of(), faults, seed=1)
    assert run.heads.loc["H0", "short_min"] == pytest.approx(10, abs=0.2)
    assert run.heads.loc["H0", "lowest_kpa"] == 0.0
    assert run.heads.loc["H5", "short_min"] == pytest.approx(0, abs=0.1)
    whole = rehearse(night, ground_of(), Faults(), seed=1).heads.loc["H0", "litres"]
    assert run.heads.loc["H0", "litres"] == pytest.approx(whole * 25 / 35, rel=0.03)


def test_pumps_beyond_their_curve_are_told_by_the_engine(night: Night) -> None:
    small = ground_of(capacity_l_s=1.0, head_m=65.0)
    run = rehearse(night, small, Faults(), seed=1)
    assert "pump-cannot-hold" in {finding.code for finding in run.findings}
    assert series(run, "pressure_kpa")[62:88].max() < SET_KPA


def test_power_is_water_power_over_efficiencies(night: Night) -> None:
    run = rehearse(night, ground_of(), Faults(), seed=1).samples.iloc[MARGIN_MIN + 75]
    expected = run["flow_l_s"] * SET_KPA / 1000 / (0.8 * 0.9)
    assert run["power_kw"] == pytest.approx(expected, rel=0.03)


def test_heads_that_no_pipe_reaches_give_the_records_flow(night: Night) -> None:
    ground = ground_of()
    geometry = ground.heads.geometry.copy()
    geometry["H5"] = Point(300, 5000)
    far = ground.with_table("heads", ground.heads.assign(geometry=geometry))
    run = rehearse(night, far, Faults(), seed=1)
    assert "H5" not in run.heads.index
    assert series(run)[26:29].mean() == pytest.approx(NOZZLE_L_S, rel=0.1)


def test_steps_hold_what_is_open_by_them() -> None:
    one = Opening("S0", 0.0, 300.0, 1.0, logged=True)
    other = Opening("S1", 7.0, 62.0, 1.0, logged=True)
    sets, which = open_by_step(night_of(), [one, other], Faults(leak_l_s=1.0, leak_from="21:04"))
    begin = MARGIN_MIN * 60 // STEP_S
    at = lambda second: sets[which[begin + second // STEP_S]]  # noqa: E731
    assert at(0) == {"S0"}
    assert at(5) == at(55) == {"S0", "S1"}
    assert at(60) == {"S0"}
    assert at(240) == {"S0", LEAK}
    assert at(300) == {LEAK}
    assert sets[which[0]] == frozenset()


def test_progress_may_stop_it(night: Night) -> None:
    class StoppedError(Exception):
        pass

    told: list[str] = []

    def stop(step: str) -> None:
        told.append(step)
        raise StoppedError

    with pytest.raises(StoppedError):
        rehearse(night, ground_of(), Faults(), seed=1, progress=stop)
    assert "solving the pipes: 0 of" in told[0]


@pytest.mark.parametrize("share", [0.0, -1.0, 1.2, float("nan")])
def test_a_share_of_pressure_that_is_none_is_refused(night: Night, share: float) -> None:
    with pytest.raises(UserError, match="of their set pressure"):
        rehearse(night, ground_of(), Faults(pump_pressure_share=share), seed=1)


def test_a_floor_of_the_settings_counts(night: Night) -> None:
    rules = NightRules(least_head_kpa=SET_KPA + 10)
    run = rehearse(night, ground_of(), Faults(), seed=1, rules=rules)
    assert len(run.short) == 6
