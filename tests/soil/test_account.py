"""The root-zone account: its equations, its balance and its edges."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from nightwater.soil.account import (
    Account,
    Soil,
    curve_number_runoff_mm,
    depletion_fraction,
    run_account,
    stress_coefficient,
)

DAYS, AREAS = 12, 4


def soil(taw_mm: object, p_table: object = 0.4, curve_number: object = 61.0) -> Soil:
    taw, share, number = np.broadcast_arrays(
        *(np.atleast_1d(np.asarray(part, dtype=float)) for part in (taw_mm, p_table, curve_number))
    )
    return Soil(taw, share, number)


def one_area(
    opening: float,
    etc: list[float],
    *,
    rain: list[float] | None = None,
    irrigation: list[float] | None = None,
    taw_mm: float = 40.0,
    curve_number: float = 61.0,
) -> Account:
    zeros = [0.0] * len(etc)
    return run_account(
        np.array([opening]),
        np.array(etc)[:, None],
        np.array(rain or zeros),
        np.array(irrigation or zeros)[:, None],
        soil(taw_mm, curve_number=curve_number),
    )


def numbers(low: float, high: float, shape: tuple[int, ...]) -> st.SearchStrategy[np.ndarray]:
    return arrays(float, shape, elements=st.floats(low, high))


@st.composite
def accounts(draw: st.DrawFn) -> tuple[Account, Soil, np.ndarray]:
    ground = soil(
        draw(numbers(2, 200, (AREAS,))),
        draw(numbers(0.1, 0.8, (AREAS,))),
        draw(numbers(30, 100, (AREAS,))),
    )
    opening = ground.taw_mm * draw(numbers(0, 1, (AREAS,)))
    etc = draw(numbers(0, 15, (DAYS, AREAS)))
    rain = draw(numbers(0, 120, (DAYS,)))
    water = draw(numbers(0, 40, (DAYS, AREAS)))
    return run_account(opening, etc, rain, water, ground), ground, etc


@given(accounts())
def test_every_day_closes(made: tuple[Account, Soil, np.ndarray]) -> None:
    account, _, _ = made
    end = (
        account.depletion_start_mm
        - account.irrigation_mm
        - (account.rain_mm - account.runoff_mm)
        + account.et_mm
        + account.deep_percolation_mm
    )
    # Tolerance: double rounding of terms up to some 200 mm.
    np.testing.assert_allclose(account.depletion_end_mm, end, rtol=0, atol=1e-9)


@given(accounts())
def test_all_days_together_close_and_each_starts_where_the_last_ended(
    made: tuple[Account, Soil, np.ndarray],
) -> None:
    account, _, _ = made
    np.testing.assert_array_equal(account.depletion_start_mm[1:], account.depletion_end_mm[:-1])
    into = (account.irrigation_mm + account.rain_mm - account.runoff_mm).sum(axis=0)
    out = (account.et_mm + account.deep_percolation_mm).sum(axis=0)
    change = account.depletion_start_mm[0] - account.depletion_end_mm[-1]
    np.testing.assert_allclose(into - out, change, rtol=0, atol=1e-8)


@given(accounts())
def test_the_store_stays_between_full_and_empty(made: tuple[Account, Soil, np.ndarray]) -> None:
    account, ground, _ = made
    assert (account.depletion_end_mm >= 0).all()
    assert (account.depletion_end_mm <= ground.taw_mm + 1e-9).all()


@given(accounts())
def test_no_term_is_negative_and_stress_only_takes_away(
    made: tuple[Account, Soil, np.ndarray],
) -> None:
    account, _, etc = made
    for term in (account.et_mm, account.runoff_mm, account.deep_percolation_mm, account.ks):
        assert (term >= -1e-12).all()
    assert (account.ks <= 1).all()
    assert (account.et_mm <= account.ks * etc + 1e-12).all()


@given(accounts())
def test_water_drains_only_from_a_full_store(made: tuple[Account, Soil, np.ndarray]) -> None:
    account, _, _ = made
    assert (account.depletion_end_mm[account.deep_percolation_mm > 1e-9] == 0).all()


def test_a_dry_day_adds_its_et() -> None:
    account = one_area(3.0, [5.0])
    assert account.depletion_end_mm[0, 0] == 8.0
    assert account.deep_percolation_mm[0, 0] == 0


def test_water_of_the_night_enters_before_the_day() -> None:
    account = one_area(9.0, [5.0], irrigation=[6.0])
    assert account.after_irrigation_mm[0, 0] == 3.0
    assert account.depletion_end_mm[0, 0] == 8.0


def test_water_over_field_capacity_serves_the_days_et_before_it_drains() -> None:
    """FAO-56 chapter 8: water above field capacity is lost the same day, following its ET."""
    account = one_area(2.0, [5.0], irrigation=[10.0])
    assert account.deep_percolation_mm[0, 0] == 3.0
    assert account.depletion_end_mm[0, 0] == 0.0
    assert account.after_irrigation_mm[0, 0] == 0.0


def test_equation_88_gives_the_deep_percolation() -> None:
    """DP = (P − RO) + I − ETc − Dr,i−1 where that is positive; sand sheds no 30 mm."""
    account = one_area(4.0, [5.0], rain=[30.0], irrigation=[2.0], curve_number=39.0)
    assert account.runoff_mm[0, 0] == 0.0
    assert account.deep_percolation_mm[0, 0] == pytest.approx(30 + 2 - 5 - 4)


def test_rain_that_runs_off_does_not_enter() -> None:
    dry, wet = one_area(30.0, [5.0]), one_area(30.0, [5.0], rain=[60.0], curve_number=80.0)
    entered = dry.depletion_end_mm[0, 0] - wet.depletion_end_mm[0, 0]
    assert 0 < wet.runoff_mm[0, 0] < 60
    assert entered + wet.deep_percolation_mm[0, 0] == pytest.approx(60 - wet.runoff_mm[0, 0])


def test_light_rain_counts_whole() -> None:
    """No threshold: what falls on turf and does not run off is in the balance."""
    assert one_area(5.0, [5.0], rain=[1.0]).depletion_end_mm[0, 0] == 9.0


def test_a_dry_spell_slows_down_and_never_empties_more_than_the_store() -> None:
    account = one_area(0.0, [6.0] * 60, taw_mm=20.0)
    daily = account.et_mm[:, 0]
    assert (np.diff(daily) <= 1e-12).all()
    assert daily[0] == 6.0
    assert daily[-1] < 0.01
    assert account.depletion_end_mm[-1, 0] == pytest.approx(20.0, abs=0.05)


def test_a_days_et_cannot_exceed_store_and_rain() -> None:
    account = one_area(0.0, [9.0], rain=[1.0], taw_mm=5.0)
    assert account.et_mm[0, 0] == pytest.approx(6.0)
    assert account.depletion_end_mm[0, 0] == 5.0


def test_an_endless_store_only_counts_debt() -> None:
    account = one_area(0.0, [6.0] * 3, taw_mm=np.inf)
    assert account.ks.tolist() == [[1.0]] * 3
    assert account.depletion_end_mm[:, 0].tolist() == [6.0, 12.0, 18.0]


def test_a_missing_day_spoils_its_own_area_only_and_from_then_on() -> None:
    etc = np.full((3, 2), 5.0)
    etc[1, 0] = np.nan
    account = run_account(np.zeros(2), etc, np.zeros(3), np.zeros((3, 2)), soil([40.0, 40.0]))
    assert np.isnan(account.depletion_end_mm[:, 0]).tolist() == [False, True, True]
    assert account.depletion_end_mm[:, 1].tolist() == [5.0, 10.0, 15.0]


def test_areas_do_not_mix() -> None:
    rng = np.random.default_rng(1)
    etc, water = rng.uniform(2, 8, (20, 5)), rng.uniform(0, 9, (20, 5))
    rain, taw = rng.uniform(0, 5, 20), rng.uniform(10, 80, 5)
    together = run_account(np.zeros(5), etc, rain, water, soil(taw))
    for area in range(5):
        alone = run_account(np.zeros(1), etc[:, [area]], rain, water[:, [area]], soil(taw[[area]]))
        np.testing.assert_array_equal(
            together.depletion_end_mm[:, area], alone.depletion_end_mm[:, 0]
        )


def test_rain_may_differ_by_area() -> None:
    rain = np.array([[0.0, 8.0]])
    account = run_account(
        np.full(2, 10.0), np.full((1, 2), 4.0), rain, np.zeros((1, 2)), soil([40.0, 40.0])
    )
    assert account.depletion_end_mm[0].tolist() == [14.0, 6.0]


def test_inputs_are_not_changed() -> None:
    etc, rain, water = np.full((2, 1), 5.0), np.array([3.0, 0.0]), np.full((2, 1), 1.0)
    copies = [array.copy() for array in (etc, rain, water)]
    run_account(np.zeros(1), etc, rain, water, soil(40.0))
    for array, copy in zip((etc, rain, water), copies, strict=True):
        np.testing.assert_array_equal(array, copy)


def test_stress_begins_past_the_readily_available_water() -> None:
    """Equation 84 by hand: TAW 100 mm, p 0.4: none at 40 mm, half at 70 mm, all at 100 mm."""
    ks = stress_coefficient([0, 40, 70, 100], 100, 0.4)
    np.testing.assert_allclose(ks, [1, 1, 0.5, 0], atol=1e-12)


def test_stress_with_missing_or_endless_store() -> None:
    ks = stress_coefficient([5.0, np.nan, 5.0], [np.nan, 40.0, np.inf], 0.4)
    np.testing.assert_array_equal(np.isnan(ks), [True, True, False])
    assert ks[2] == 1.0


def test_share_used_without_stress_shrinks_on_hot_days_within_its_bounds() -> None:
    np.testing.assert_allclose(depletion_fraction(0.4, [5, 0, 10]), [0.4, 0.6, 0.2])
    assert float(depletion_fraction(0.75, 0)) == 0.8
    assert float(depletion_fraction(0.2, 15)) == 0.1
    assert np.isnan(depletion_fraction(np.nan, 5))


def test_no_rain_runs_off_before_a_fifth_of_the_storage() -> None:
    """CN 80: S = 2.5 in, so the first 0.5 in (12.7 mm) stays."""
    np.testing.assert_array_equal(curve_number_runoff_mm([0, 5, 12.7], 80), [0, 0, 0])
    assert float(curve_number_runoff_mm(12.8, 80)) > 0


def test_paved_ground_sheds_all_rain() -> None:
    np.testing.assert_allclose(curve_number_runoff_mm([0, 10, 55], 100), [0, 10, 55])


@given(st.floats(0, 300), st.floats(30, 99), st.floats(0, 50), st.floats(0, 1))
def test_runoff_grows_with_rain_and_curve_number(
    rain: float, number: float, more_rain: float, more_number: float
) -> None:
    low = float(curve_number_runoff_mm(rain, number))
    assert 0 <= low <= rain
    assert float(curve_number_runoff_mm(rain + more_rain, number)) >= low - 1e-12
    assert float(curve_number_runoff_mm(rain, number + more_number)) >= low - 1e-12


def test_runoff_of_nonsense_is_missing() -> None:
    rain, number = [10, 10, 10, -1, np.nan, 10], [0, -5, 101, 70, 70, np.nan]
    assert np.isnan(curve_number_runoff_mm(rain, number)).all()


def test_runoff_takes_integers_and_broadcasts() -> None:
    made = curve_number_runoff_mm(np.array([[50], [100]]), np.array([61, 74, 80]))
    assert made.shape == (2, 3)
    assert (np.diff(made, axis=0) > 0).all()
    assert (np.diff(made, axis=1) > 0).all()
