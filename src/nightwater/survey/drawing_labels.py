"""Which text of a drawing belongs to which block or point."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import KDTree
from shapely.geometry.base import BaseGeometry

from nightwater.findings import Finding, note

LABEL_M: Final = 5.0  # common practice, no source: texts stand nearer than half a spacing
_RIVAL: Final = 1.25  # a second one must be farther than the first by this


_Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Labels:
    """Texts by the number of the point they belong to, and how many belong to none surely."""

    texts: dict[int, str]
    doubtful: int


def _nearest(spots: _Numbers, among: _Numbers) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    found: Any = KDTree(among).query(spots, k=2, distance_upper_bound=LABEL_M * _RIVAL)
    distances, places = found
    clear = (distances[:, 0] <= LABEL_M) & (distances[:, 1] > _RIVAL * distances[:, 0])
    return np.where(clear, places[:, 0], -1), distances[:, 0] <= LABEL_M


def labels_near(
    points: Sequence[BaseGeometry], texts: Sequence[tuple[BaseGeometry, str]]
) -> Labels:
    """Each text with the point it belongs to: each other's nearest, within 5 m.

    A text or point with a second candidate less than a quarter farther is doubtful.

    Args:
        points: where blocks, points and circles stand [m].
        texts: where texts stand [m], and what they say.
    """
    if not len(points) or not len(texts):
        return Labels({}, 0)
    spots = shapely.get_coordinates(np.array(points, dtype=object))
    places = shapely.get_coordinates(np.array([place for place, _ in texts], dtype=object))
    point_of, near = _nearest(places, spots)
    text_of, _ = _nearest(spots, places)
    found = {
        int(point): texts[number][1]
        for number, point in enumerate(point_of)
        if point >= 0 and text_of[point] == number
    }
    return Labels(found, int(near.sum()) - len(found))


def doubtful_labels(name: str, number: int) -> tuple[Finding, ...]:
    """A note on texts that stand near points and could not be given to one."""
    if not number:
        return ()
    found = note(
        "labels-left-aside",
        f"file:{name}",
        f"{name}: {number} texts stand within {LABEL_M:g} m of a point, but it is not clear whose "
        "they are; they were left aside.",
        "Give labels as block attributes, or write them on the map.",
    )
    return (found,)
