"""Colours of the turf's maps: even steps of lightness, so that they hold for colour-blind people.

Scales run straight through a few anchors in the colour space Oklab, in which equal distances look
equally far apart.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

Numbers = NDArray[np.float64]

# Björn Ottosson, "A perceptual color space for image processing", 2020: linear sRGB to the
# responses of the cones, and their cube roots to lightness and two opponent colours.
_TO_CONES: Final = np.array(
    [
        [0.4122214708, 0.5363325363, 0.0514459929],
        [0.2119034982, 0.6806995451, 0.1073969566],
        [0.0883024619, 0.2817188376, 0.6299787005],
    ]
)
_TO_LAB: Final = np.array(
    [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
)

# Own choice: dry is ochre, water goes from pale straw to deep blue; nothing rests on red and green.
NONE: Final = "#b0642a"
NOT_KNOWN: Final = "#8b8b86"
RISING: Final = ("#e9e6b4", "#4b998c", "#12345c")
SHORT: Final = ("#6e3106", "#e0b683")
AS_NEEDED: Final = "#f3efe2"
OVER: Final = ("#a6c3d8", "#12345c")


def hex_rgb(colour: str) -> Numbers:
    """The three parts of `#rrggbb`, 0 to 1."""
    parts = [int(colour[place : place + 2], 16) / 255.0 for place in (1, 3, 5)]
    return np.array(parts, dtype=float)


def rgb_hex(rgb: ArrayLike) -> str:
    """`#rrggbb` of three parts, 0 to 1; what lies beyond is cut off."""
    parts = np.rint(np.clip(np.asarray(rgb, dtype=float), 0.0, 1.0) * 255.0).astype(int)
    return "#" + "".join(f"{part:02x}" for part in parts)


def linear_rgb(rgb: ArrayLike) -> Numbers:
    """Light of sRGB parts. Reference: IEC 61966-2-1:1999 (from memory)."""
    parts: Numbers = np.asarray(rgb, dtype=float)
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def display_rgb(light: ArrayLike) -> Numbers:
    """The inverse of `linear_rgb`."""
    parts: Numbers = np.clip(np.asarray(light, dtype=float), 0.0, None)
    return np.where(parts <= 0.0031308, parts * 12.92, 1.055 * parts ** (1 / 2.4) - 0.055)


def oklab(colour: str) -> Numbers:
    """Lightness 0 to 1 and two opponent colours of `#rrggbb`.

    Reference: Ottosson 2020, A perceptual color space for image processing.
    """
    return np.asarray(_TO_LAB @ np.cbrt(_TO_CONES @ linear_rgb(hex_rgb(colour))), dtype=float)


def from_oklab(lab: ArrayLike) -> str:
    """The inverse of `oklab`, cut off at what a screen can show."""
    cones = np.linalg.solve(_TO_LAB, np.asarray(lab, dtype=float)) ** 3
    return rgb_hex(display_rgb(np.linalg.solve(_TO_CONES, cones)))


def run_of_colours(anchors: tuple[str, ...], count: int) -> tuple[str, ...]:
    """So many colours from the first anchor to the last, evenly apart to the eye.

    Raises:
        ValueError: fewer than one.
    """
    if count < 1:
        raise ValueError("a run needs at least one colour")
    places = np.array([oklab(anchor) for anchor in anchors])
    along = np.concatenate(([0.0], np.cumsum(np.linalg.norm(np.diff(places, axis=0), axis=1))))
    wanted = np.linspace(0.0, along[-1], count) if count > 1 else along[-1:]
    parts = [np.interp(wanted, along, places[:, axis]) for axis in range(3)]
    return tuple(from_oklab(lab) for lab in np.column_stack(parts))
