"""The rules of thumb by hand."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import sparse

from nightwater.night.plain_rules import (
    adequacy,
    lacking_mm,
    minutes_by_footprint,
    minutes_by_kind,
    scale_to_adequacy,
    scale_to_lacking,
)


def test_by_kind_is_mean_need_over_the_rate_of_the_kind() -> None:
    stations = pd.DataFrame(
        {
            "kind": ["green", "green", "rough"],
            "need_mm": [6.0, 3.0, 5.0],
            "flow_l_s": [2.0, 1.0, 1.5],
            "wetted_m2": [600.0, 480.0, 540.0],
        },
        index=["S1", "S2", "S3"],
    )
    minutes = minutes_by_kind(stations)
    # Greens: 3 L/s on 1,080 m² are 10 mm/h; need (6·2 + 3·1)/3 = 5 mm. Rough: 10 mm/h, 5 mm.
    assert minutes.to_dict() == pytest.approx({"S1": 30.0, "S2": 30.0, "S3": 30.0})


def test_by_footprint_is_mean_need_over_mean_rate_where_its_water_falls() -> None:
    rates = sparse.csr_array(np.array([[0.2, 0.0], [0.4, 0.2], [0.0, 0.6]]))
    need = np.array([6.0, 6.0, 3.0])
    # S0: need 0.2·6 + 0.4·6 over rate 0.2·0.2 + 0.4·0.6.
    # S1: need 0.2·6 + 0.6·3 over rate 0.2·0.6 + 0.6·0.6.
    assert minutes_by_footprint(rates, need).tolist() == pytest.approx([3.6 / 0.28, 3.0 / 0.48])


def test_a_station_that_wets_nothing_and_a_need_that_is_not_known_count_as_nothing() -> None:
    rates = sparse.csr_array(np.array([[0.2, 0.0], [0.2, 0.0]]))
    assert minutes_by_footprint(rates, np.array([6.0, np.nan])).tolist() == pytest.approx(
        [15.0, 0.0]
    )


def test_adequacy_is_the_share_of_counted_cells_that_get_their_need() -> None:
    depth, need = np.array([5.0, 6.0, 7.0, 0.0]), np.full(4, 6.0)
    assert adequacy(depth, need, np.ones(4, bool)) == 0.5
    assert adequacy(depth, need, np.array([False, True, True, False])) == 1.0
    assert np.isnan(adequacy(depth, need, np.zeros(4, bool)))


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9, 1.0])
def test_scaled_minutes_reach_the_share_and_no_less_do(share: float) -> None:
    random = np.random.default_rng(2)
    depth, need = random.uniform(1, 9, 200), random.uniform(4, 7, 200)
    counted = random.uniform(size=200) < 0.9
    factor = scale_to_adequacy(depth, need, counted, share)
    assert adequacy(depth * factor, need, counted) >= share - 1 / counted.sum()
    assert adequacy(depth * factor * 0.98, need, counted) < share


def test_a_cell_that_gets_nothing_cannot_be_scaled() -> None:
    assert scale_to_adequacy(np.array([0.0]), np.array([5.0]), np.ones(1, bool), 1.0) == np.inf


def test_a_cell_that_needs_nothing_asks_for_no_longer_minutes() -> None:
    depth, need = np.array([0.0, 3.0]), np.array([0.0, 6.0])
    assert scale_to_adequacy(depth, need, np.ones(2, bool), 1.0) == 2.0
    assert scale_to_adequacy(np.zeros(2), need, np.ones(2, bool), 1.0) == np.inf


@pytest.mark.parametrize("share", [0.02, 0.3, 0.9])
def test_a_rule_is_scaled_to_lack_no_more(share: float) -> None:
    random = np.random.default_rng(5)
    depth, need = random.uniform(1, 9, 300), random.uniform(4, 7, 300)
    counted = random.uniform(size=300) < 0.9
    most = share * need[counted].sum()
    factor = scale_to_lacking(depth, need, counted, most)
    assert lacking_mm(depth * factor, need, counted) == pytest.approx(most)


def test_the_least_factor_by_hand() -> None:
    # Needs 6, 6 and 0; depths 2, 4 and 1. Twice as long the first lacks 2 mm, the second nothing.
    depth, need, every = np.array([2.0, 4.0, 1.0]), np.array([6.0, 6.0, 0.0]), np.ones(3, bool)
    assert scale_to_lacking(depth, need, every, 2.0) == pytest.approx(2.0)
    assert scale_to_lacking(depth, need, every, 0.0) == pytest.approx(3.0)
    assert scale_to_lacking(depth, need, every, 12.0) == 0.0
    assert scale_to_lacking(depth, need, every, 6.0) == pytest.approx(1.0)  # 4 and 2 mm


def test_a_dry_cell_lacks_its_whole_need_whatever_the_minutes() -> None:
    depth, need, every = np.array([0.0, 2.0]), np.array([5.0, 4.0]), np.ones(2, bool)
    assert scale_to_lacking(depth, need, every, 4.9) == np.inf
    assert scale_to_lacking(depth, need, every, 5.0) == pytest.approx(2.0)
    assert scale_to_lacking(depth, need, every, 7.0) == pytest.approx(1.0)
    assert scale_to_lacking(np.zeros(2), np.zeros(2), every, 0.0) == 0.0
