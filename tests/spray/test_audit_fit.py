"""Heads fitted to cans: truth comes back within what the fit says, and no more is claimed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from nightwater.spray.audit_fit import (
    FLOW_SHARE_SD,
    RADIUS_SHARE_SD,
    TILT_DEG_SD,
    fit_heads,
)
from nightwater.spray.point_rate import point_rate_mm_h

LINE = np.arange(2.0, 35.0, 5.0)
X, Y = (part.ravel() for part in np.meshgrid(LINE, LINE))


def caught(truth: Any, rng: Any, share: float = 1.0, noise: float = 0.06) -> Any:
    rate = point_rate_mm_h(truth, X, Y).sum(axis=1)
    return share * rate * np.exp(rng.normal(0.0, noise, rate.size))


def drawn(patterns: Any, rng: Any) -> Any:
    """Heads as the prior expects them."""
    count = len(patterns)
    lean = rng.normal(0.0, TILT_DEG_SD, (2, count))
    return replace(
        patterns,
        radius_m=patterns.radius_m * np.exp(rng.normal(0, RADIUS_SHARE_SD, count)),
        flow_l_s=patterns.flow_l_s * np.exp(rng.normal(0, FLOW_SHARE_SD, count)),
        tilt_deg=np.hypot(*lean),
        tilt_towards_deg=np.degrees(np.arctan2(*lean)) % 360.0,
    )


def test_truth_lies_within_the_stated_uncertainty(square: Any) -> None:
    """12 courses of 9 heads: about 95 of 100 lie within two standard deviations.

    108 values of each kind; 95 % less three standard errors is 89 %, and linearising costs some.
    """
    rng, record = np.random.default_rng(5), square()
    off: dict[str, list[float]] = {"radius": [], "flow": [], "lean": []}
    for _ in range(12):
        truth = drawn(record, rng)
        fit = fit_heads(record, X, Y, caught(truth, rng, share=0.95))
        assert fit is not None
        for place, head in enumerate(fit.heads):
            off["radius"].append((head.radius_m - truth.radius_m[place]) / head.radius_sd_m)
            off["flow"].append((head.flow_l_s - truth.flow_l_s[place]) / head.flow_sd_l_s)
            angles = np.radians([head.tilt_towards_deg, truth.tilt_towards_deg[place]])
            sizes = np.array([head.tilt_deg, truth.tilt_deg[place]])
            east, north = sizes * np.sin(angles), sizes * np.cos(angles)
            off["lean"] += [float(d[0] - d[1]) / head.tilt_sd_deg for d in (east, north)]
    for name, scores in off.items():
        within = np.mean(np.abs(scores) < 2.0)
        assert within > 0.86, (name, within)
        assert np.std(scores) > 0.5, name  # and it does not claim too little either


def test_a_short_throw_a_lean_and_a_worn_nozzle_are_found(square: Any) -> None:
    record = square(2)
    radius = record.radius_m * np.array([0.78, 1, 1, 1])
    tilt = np.array([0.0, 7.0, 0, 0])
    truth = replace(record, radius_m=radius, tilt_deg=tilt, tilt_towards_deg=np.full(4, 200.0))
    x_m, y_m = (part.ravel() for part in np.meshgrid(np.arange(-14, 34, 4.0), repeat_line()))
    rate = point_rate_mm_h(truth, x_m, y_m).sum(axis=1)
    rng = np.random.default_rng(8)
    fit = fit_heads(record, x_m, y_m, rate * np.exp(rng.normal(0, 0.04, rate.size)))
    assert fit is not None
    assert "radius" in fit.heads[0].changed
    assert fit.heads[0].radius_m == pytest.approx(0.78 * 18.5, rel=0.05)
    assert "tilt" in fit.heads[1].changed
    assert fit.heads[1].tilt_deg == pytest.approx(7.0, abs=1.5)
    assert fit.heads[1].tilt_towards_deg == pytest.approx(200.0, abs=15.0)
    assert fit.heads[2].changed == ()


def repeat_line() -> Any:
    return np.arange(-14, 34, 4.0)


def test_a_right_record_is_left_alone(square: Any) -> None:
    rng, record = np.random.default_rng(21), square()
    changed = [
        name
        for _ in range(6)
        for head in fit_heads(record, X, Y, caught(record, rng)).heads  # type: ignore[union-attr]
        for name in head.changed
    ]
    assert len(changed) <= 6  # of 162 at two standard deviations


def test_a_head_that_no_can_sees_keeps_its_record(square: Any) -> None:
    record = square()
    far = replace(record, x_m=np.where(np.arange(9) == 8, 500.0, record.x_m))
    fit = fit_heads(far, X, Y, caught(far, np.random.default_rng(3)))
    assert fit is not None
    lonely = fit.heads[8]
    assert lonely.radius_m == pytest.approx(18.5)
    assert lonely.flow_l_s == pytest.approx(1.7)
    assert lonely.seen == pytest.approx((0.0, 0.0, 0.0), abs=1e-9)
    assert lonely.radius_sd_m == pytest.approx(18.5 * RADIUS_SHARE_SD)
    assert lonely.changed == ()


def test_what_all_cans_lack_is_drift_and_not_flow(square: Any) -> None:
    record = square()
    fit = fit_heads(record, X, Y, caught(record, np.random.default_rng(4), share=0.85, noise=0.02))
    assert fit is not None
    assert fit.catch_share == pytest.approx(0.87, abs=0.05)
    assert all("flow" not in head.changed for head in fit.heads)


def test_scattered_cans_claim_less(square: Any) -> None:
    record = square()
    calm, wild = (
        fit_heads(record, X, Y, caught(record, np.random.default_rng(6), noise=noise))
        for noise in (0.05, 0.35)
    )
    assert calm is not None
    assert wild is not None
    assert wild.noise_share > 2 * calm.noise_share
    assert wild.heads[4].radius_sd_m > 1.3 * calm.heads[4].radius_sd_m


def test_nothing_is_fitted_to_few_cans_or_to_none_of_its_heads(square: Any) -> None:
    record = square()
    assert fit_heads(record, X[:7], Y[:7], np.full(7, 10.0)) is None
    assert fit_heads(record, X + 900.0, Y, np.full(X.size, 10.0)) is None
