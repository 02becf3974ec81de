"""How fast a pressure wave runs in a pipe, and what a sudden stop does there."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

WATER_WAVE_M_S: Final = 1420.0  # in water without walls, 4,660 ft/s
WATER_MODULUS_GPA: Final = 2.068  # 300,000 psi
# Young's modulus [GPa] and usual bore over wall; the moduli of plastics are those for a short
# load (400,000 psi for PVC). From memory; common practice, no source.
MATERIALS: Final[dict[str, tuple[float, float]]] = {
    "PVC": (2.758, 19.0),
    "HDPE": (0.8, 15.0),
    "PE": (0.8, 15.0),
    "DUCTILE IRON": (165.0, 40.0),
    "CAST IRON": (100.0, 30.0),
    "ASBESTOS CEMENT": (24.0, 12.0),
    "AC": (24.0, 12.0),
    "STEEL": (207.0, 50.0),
}
USUAL_MATERIAL: Final = "PVC"
_RATIO: Final = re.compile(r"(?:SDR|DR)\s*-?\s*(\d+(?:\.\d+)?)")

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Wall:
    """What the wave depends on.

    Attributes:
        modulus_gpa: Young's modulus of the wall.
        bore_over_wall: inside diameter over wall thickness.
        assumed: what of it is a default: "", "wall" or "material".
    """

    modulus_gpa: float
    bore_over_wall: float
    assumed: str


def wave_speed_m_s(bore_over_wall: ArrayLike, modulus_gpa: ArrayLike) -> Numbers:
    """Speed of a pressure wave in a thin-walled pipe full of water.

    Args:
        bore_over_wall: inside diameter over wall thickness, any shape.
        modulus_gpa: Young's modulus of the wall [GPa]. The two broadcast.

    Returns:
        Speed [m/s]. NaN in, NaN out; a modulus or ratio of zero or less gives NaN.

    Reference: Korteweg 1878, a = a₀ / √(1 + K·d / (E·e)), with a₀ 4,660 ft/s and K 300,000 psi as
    handbooks of PVC pressure pipe have it (from memory).
    """
    ratio, modulus = np.broadcast_arrays(
        np.asarray(bore_over_wall, dtype=float), np.asarray(modulus_gpa, dtype=float)
    )
    with np.errstate(divide="ignore", invalid="ignore"):
        speed = WATER_WAVE_M_S / np.sqrt(1 + WATER_MODULUS_GPA / modulus * ratio)
    return np.where((ratio > 0) & (modulus > 0), speed, np.nan)


def wall_of(material: object) -> Wall:
    """What the record's word for a material says of a wall: "PVC SDR-21", "HDPE DR 17", "steel".

    A standard ratio is outside diameter over wall, so the bore is two walls less. Without one
    the usual ratio of the material is taken, without a known material PVC.
    """
    text = str(material).upper() if isinstance(material, str) else ""
    known = next((name for name in MATERIALS if re.search(rf"\b{name}\b", text)), None)
    modulus, usual = MATERIALS[known or USUAL_MATERIAL]
    found = _RATIO.search(text)
    if found and float(found.group(1)) > 2:
        return Wall(modulus, float(found.group(1)) - 2, "" if known else "material")
    return Wall(modulus, usual, "wall" if known else "material")
