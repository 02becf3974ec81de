"""Map classes: round steps in the reader's unit, in order, none lost."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.units import UnitSystem, from_si
from nightwater.web.scale import MOST_BANDS, NO_VALUE, round_step, scale_of

US, METRIC = UnitSystem.US, UnitSystem.METRIC


@pytest.mark.parametrize(
    ("highest", "step"),
    [(6, 1), (6.01, 2), (12, 2), (13, 2.5), (24, 5), (31, 10), (0.29, 0.05), (0.31, 0.1), (0, 1)],
)
def test_steps_are_round(highest: float, step: float) -> None:
    assert round_step(highest) == pytest.approx(step)


def test_the_legend_in_inches_and_in_millimetres() -> None:
    values = [0.0, 3.0, 7.5]  # 7.5 mm is 0.295 in
    us = [band.words for band in scale_of(values, "mm", US).bands]
    assert us[:2] == ["none", "0.00 – 0.05 in"]
    assert us[-1] == "0.25 – 0.30 in"
    metric = [band.words for band in scale_of(values, "mm", METRIC).bands]
    assert metric[-1] == "6 – 8 mm"


def test_a_value_on_a_border_belongs_to_the_band_that_ends_there() -> None:
    scale = scale_of([24.0], "min", US)
    assert scale.step == 5
    assert [scale.band(v) for v in (0, 0.1, 5, 5.1, 10, 24)] == [0, 1, 1, 2, 2, 5]


def test_missing_is_no_band_and_nothing_is_none() -> None:
    scale = scale_of([10.0, math.nan], "min", US)
    assert scale.band(math.nan) == NO_VALUE
    assert scale.band(0.0) == 0
    assert scale.band(-1.0) == 0


@pytest.mark.parametrize("values", [[], [math.nan], [0.0]])
def test_a_night_without_need_still_has_a_scale(values: list[float]) -> None:
    assert scale_of(values, "mm", US).bands[0].words == "none"


@given(
    st.lists(st.floats(0.01, 200), min_size=1, max_size=40),
    st.sampled_from(["mm", "min"]),
    st.sampled_from([US, METRIC]),
)
def test_every_value_lies_in_the_band_that_its_legend_names(
    values: list[float], suffix: str, units: UnitSystem
) -> None:
    scale = scale_of(values, suffix, units)
    assert 2 <= len(scale.bands) <= MOST_BANDS + 1
    bands = [scale.band(v) for v in sorted(values)]
    assert bands == sorted(bands)
    for value in values:
        band, shown = scale.band(value), float(from_si(value, scale.symbol))
        assert (band - 1) * scale.step <= shown * (1 + 1e-4) + 1e-6 * scale.step
        assert shown <= band * scale.step * (1 + 1e-4)
