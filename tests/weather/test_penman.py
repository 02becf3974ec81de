"""The combination equation: limits that can be derived by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.weather import penman

DAY: dict[str, Any] = {
    "temperature_c": 20.0,
    "wind_2_m_m_s": 2.0,
    "deficit_kpa": 1.0,
    "slope_kpa_c": 0.145,
    "gamma_kpa_c": 0.066,
}


def test_without_wind_it_is_the_radiation_term() -> None:
    eto = penman.surface_et_mm(
        penman.SHORT_DAY, net_radiation=14.0, **(DAY | {"wind_2_m_m_s": 0.0})
    )
    assert float(eto) == pytest.approx(0.408 * 0.145 * 14 / (0.145 + 0.066))


def test_in_saturated_air_it_is_the_radiation_term_slowed_by_wind() -> None:
    eto = penman.surface_et_mm(penman.SHORT_DAY, net_radiation=14.0, **(DAY | {"deficit_kpa": 0.0}))
    assert float(eto) == pytest.approx(0.408 * 0.145 * 14 / (0.145 + 0.066 * 1.68))


def test_without_radiation_it_is_the_air_term() -> None:
    eto = penman.surface_et_mm(penman.SHORT_DAY, net_radiation=0.0, **DAY)
    assert float(eto) == pytest.approx(0.066 * 900 / 293 * 2 / (0.145 + 0.066 * 1.68))


def test_night_switches_both_constants_of_an_hour() -> None:
    hour = penman.surface_et_mm(penman.SHORT_HOUR, net_radiation=[-0.1, 0.1], **DAY)
    by_hand = [
        (0.408 * 0.145 * -0.1 * 0.5 + 0.066 * 37 / 293 * 2) / (0.145 + 0.066 * 2.92),
        (0.408 * 0.145 * 0.1 * 0.9 + 0.066 * 37 / 293 * 2) / (0.145 + 0.066 * 1.48),
    ]
    assert hour == pytest.approx(by_hand)


def test_fao56_hours_keep_one_denominator() -> None:
    hour = penman.surface_et_mm(penman.FAO56_HOUR, net_radiation=[-0.1], **DAY)
    by_hand = (0.408 * 0.145 * -0.1 * 0.5 + 0.066 * 37 / 293 * 2) / (0.145 + 0.066 * 1.68)
    assert hour == pytest.approx([by_hand])


@given(
    net=st.floats(0, 20),
    wind=st.floats(0.1, 10),
    deficit=st.floats(0.05, 6),
    temperature=st.floats(-5, 45),
)
def test_tall_reference_uses_more_in_dry_wind(
    net: float, wind: float, deficit: float, temperature: float
) -> None:
    terms = {
        "net_radiation": 0.0 * net,
        "temperature_c": temperature,
        "wind_2_m_m_s": wind,
        "deficit_kpa": deficit,
        "slope_kpa_c": 0.145,
        "gamma_kpa_c": 0.066,
    }
    short = penman.surface_et_mm(penman.SHORT_DAY, **terms)
    assert float(penman.surface_et_mm(penman.TALL_DAY, **terms)) > float(short)


def test_nan_in_any_term_gives_nan() -> None:
    for name in DAY:
        result = penman.surface_et_mm(
            penman.SHORT_DAY, net_radiation=14.0, **(DAY | {name: np.nan})
        )
        assert np.isnan(result), name
    assert np.isnan(penman.surface_et_mm(penman.SHORT_DAY, net_radiation=np.nan, **DAY))


def test_shapes_broadcast_and_integers_are_welcome() -> None:
    result = penman.surface_et_mm(
        penman.TALL_DAY, net_radiation=np.array([[10], [12]]), **(DAY | {"deficit_kpa": [1, 2, 3]})
    )
    assert result.shape == (2, 3)


def test_hargreaves_by_hand() -> None:
    got = penman.hargreaves_mm(30, 14, 40)
    assert float(got) == pytest.approx(0.0023 * (22 + 17.8) * 4 * 0.408 * 40)


def test_hargreaves_with_exchanged_extremes_is_nan() -> None:
    assert np.isnan(penman.hargreaves_mm([14, np.nan], [30, 10], 40)).all()
