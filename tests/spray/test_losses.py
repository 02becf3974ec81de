"""Losses: the published regressions by hand, their ranges, what they cannot say."""

from __future__ import annotations

import math

import numpy as np
import pytest

from nightwater.findings import UserError
from nightwater.spray.losses import LOSS_RULES, loss_findings, lost_share


@pytest.mark.parametrize(
    ("rule", "wind", "humidity", "share"),
    [
        ("day", 0.0, 0.0, 0.207),
        ("day", 2.0, 50.0, 0.1609),  # 20.7 + 0.74 − 5.35
        ("day", 4.0, 40.0, 0.20236),
        ("night", 0.0, math.nan, 0.037),
        ("night", 1.0, math.nan, 0.0501),
        ("night", 2.0, 95.0, 0.0894),
        ("day_and_night", 3.0, 60.0, 0.13982),  # 20.3 + 1.926 − 8.244
    ],
)
def test_by_hand(rule: str, wind: float, humidity: float, share: float) -> None:
    """Playán et al. 2005, equations 13, 2 and 15, worked by hand."""
    assert float(lost_share(rule, wind, humidity)) == pytest.approx(share, abs=5e-7)


def test_means_of_the_trials_are_met() -> None:
    """Solid sets lost 15.4 % by day, 8.5 % by night (from memory); middling weather gives such."""
    assert 0.12 < float(lost_share("day", 2.5, 55)) < 0.19
    assert 0.04 < float(lost_share("night", 1.5)) < 0.10


def test_missing_and_meaningless_give_nan() -> None:
    assert np.isnan(lost_share("day", [math.nan, -1, 2, 2, 2], [50, 50, math.nan, 101, -1])).all()
    assert not np.isnan(lost_share("night", 1.0))
    assert math.isnan(float(lost_share("day", 0.0, 100.0)))  # less than nothing
    assert math.isnan(float(lost_share("night", 9.0)))  # more than all


def test_arrays_and_integers() -> None:
    found = lost_share("day", np.array([[1], [2]]), np.array([40, 50, 60]))
    assert found.shape == (2, 3)
    assert (np.diff(found, axis=1) < 0).all()  # moister air loses less
    assert (np.diff(found, axis=0) > 0).all()  # wind loses more


def test_an_unknown_rule_is_refused() -> None:
    for ask in (lost_share, loss_findings):
        with pytest.raises(UserError, match=r"no rule 'dusk' for losses. Known: day, night"):
            ask("dusk", 1.0)


def test_beyond_the_trials_is_told() -> None:
    assert loss_findings("day", 3.0, 50.0) == []
    assert loss_findings("night", 1.0) == []
    (found,) = loss_findings("day", 8.0, 20.0)
    assert found.code == "losses-beyond-trials"
    assert "wind 8 m/s (trials: 0.6 to 6.8) and humidity 20 %" in found.message
    assert len(loss_findings("night", 5.0)) == 1
    assert len(loss_findings("day", math.nan, 50.0)) == 1


@pytest.mark.parametrize("name", list(LOSS_RULES))
def test_every_rule_names_its_source(name: str) -> None:
    assert "Playán et al. 2005" in LOSS_RULES[name].words
