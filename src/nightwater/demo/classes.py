"""The seven classes of watered turf: soil, roots, factors and efficiency."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True)
class TurfClass:
    """What all areas of one class share.

    Attributes:
        letter: in tags and labels.
        species: grasses and mowing height.
        soil: texture class.
        factor: area factor, times the monthly coefficient.
        why: reason of the factor, empty where it is 1.
        efficiency: application efficiency, 0 to 1.
        root_in: rooting depth [in].
        water_mm_m: available water [mm per m].
        depletion_pct: allowed depletion.
        intake_in_h: steady intake [in/h].
        storage_in: surface storage [in].
        slopes_pct: lowest and highest typical slope.
    """

    letter: str
    species: str
    soil: str
    factor: float
    why: str
    efficiency: float
    root_in: float
    water_mm_m: float
    depletion_pct: float
    intake_in_h: float
    storage_in: float
    slopes_pct: tuple[float, float]

    @property
    def du_lq(self) -> float:
        """Uniformity whose standard multiplier 1/(0.4 + 0.6·DUlq) is 1/efficiency."""
        return (self.efficiency - 0.4) / 0.6


TURF: Final = {
    "green": TurfClass(
        "G", "creeping bent, 0.115 in", "sand", 1.0, "", 0.80, 4, 160, 40, 4.0, 0.1, (1, 3)
    ),
    "tee": TurfClass(
        "T", "bent and rye, 0.35 in", "sandy_loam", 1.0, "", 0.75, 6, 125, 45, 0.8, 0.1, (1, 2)
    ),
    "approach": TurfClass(
        "A", "bent and bluegrass", "sandy_loam", 0.95, "mown higher than the green",
        0.77, 8, 125, 45, 0.8, 0.1, (2, 6),
    ),
    "fairway": TurfClass(
        "F", "bluegrass and rye, 0.5 in", "loam", 0.90, "drier by choice",
        0.78, 10, 160, 50, 0.30, 0.12, (1, 4),
    ),
    "rough": TurfClass(
        "R", "bluegrass and fescue, 2.25 in", "loam", 0.75, "tall and drier by choice",
        0.72, 12, 160, 60, 0.30, 0.16, (3, 14),
    ),
    "practice": TurfClass(
        "P", "bluegrass and rye", "loam", 0.80, "traffic spread over a wide tee",
        0.75, 10, 160, 50, 0.30, 0.12, (1, 3),
    ),
    "grounds": TurfClass(
        "Z", "lawn and beds", "loam", 0.85, "shade of the house and trees",
        0.65, 10, 160, 50, 0.30, 0.12, (1, 3),
    ),
}  # fmt: skip
CLAY_HOLES: Final = ("11", "12", "13", "14", "15")
CLAY_INTAKE_IN_H: Final = 0.20
CLAY_WATER_MM_M: Final = 175.0
