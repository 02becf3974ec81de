"""What heads must be like for the cans to hold what they held: a fit with a prior."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from nightwater.spray.head_patterns import GREATEST_JET_DEG, LEAST_JET_DEG, HeadPatterns
from nightwater.spray.point_rate import point_rate_mm_h

RADIUS_SHARE_SD: Final = 0.08
FLOW_SHARE_SD: Final = 0.06
TILT_DEG_SD: Final = 2.0
CATCH_SHARE_SD: Final = 0.10
NOISE_SHARE: Final = 0.08  # of a can's rate: reading, splash, what the profile does not tell
NOISE_FLOOR_SHARE: Final = 0.02  # of the mean rate
SEEN_SHARE: Final = 0.5  # of the prior's variance that the cans must take away
SURE_SD: Final = 2.0  # a change below so many standard deviations is not proposed
PARTS: Final = ("radius", "flow", "tilt_east", "tilt_north")

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class HeadFit:
    """What the cans say of one head, with standard deviations.

    Attributes:
        head: its id.
        radius_m, flow_l_s: fitted.
        radius_sd_m, flow_sd_l_s: how unsure they stay.
        tilt_deg, tilt_towards_deg: fitted lean.
        tilt_sd_deg: of its size.
        seen: of radius, flow and tilt, the share of the prior's variance that the cans took
            away, 0 to 1.
        changed: which of "radius", "flow", "tilt" the cans show to differ from the record.
    """

    head: str
    radius_m: float
    radius_sd_m: float
    flow_l_s: float
    flow_sd_l_s: float
    tilt_deg: float
    tilt_sd_deg: float
    tilt_towards_deg: float
    seen: tuple[float, float, float]
    changed: tuple[str, ...]


@dataclass(frozen=True)
class Fit:
    """The heads as the cans see them.

    Attributes:
        heads: in the order of the patterns.
        patterns: the patterns with all fitted values.
        catch_share: part of the water that the cans caught, common to all heads.
        catch_share_sd: how unsure it is.
        noise_share: scatter of the cans about the fit, over their mean.
    """

    heads: tuple[HeadFit, ...]
    patterns: HeadPatterns
    catch_share: float
    catch_share_sd: float
    noise_share: float


def _components(patterns: HeadPatterns) -> Numbers:
    towards = np.radians(patterns.tilt_towards_deg)
    return np.asarray(patterns.tilt_deg * np.stack([np.sin(towards), np.cos(towards)]))


def _most_tilt_deg(patterns: HeadPatterns) -> Numbers:
    """Lean beyond which a head's jet leaves what the pattern can be computed for."""
    below = patterns.trajectory_deg - LEAST_JET_DEG
    above = GREATEST_JET_DEG - patterns.trajectory_deg
    return np.asarray(np.maximum(np.minimum(below, above), 0.0))


def _applied(patterns: HeadPatterns, unit: Numbers) -> HeadPatterns:
    """Patterns with parameters in units of the prior's standard deviation, shape (4, heads)."""
    east, north = _components(patterns) + TILT_DEG_SD * unit[2:]
    return replace(
        patterns,
        radius_m=patterns.radius_m * np.exp(RADIUS_SHARE_SD * unit[0]),
        flow_l_s=patterns.flow_l_s * np.exp(FLOW_SHARE_SD * unit[1]),
        tilt_deg=np.minimum(np.hypot(east, north), _most_tilt_deg(patterns)),
        tilt_towards_deg=np.degrees(np.arctan2(east, north)) % 360.0,
    )


@dataclass(frozen=True)
class _Problem:
    patterns: HeadPatterns
    x_m: Numbers
    y_m: Numbers
    rate_mm_h: Numbers
    noise_mm_h: Numbers

    def rates(self, values: Numbers) -> Numbers:
        fitted = _applied(self.patterns, values[1:].reshape(4, -1))
        share = np.exp(CATCH_SHARE_SD * values[0])
        return np.asarray(share * point_rate_mm_h(fitted, self.x_m, self.y_m).sum(axis=1))

    def misfit(self, values: Numbers) -> Numbers:
        """Cans in units of their noise, then the prior in units of its own."""
        cans = (self.rates(values) - self.rate_mm_h) / self.noise_mm_h
        return np.concatenate([cans, values])

    def solved(self, start: Numbers) -> Any:
        return least_squares(self.misfit, start, diff_step=np.full(len(start), 1e-3), max_nfev=60)


