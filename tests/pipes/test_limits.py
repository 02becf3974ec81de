"""The flow that each pipe may carry."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from nightwater.ground.settings import NightRules
from nightwater.pipes.limits import pipe_limits_l_s
from nightwater.pipes.losses import velocity_m_s

RULES = NightRules(max_velocity_m_s=1.5, loop_margin=0.8)


def pipes(**bores: tuple[float, float]) -> pd.DataFrame:
    """Diameter [mm] and own velocity limit [m/s] by pipe."""
    return pd.DataFrame.from_dict(
        bores, orient="index", columns=["diameter_mm", "max_velocity_m_s"]
    )


def test_limit_is_velocity_times_bore() -> None:
    # π/4 · 0.1² m² · 1.5 m/s = 11.78 L/s
    assert pipe_limits_l_s(pipes(a=(100, np.nan)), (), RULES) == {"a": pytest.approx(11.78097)}


def test_a_pipe_of_its_own_limit_keeps_that() -> None:
    found = pipe_limits_l_s(pipes(a=(100, 1.0), b=(100, np.nan)), (), RULES)
    assert found["a"] == pytest.approx(7.85398)
    assert found["b"] == pytest.approx(11.78097)


def test_the_margin_is_taken_off_on_loops_only() -> None:
    found = pipe_limits_l_s(pipes(a=(100, np.nan), b=(100, np.nan)), {"a"}, RULES)
    assert found["a"] == pytest.approx(0.8 * found["b"])


@pytest.mark.parametrize("bore", [0.0, -1.0, np.nan])
def test_a_pipe_without_bore_has_no_limit_rather_than_none_at_all(bore: float) -> None:
    assert set(pipe_limits_l_s(pipes(a=(bore, np.nan), b=(50, np.nan)), (), RULES)) == {"b"}


def test_limits_carry_exactly_the_velocity() -> None:
    table = pipes(a=(54.58, np.nan), b=(152.2, 1.2))
    for pipe, limit in pipe_limits_l_s(table, (), RULES).items():
        own = table.at[pipe, "max_velocity_m_s"]
        speed = RULES.max_velocity_m_s if np.isnan(own) else own
        assert float(velocity_m_s(limit, table.at[pipe, "diameter_mm"])) == pytest.approx(speed)


def test_defaults_are_five_feet_a_second_and_four_fifths() -> None:
    rules = NightRules()
    assert rules.max_velocity_m_s == pytest.approx(5 * 0.3048)
    assert rules.loop_margin == 0.8
