"""A dead path is named only where the trace tells it."""

from __future__ import annotations

import numpy as np
import pytest

from nightwater.proof.log import Opening, flow_by_minute
from nightwater.proof.meter import Meter
from nightwater.proof.paths import FieldFacts, dead_paths

FLOWS = {f"S{i}": 1.0 + 0.3 * i for i in range(6)}
CONTROLLERS = {f"S{i}": "ABC"[i % 3] for i in range(6)}
# every path alone at some time
OPENINGS = tuple(Opening(f"S{i}", 15.0 * i, 15.0 * i + 40.0) for i in range(6))
SIZE = 130


def named(
    shares: dict[str, float], noise: float = 0.0, seed: int = 0, **changes: object
) -> set[str]:
    """Paths named dead where each gives its share of what its log draws."""
    real = {station: flow * shares[CONTROLLERS[station]] for station, flow in FLOWS.items()}
    flow = flow_by_minute(OPENINGS, real, 0, SIZE)
    flow = flow * np.random.default_rng(seed).normal(1.0, noise, SIZE)
    usable = flow_by_minute(OPENINGS, FLOWS, 0, SIZE) > 0
    base = np.zeros(SIZE)
    openings = changes.get("openings", OPENINGS)
    field = FieldFacts(FLOWS, changes.get("controllers", CONTROLLERS))  # type: ignore[arg-type]
    meter = Meter(0, flow, flow)
    return set(dead_paths(openings, field, meter, usable, base))  # type: ignore[arg-type]


@pytest.mark.parametrize("seed", range(5))
def test_dead_path_is_named(seed: int) -> None:
    assert named({"A": 1.0, "B": 0.0, "C": 1.0}, 0.02, seed) == {"B"}


def test_two_dead_paths_are_named() -> None:
    assert named({"A": 0.0, "B": 1.0, "C": 0.0}, 0.01) == {"A", "C"}


@pytest.mark.parametrize("seed", range(5))
def test_sound_paths_are_not_named(seed: int) -> None:
    assert named({"A": 1.0, "B": 1.0, "C": 1.0}, 0.02, seed) == set()


def test_half_a_path_is_something_else() -> None:
    assert named({"A": 1.0, "B": 0.5, "C": 1.0}) == set()
    assert named({"A": 0.0, "B": 0.5, "C": 1.0}) == set()


def test_noise_tells_nothing() -> None:
    assert named({"A": 1.0, "B": 0.0, "C": 1.0}, 0.8, 3) == set()


def test_one_path_cannot_be_parted() -> None:
    one = dict.fromkeys(FLOWS, "A")
    assert named({"A": 0.0, "B": 0.0, "C": 0.0}, controllers=one) == set()


def test_paths_that_run_together_cannot_be_parted() -> None:
    together = tuple(Opening(f"S{i}", 0.0, 60.0) for i in range(3))
    assert named({"A": 1.0, "B": 0.0, "C": 1.0}, openings=together) == set()
