"""A square of heads as patterns, and a grid of spots."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from nightwater.spray.head_patterns import HeadPatterns
from nightwater.spray.profile import named_profile


def _square(side: int = 3, spacing_m: float = 18.0, **changed: Any) -> HeadPatterns:
    places = np.array(
        [(i * spacing_m, j * spacing_m) for i in range(side) for j in range(side)], dtype=float
    )
    count = len(places)

    def all_of(value: Any) -> Any:
        return np.broadcast_to(np.asarray(value, dtype=float), (count,)).copy()

    usual = {
        "flow_l_s": 1.7, "radius_m": 18.5, "arc_deg": 360.0, "bearing_deg": 0.0,
        "pressure_kpa": 400.0, "trajectory_deg": 25.0, "height_m": 0.1, "tilt_deg": 0.0,
        "tilt_towards_deg": 0.0,
    }  # fmt: skip
    return HeadPatterns(
        ids=np.array([f"H{n}" for n in range(count)], dtype=object),
        x_m=places[:, 0],
        y_m=places[:, 1],
        profile=np.zeros(count, dtype=np.int64),
        profiles=(named_profile(str(changed.pop("shape", "triangle"))),),
        **{name: all_of(changed.get(name, value)) for name, value in usual.items()},
    )


@pytest.fixture
def square() -> Callable[..., HeadPatterns]:
    return _square