def _noise(patterns: HeadPatterns, x_m: Numbers, y_m: Numbers, share: float) -> Numbers:
    expected = point_rate_mm_h(patterns, x_m, y_m).sum(axis=1)
    floor = NOISE_FLOOR_SHARE * expected.mean()
    return np.asarray(np.hypot(share * expected, floor + 1e-9))


def _told(problem: _Problem, values: Numbers, sd: Numbers) -> tuple[HeadFit, ...]:
    patterns = problem.patterns
    unit, spread = values[1:].reshape(4, -1), sd[1:].reshape(4, -1)
    fitted = _applied(patterns, unit)
    seen = np.clip(1.0 - spread**2, 0.0, 1.0)
    sure = np.abs(unit) > SURE_SD * spread
    heads = []
    for place, head in enumerate(patterns.ids):
        tilt_seen = float(seen[2:, place].max())
        pairs = (
            ("radius", sure[0, place] and seen[0, place] >= SEEN_SHARE),
            ("flow", sure[1, place] and seen[1, place] >= SEEN_SHARE),
            ("tilt", bool((sure[2:, place] & (seen[2:, place] >= SEEN_SHARE)).any())),
        )
        heads.append(
            HeadFit(
                str(head),
                float(fitted.radius_m[place]),
                float(fitted.radius_m[place] * RADIUS_SHARE_SD * spread[0, place]),
                float(fitted.flow_l_s[place]),
                float(fitted.flow_l_s[place] * FLOW_SHARE_SD * spread[1, place]),
                float(fitted.tilt_deg[place]),
                float(TILT_DEG_SD * spread[2:, place].max()),
                float(fitted.tilt_towards_deg[place]),
                (float(seen[0, place]), float(seen[1, place]), tilt_seen),
                tuple(name for name, changed in pairs if changed),
            )
        )
    return tuple(heads)


def fit_heads(patterns: HeadPatterns, x_m: Numbers, y_m: Numbers, rate_mm_h: Numbers) -> Fit | None:
    """The radius, flow and lean of heads that make the cans most likely, given the record.

    Least squares with a prior (maximum a posteriori): each head's radius lies within 8 %, its
    flow within 6 % and its lean within 2° of the record (one standard deviation), all cans
    catch within 10 % of what falls. What is common to all heads is thus taken for catch, not
    for flow: cans cannot tell drift from low flow. Noise is 8 % of a can, and more where the
    cans scatter more. Standard deviations are those of the linearised problem at its
    solution. A head that the cans hardly see keeps the record's values.

    Args:
        patterns: heads that may wet the cans, as the record has them.
        x_m, y_m: places of the cans that count, shape (cans,).
        rate_mm_h: what each caught, as a rate [mm/h].

    Returns:
        The fit, or None with fewer than 8 cans or where no head reaches any.

    Reference: Tarantola 2005, Inverse Problem Theory, section 3.2 (least squares with a
    Gaussian prior; from memory). The priors are choices of ours; see docs/how/audits.md.
    """
    if len(rate_mm_h) < 8 or not len(patterns):
        return None
    if not point_rate_mm_h(patterns, x_m, y_m).sum() > 0:
        return None
    problem = _Problem(patterns, x_m, y_m, rate_mm_h, _noise(patterns, x_m, y_m, NOISE_SHARE))
    answer = problem.solved(np.zeros(1 + 4 * len(patterns)))
    scatter = _scatter(problem, answer.x, answer.jac)
    if scatter > 1.0:
        problem = replace(problem, noise_mm_h=problem.noise_mm_h * scatter)
        answer = problem.solved(answer.x)
    values = np.asarray(answer.x, dtype=float)
    sd = np.sqrt(np.diag(np.linalg.inv(answer.jac.T @ answer.jac)))
    left = problem.rates(values) - rate_mm_h
    return Fit(
        _told(problem, values, sd),
        _applied(patterns, values[1:].reshape(4, -1)),
        float(np.exp(CATCH_SHARE_SD * values[0])),
        float(np.exp(CATCH_SHARE_SD * values[0]) * CATCH_SHARE_SD * sd[0]),
        float(left.std() / rate_mm_h.mean()),
    )


def _scatter(problem: _Problem, values: Numbers, jacobian: Any) -> float:
    """Scatter of the cans about the fit over the noise that was supposed.

    The cans' freedom is their number less the parameters that they, not the prior, decide.
    """
    cans = len(problem.rate_mm_h)
    of_cans = jacobian[:cans]
    decided = float(np.trace(np.linalg.inv(jacobian.T @ jacobian) @ (of_cans.T @ of_cans)))
    left = problem.misfit(values)[:cans]
    return float(np.sqrt((left**2).sum() / max(cans - decided, 1.0)))
