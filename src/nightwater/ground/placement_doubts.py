"""What is doubtful about a picture's place."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from nightwater.findings import Finding, note, warning
from nightwater.ground.placement import Placement, corners_px
from nightwater.ground.transforms import Floats, Transform, TransformKind
from nightwater.ground.wrong_pairs import FEWEST_TO_NAME

POOR_M: Final = 2.0  # a tenth of a usual head spacing; beyond, a head lands beside its place
UNEVEN: Final = 2.0  # corners this much worse than the points deserve a word
COARSE_M: Final = 1.0
FAR_M: Final = 1000.0
_VISIBLE_PX: Final = 2.0


def placement_findings(placement: Placement, subject: str) -> list[Finding]:
    """The doubts about a placed picture, gravest first; points are counted from 1."""
    return [
        *_wrong(placement, subject),
        *_poor(placement, subject),
        *_undecided(placement, subject),
        *_outside(placement, subject),
        *_unchecked(placement, subject),
    ]


def _wrong(placement: Placement, subject: str) -> Iterator[Finding]:
    for index in placement.wrong:
        yield warning(
            "image-pair-wrong",
            subject,
            f"Control point {index + 1} falls {placement.distance_m[index]:.1f} m from its place, "
            f"while the others agree within {placement.rms_m:.2f} m; it was not used.",
            "Pick it anew in the picture and on the map, or drop it.",
        )


def _poor(placement: Placement, subject: str) -> Iterator[Finding]:
    if placement.rms_m > POOR_M:
        yield warning(
            "image-fit-poor",
            subject,
            f"The control points agree within {placement.rms_m:.1f} m only (limit {POOR_M:g} m).",
            "Pick the points anew or add some; use the picture for overview, not for measuring.",
        )


def _undecided(placement: Placement, subject: str) -> Iterator[Finding]:
    transform, count = placement.transform, len(placement.residual_m)
    off = float(placement.distance_m[placement.worst])
    pixel = transform.metres_per_pixel((0.0, 0.0))
    if count < FEWEST_TO_NAME and off > _VISIBLE_PX * pixel:
        yield note(
            "image-pair-worst",
            subject,
            f"Control point {placement.worst + 1} fits worst ({off:.2f} m), but {count} points "
            f"cannot tell which one is wrong; {FEWEST_TO_NAME} can.",
            "Look at it, and add a point if it looks right.",
        )


def _outside(placement: Placement, subject: str) -> Iterator[Finding]:
    inside, outside = placement.worst_inside_m, placement.worst_outside_m
    pixel = placement.transform.metres_per_pixel((0.0, 0.0))
    if outside > max(UNEVEN * inside, _VISIBLE_PX * pixel):
        yield warning(
            "image-outside-points",
            subject,
            f"Beyond the control points the picture is less sure: {outside:.1f} m expected at its "
            f"worst corner, {inside:.1f} m among the points.",
            "Add points towards the corners, or trust only what lies among the points.",
        )


def _unchecked(placement: Placement, subject: str) -> Iterator[Finding]:
    fewest = len(placement.used)
    if placement.worst_inside_m != placement.worst_inside_m:
        kind: TransformKind = placement.transform.kind
        yield note(
            "image-fit-unchecked",
            subject,
            f"A {kind.value} placement is fixed by {fewest} points with none left over, so its "
            "error is not known.",
            "Add a control point.",
        )


def place_findings(
    transform: Transform,
    size_px: tuple[int, int],
    record_m: tuple[float, float, float, float] | None,
    subject: str,
) -> list[Finding]:
    """Doubts about where a picture came to lie and how fine it is.

    Args:
        transform: pixels to metres.
        size_px: width and height.
        record_m: left, bottom, right, top of the record, or None for an empty one.
        subject: for the findings.
    """
    corners = transform.to_map_m(corners_px(size_px))
    pixel = transform.metres_per_pixel((size_px[0] / 2, size_px[1] / 2))
    found = []
    if transform.mirrored:
        found.append(
            warning(
                "image-mirrored",
                subject,
                "The picture is turned over, as if seen from below the ground.",
                "Check which point is which; a sheet scanned from its back is turned over first.",
            )
        )
    if record_m is not None and _gap_m(corners, record_m) > FAR_M:
        found.append(
            warning(
                "image-far-from-course",
                subject,
                f"The picture lies {_gap_m(corners, record_m) / 1000:,.1f} km beside what the "
                "record holds.",
                "Check --crs and the control points.",
            )
        )
    if pixel > COARSE_M:
        found.append(
            note(
                "image-coarse",
                subject,
                f"A pixel is {pixel:.1f} m wide; a head cannot be told on it.",
                "Use it for overview.",
            )
        )
    return found


def _gap_m(corners: Floats, record_m: tuple[float, float, float, float]) -> float:
    """Distance between the boxes around a picture and the record [m]; 0 where they meet."""
    low, high = corners.min(axis=0), corners.max(axis=0)
    apart = np.maximum(low - record_m[2:], np.asarray(record_m[:2]) - high)
    return float(np.linalg.norm(np.maximum(apart, 0.0)))
