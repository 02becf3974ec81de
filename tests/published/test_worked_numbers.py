"""Worked numbers of the project's own arithmetic, not a published source.

They were worked out for the trade notes of this project, apart from the code, in the units
that a US superintendent uses; tolerance is half of the last written digit.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from nightwater.soil.intake import cycle_and_soak, equal_cycles_min, longest_cycle_min, soak_min
from nightwater.soil.leaching import leaching_requirement
from nightwater.soil.moisture import days_of_water, hand_water_m3, moisture_store_mm
from nightwater.spray.catch_cans import catch_rate_mm_h
from nightwater.spray.rate import precipitation_rate_mm_h
from nightwater.spray.uniformity import christiansen_cu, du_lh, du_lq, run_time_multiplier
from nightwater.units import MINUTES_PER_HOUR, from_si, to_si

SPACING_M = float(to_si(65, "ft"))
ROW_M = SPACING_M * math.sqrt(3) / 2
FLOW_L_S = float(to_si(27.5, "gpm"))
CANS_ML = np.array(
    [38, 35, 33, 31, 30, 29, 29, 28, 28, 27, 27, 26, 26, 25, 25, 24, 24, 23, 22, 21, 20, 19, 17, 15]
)


def in_h(rate_mm_h: object) -> float:
    return float(from_si(np.asarray(rate_mm_h, dtype=float), "in/h"))


def test_w2_rate_of_a_large_rotor_on_a_65_ft_triangle() -> None:
    rate = precipitation_rate_mm_h(FLOW_L_S, SPACING_M, ROW_M)
    # The notes round 96.25 to 96.3 and 0.8660 to 0.866: 0.7238 against 0.7234.
    assert in_h(rate) == pytest.approx(0.724, abs=0.001)
    assert float(rate) == pytest.approx(18.4, abs=0.05)


def test_w3_the_same_nozzle_at_180_degrees() -> None:
    rate = precipitation_rate_mm_h(FLOW_L_S, SPACING_M, ROW_M, 180)
    assert in_h(rate) == pytest.approx(1.45, abs=0.005)


@pytest.mark.parametrize(
    ("name", "minutes"),
    [("none", 18.6), ("du_lq", 22.1), ("efficiency", 23.8), ("inverse_du", 25.3)],
)
def test_w4_minutes_for_0_224_in_net(name: str, minutes: float) -> None:
    rate = float(precipitation_rate_mm_h(FLOW_L_S, SPACING_M, ROW_M))
    net = float(to_si(0.224, "in"))
    multiplier = float(run_time_multiplier(name, 0.733, 0.78))
    assert MINUTES_PER_HOUR * net / rate * multiplier == pytest.approx(minutes, abs=0.05)


def test_w5_longest_cycle_and_soak_at_an_intake_of_0_20() -> None:
    rate, intake = to_si(0.724, "in/h"), to_si(0.20, "in/h")
    storage = to_si(0.10, "in")
    assert float(longest_cycle_min(rate, intake, storage)) == pytest.approx(11.5, abs=0.05)
    assert float(soak_min(intake, storage)) == pytest.approx(30.0, abs=0.05)


def test_w5_22_minutes_are_two_cycles() -> None:
    values = (float(to_si(x, unit)) for x, unit in ((0.724, "in/h"), (0.20, "in/h"), (0.10, "in")))
    longest, soak = cycle_and_soak(22, *values, 0.0)
    assert (longest, soak) == (11, 30)
    assert equal_cycles_min(22, longest) == (11, 11)


def test_w7_twenty_four_cans() -> None:
    assert CANS_ML.mean() == pytest.approx(25.92, abs=0.005)
    assert np.sort(CANS_ML)[:6].mean() == pytest.approx(19.0, abs=0.05)
    assert du_lq(CANS_ML) == pytest.approx(0.733, abs=5e-4)
    assert du_lh(CANS_ML) == pytest.approx(0.839, abs=5e-4)
    assert christiansen_cu(CANS_ML) == pytest.approx(0.839, abs=5e-4)
    multiplier = run_time_multiplier("du_lq", du_lq(CANS_ML), 1)
    assert float(multiplier) == pytest.approx(1.191, abs=5e-4)


def test_w8_rate_of_those_cans() -> None:
    throat_m2 = 16.5 * float(to_si(1, "in") / 1000) ** 2
    rate = catch_rate_mm_h(CANS_ML.mean() / 1000, throat_m2, 15)
    # 3.66 · 25.92 / (16.5 · 15); the rounded constant makes 0.383 of 0.3835.
    assert in_h(rate) == pytest.approx(0.383, abs=0.001)


def test_w9_water_by_hand_for_a_green() -> None:
    water = hand_water_m3(to_si(6200, "ft2"), to_si(0.03, "in"))
    assert float(from_si(water, "gal")) == pytest.approx(116, abs=0.5)


def test_w10_store_of_a_green_from_moisture() -> None:
    roots = to_si(4, "in")
    whole, to_trigger = (moisture_store_mm(roots, 22, down_to) for down_to in (6, 13))
    assert float(from_si(whole, "in")) == pytest.approx(0.64, abs=0.005)
    assert float(from_si(to_trigger, "in")) == pytest.approx(0.36, abs=0.005)
    assert float(days_of_water(to_trigger, to_si(0.249, "in"))) == pytest.approx(1.4, abs=0.05)


@pytest.mark.parametrize(("soil", "share"), [(4, 0.075), (3, 0.103)])
def test_w11_leaching_of_water_of_1_4_ds_m(soil: float, share: float) -> None:
    assert float(leaching_requirement(1.4, soil)) == pytest.approx(share, abs=5e-4)
