"""Turf coefficients: which table, which grass, which month."""

from __future__ import annotations

from itertools import pairwise

import pytest

from nightwater.findings import UserError
from nightwater.ground.settings import NeedRules
from nightwater.ground.tables import GRASSES
from nightwater.soil.coefficients import KC_TABLES, coefficients_of_year, crop_coefficient


def test_every_table_covers_every_grass_for_a_year_with_sane_values() -> None:
    for table in KC_TABLES.values():
        assert set(table) == set(GRASSES)
        for year in table.values():
            assert len(year) == 12
            assert all(0.4 < value < 1.2 for value in year)


def test_the_table_of_the_default_is_one_value_all_year() -> None:
    assert {crop_coefficient("cool_season", month, NeedRules()) for month in range(1, 13)} == {0.95}
    assert {crop_coefficient("warm_season", month, NeedRules()) for month in range(1, 13)} == {0.85}


def test_months_count_from_january() -> None:
    rules = NeedRules(kc_table="uc_anr")
    assert crop_coefficient("cool_season", 1, rules) == 0.61
    assert crop_coefficient("cool_season", 4, rules) == 1.04
    assert crop_coefficient("warm_season", 12, rules) == 0.55


@pytest.mark.parametrize("table", sorted(KC_TABLES))
def test_overseeded_turf_is_ryegrass_in_winter_and_bermuda_in_summer(table: str) -> None:
    rules = NeedRules(kc_table=table)
    for month, twin in ((1, "cool_season"), (4, "cool_season"), (11, "cool_season"),
                        (5, "warm_season"), (7, "warm_season"), (10, "warm_season")):  # fmt: skip
        assert crop_coefficient("warm_overseeded", month, rules) == crop_coefficient(
            twin, month, rules
        )


def test_the_courses_own_list_replaces_one_grass_only() -> None:
    own = (0.7, 0.7, 0.7, 0.8, 0.9, 0.95, 0.95, 0.9, 0.8, 0.7, 0.7, 0.7)
    rules = NeedRules(kc_by_month={"cool_season": own})
    assert coefficients_of_year("cool_season", rules) == own
    assert crop_coefficient("cool_season", 4, rules) == 0.8
    assert crop_coefficient("warm_season", 4, rules) == 0.85


def test_an_own_list_may_come_as_a_list() -> None:
    rules = NeedRules(kc_by_month={"cool_season": [0.8] * 12})  # type: ignore[dict-item]
    assert coefficients_of_year("cool_season", rules) == (0.8,) * 12


@pytest.mark.parametrize("own", [(0.8,) * 11, (0.8,) * 13, (0.0, *(0.8,) * 11), (), (9.0,) * 12,
                                 (float("nan"), *(0.8,) * 11)])  # fmt: skip
def test_a_list_that_is_no_year_is_refused(own: tuple[float, ...]) -> None:
    with pytest.raises(UserError, match="12 numbers"):
        crop_coefficient("cool_season", 7, NeedRules(kc_by_month={"cool_season": own}))


def test_unknown_names_are_refused_with_the_known_ones() -> None:
    with pytest.raises(UserError, match=r"no grass 'moss'.*cool_season"):
        crop_coefficient("moss", 7, NeedRules())
    with pytest.raises(UserError, match=r"no coefficient table 'x'.*fao56"):
        crop_coefficient("cool_season", 7, NeedRules(kc_table="x"))


def test_the_two_tables_disagree_most_in_april() -> None:
    """TRADE: California's 1.04 for cool-season turf in April stands out; the choice must show."""
    rules = NeedRules(kc_table="uc_anr")
    year = coefficients_of_year("cool_season", rules)
    assert max(year) == year[3]
    assert max(abs(a - b) for a, b in pairwise(year)) == pytest.approx(0.29)
