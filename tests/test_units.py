"""Conversions there and back, against published definitions."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nightwater.findings import UserError
from nightwater.units import (
    UNITS,
    UnitSystem,
    from_si,
    read_column,
    read_row,
    shown,
    to_si,
    unit_named,
)

# NIST Special Publication 811 (2008), appendix B.8, to the digits printed there.
NIST_811 = [
    ("acre", 1, 4.046873e3),  # printed for the survey foot; see the tolerance below
    ("ft", 1, 3.048e-1),
    ("in", 1, 25.4),
    ("mile", 1, 1609.344),
    ("psi", 1, 6.894757),
    ("bar", 1, 100.0),
    ("hp", 1, 0.7456999),
    ("gal", 1, 3.785412e-3),
    ("gpm", 1, 6.309020e-2),
    ("acre-ft", 1, 1233.489),
    ("mph", 1, 0.44704),
    ("knot", 1, 0.5144444),
    ("langley", 1, 0.04184),
    ("yd", 1, 0.9144),
]


@pytest.mark.parametrize(("symbol", "value", "inside"), NIST_811)
def test_factor_agrees_with_nist_sp_811(symbol: str, value: float, inside: float) -> None:
    # The acre and acre-foot are printed for the US survey foot, 2 ppm longer per length.
    tolerance = 7e-6 if symbol.startswith("acre") else 5e-7
    assert float(to_si(value, symbol)) == pytest.approx(inside, rel=tolerance)


def test_survey_foot_is_1200_over_3937_metre() -> None:
    assert float(to_si(3937, "us-ft")) == pytest.approx(1200.0, abs=1e-12)


@pytest.mark.parametrize(("fahrenheit", "celsius"), [(32, 0), (212, 100), (-40, -40), (98.6, 37)])
def test_fahrenheit_fixed_points(fahrenheit: float, celsius: float) -> None:
    assert float(to_si(fahrenheit, "F")) == pytest.approx(celsius, abs=1e-9)


@pytest.mark.parametrize(
    ("symbol", "us", "other", "factor"),
    [
        ("acre", 1.0, "ft2", 43560.0),
        ("gal", 27154.0, "m3", 27154 * 3.785411784e-3),
        ("acre-ft", 1.0, "gal", 325851.4),
        ("psi", 1.0, "m-water", 0.70307),
    ],
)
def test_trade_identities(symbol: str, us: float, other: str, factor: float) -> None:
    assert float(from_si(to_si(us, symbol), other)) == pytest.approx(factor, rel=2e-6)


@given(st.sampled_from(sorted(UNITS)), st.floats(-1e6, 1e6))
def test_every_unit_there_and_back(symbol: str, value: float) -> None:
    back = float(from_si(to_si(value, symbol), symbol))
    assert back == pytest.approx(value, rel=1e-12, abs=1e-9)


def test_arrays_keep_shape_integers_are_welcome_and_nan_stays() -> None:
    given_values = np.array([[1, 2], [3, 4]])
    assert to_si(given_values, "in").shape == (2, 2)
    assert given_values.dtype.kind == "i"
    assert np.isnan(to_si([np.nan, 1.0], "psi")).tolist() == [True, False]


def test_unknown_unit_names_the_nearest() -> None:
    with pytest.raises(UserError, match="Did you mean 'gpm'"):
        unit_named("gpms")


@pytest.mark.parametrize(
    ("value", "suffix", "system", "text"),
    [
        (25.4, "mm", UnitSystem.US, "1.00 in"),
        (25.4, "mm", UnitSystem.METRIC, "25.4 mm"),
        (113.56, "l_s", UnitSystem.US, "1,800 gpm"),
        (float("nan"), "mm", UnitSystem.US, "–"),
        (None, "kpa", UnitSystem.METRIC, "–"),
        (827.37, "kpa", UnitSystem.US, "120 psi"),
        (4046.8564224, "m2", UnitSystem.US, "1.00 acre"),
    ],
)
def test_shown_numbers_carry_their_unit(
    value: float | None, suffix: str, system: UnitSystem, text: str
) -> None:
    assert shown(value, suffix, system) == text


def test_every_unit_has_a_quantity_that_some_inside_unit_stands_for() -> None:
    inside = {unit.quantity for unit in UNITS.values() if unit.factor == 1 and unit.offset == 0}
    assert {unit.quantity for unit in UNITS.values()} == inside


@pytest.mark.parametrize(
    ("name", "system", "read", "inside", "value"),
    [
        ("need_mm", UnitSystem.US, "need_in", 25.4, 1.0),
        ("need_mm", UnitSystem.METRIC, "need_mm", 25.4, 25.4),
        ("used_m3", UnitSystem.US, "used_gal", 3.785411784, 1000.0),
        ("rate_mm_h", UnitSystem.US, "rate_in_h", 50.8, 2.0),
        ("flow_l_s", UnitSystem.US, "flow_gpm", 0.0630901964, 1.0),
        ("velocity_m_s", UnitSystem.US, "velocity_ft_s", 1.524, 5.0),
        ("pressure_kpa", UnitSystem.METRIC, "pressure_bar", 250.0, 2.5),
        ("run_min", UnitSystem.US, "run_min", 12, 12),
        ("evidence", UnitSystem.US, "evidence", "metered", "metered"),
        ("used_m3", UnitSystem.US, "used_gal", None, None),
    ],
)
def test_a_column_is_read_in_the_readers_unit_and_says_so(
    name: str, system: UnitSystem, read: str, inside: object, value: object
) -> None:
    assert read_column(name, system).name == read
    row = read_row({name: inside}, system)
    assert list(row) == [read]
    assert row[read] == (pytest.approx(value) if isinstance(value, float) else value)


def test_a_missing_number_stays_missing_in_any_unit() -> None:
    assert np.isnan(read_row({"need_mm": float("nan")}, UnitSystem.US)["need_in"])


def test_a_yes_is_no_number_though_its_name_ends_in_a_unit() -> None:
    assert read_row({"is_mm": True}, UnitSystem.US) == {"is_in": True}
