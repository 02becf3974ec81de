"""Speed of the pressure wave, and the surge of a sudden stop."""

from __future__ import annotations

import numpy as np
import pytest

from nightwater.pipes.losses import surge_kpa
from nightwater.pipes.surge import MATERIALS, wall_of, wave_speed_m_s
from nightwater.units import KPA_PER_PSI, M_PER_FT


@pytest.mark.parametrize(("ratio", "psi"), [(14, 19.8), (18, 17.4), (25, 14.7)])
def test_surge_of_a_stop_of_one_foot_a_second_in_pvc(ratio: int, psi: float) -> None:
    """Handbooks of PVC pressure pipe list these rises for these ratios (from memory)."""
    wall = wall_of(f"PVC DR {ratio}")
    rise = surge_kpa(M_PER_FT, wave_speed_m_s(wall.bore_over_wall, wall.modulus_gpa))
    assert float(rise) / KPA_PER_PSI == pytest.approx(psi, abs=0.06)


@pytest.mark.parametrize(
    ("word", "material", "bore_over_wall", "assumed"),
    [
        ("PVC SDR-21", "PVC", 19.0, ""),
        ("pvc dr18", "PVC", 16.0, ""),
        ("HDPE DR 17", "HDPE", 15.0, ""),
        ("steel", "STEEL", 50.0, "wall"),
        ("Ductile iron", "DUCTILE IRON", 40.0, "wall"),
        ("Polybutylene SDR 11", "PVC", 9.0, "material"),
        (None, "PVC", 19.0, "material"),
        (float("nan"), "PVC", 19.0, "material"),
        ("PVC SDR 2", "PVC", 19.0, "wall"),
    ],
)
def test_what_the_record_says_of_a_wall(
    word: object, material: str, bore_over_wall: float, assumed: str
) -> None:
    wall = wall_of(word)
    assert wall.modulus_gpa == MATERIALS[material][0]
    assert (wall.bore_over_wall, wall.assumed) == (bore_over_wall, assumed)


def test_stiff_walls_carry_the_wave_faster_and_no_wall_faster_than_water() -> None:
    speeds = wave_speed_m_s([19, 19, 50], [0.8, 2.758, 207.0])
    assert np.all(np.diff(speeds) > 0)
    assert float(speeds.max()) < 1420


def test_integers_broadcast_and_nan_passes() -> None:
    assert wave_speed_m_s([[10], [20]], [1, 2, 3]).shape == (2, 3)
    assert np.isnan(wave_speed_m_s([np.nan, 0, 10, 10], [1.0, 1.0, 0.0, -1.0])).all()
